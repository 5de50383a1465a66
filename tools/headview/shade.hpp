#pragma once

#include "sim/anatomy/dressing.hpp"
#include "sim/anatomy/hairs.hpp"
#include "sim/anatomy/skin_texture.hpp"
#include "tools/headview/raster.hpp"

/// Colours of skin and cloth under the room's lights.

namespace headview {

class SkinShader {
 public:
    SkinShader(const sim::SkinMesh& mesh, const sim::SkinField& field, const sim::OcclusionGrid& scene,
               const glm::vec3& eye_mm, const sim::ParallelFor& parallel);
    [[nodiscard]] glm::vec3 operator()(const Fragment& f) const;

 private:
    const sim::SkinMesh& mesh_;
    sim::HeadParameters head_;
    glm::vec3 eye_;
    sim::FacePaint paint_;
    sim::TextureImage detail_;
    std::vector<float> lit_;  ///< by the key light, a value a vertex
};

class HairShader {
 public:
    HairShader(const sim::HairMesh& mesh, float melanin) : mesh_(mesh), melanin_(melanin) {}
    [[nodiscard]] glm::vec3 operator()(const Fragment& f) const;

 private:
    const sim::HairMesh& mesh_;
    float melanin_;
};

class ClothShader {
 public:
    ClothShader(const sim::ClothMesh& mesh, const sim::OcclusionGrid& scene, const glm::vec3& colour,
                const glm::vec3& eye_mm, const sim::ParallelFor& parallel);
    [[nodiscard]] glm::vec3 operator()(const Fragment& f) const;

 private:
    const sim::ClothMesh& mesh_;
    glm::vec3 colour_, eye_;
    std::vector<float> lit_;
};

}  // namespace headview
