#pragma once

#include "sim/anatomy/skin_mesh.hpp"

/// The cloth around a patient: cap, drape and pillow. For looking at only; nothing in the simulation asks it.

namespace sim {

/// The cloth of one patient as implicit surfaces, millimetres, < 0 inside.
class Dressing {
 public:
    explicit Dressing(const SkinField& skin) : skin_(skin) {}

    [[nodiscard]] float cap_mm(const glm::vec3& p_mm) const;
    [[nodiscard]] float drape_mm(const glm::vec3& p_mm) const;
    [[nodiscard]] float pillow_mm(const glm::vec3& p_mm) const;

    /// Skin and cloth together: what shades the skin.
    [[nodiscard]] float scene_mm(const glm::vec3& p_mm) const;

    /// A box that holds the head with what of the cloth can shade it.
    [[nodiscard]] glm::vec3 low_mm() const { return {-150.0f, -220.0f, -150.0f}; }
    [[nodiscard]] glm::vec3 high_mm() const { return {150.0f, 155.0f, 130.0f}; }

    [[nodiscard]] const SkinField& skin() const { return skin_; }

 private:
    SkinField skin_;
};

struct ClothVertex {
    glm::vec3 position_mm{};
    glm::vec3 normal{};    ///< unit, outwards
    float ambient = 1.0f;  ///< share of the surroundings it sees
};

struct ClothMesh {
    std::vector<ClothVertex> vertices;
    std::vector<std::uint32_t> triangles;  ///< three indices each, counter-clockwise from outside
};

/// A patient as the renderer takes one.
struct PatientMeshes {
    SkinMesh skin;
    ClothMesh cap, drape, pillow;
};

/// @param scene of scene_mm(), at a cell of about kSceneCellMm
[[nodiscard]] PatientMeshes build_patient_meshes(const Dressing& dressing, const SkinTemplate& from,
                                                 const OcclusionGrid& scene, const Progress& progress,
                                                 const ParallelFor& parallel);

/// Leaves out the triangles that nobody can see: skin under cap and drape, the cap's inside. Vertices stay.
void drop_buried(PatientMeshes& meshes, const Dressing& dressing, const ParallelFor& parallel);
/// A triangle is left out when it lies deeper than this in another solid. Room for cloth and skin to move against each
/// other when the patient lies back; assumed.
inline constexpr float kBuriedMm = 1.5f;

inline constexpr float kSceneCellMm = 4.0f;
[[nodiscard]] OcclusionGrid scene_grid(const Dressing& dressing, const ParallelFor& parallel);

}  // namespace sim
