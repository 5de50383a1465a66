#pragma once

#include "sim/anatomy/skin_field.hpp"
#include "sim/anatomy/skin_light.hpp"
#include "sim/anatomy/skin_mesher.hpp"

/// The visible skin as triangles, with one topology for every patient.

namespace sim {

enum class MeshDetail : std::uint8_t {
    lean,  ///< about 60 000 triangles, for software rendering
    full,  ///< about 160 000
};

/// Fraction of the work done, 0..1; called from the thread that called the builder.
using Progress = std::function<void(double fraction)>;

struct SkinVertex {
    glm::vec3 position_mm{};
    glm::vec3 normal{};             ///< unit, outwards
    glm::vec3 rest_mm{};            ///< where it lies in the even face: texture coordinates of the painted face
    float ambient = 1.0f;           ///< share of the surroundings it sees
    glm::vec3 open_direction{};     ///< unit, mean direction in which it sees them
    float curvature_per_mm = 0.0f;  ///< sum of the two principal curvatures, > 0 on a ridge
    SkinPaint paint;
};

struct SkinMesh {
    std::vector<SkinVertex> vertices;
    std::vector<std::uint32_t> triangles;  ///< three indices each, counter-clockwise from outside
    std::size_t flipped = 0;               ///< triangles that face against the surface they lie on
};

/// The mesh of a head between the sexes, from which every patient's is carried. The same for all, so it may be kept.
struct SkinTemplate {
    TriangleMesh mesh;  ///< in the rest frame
    MeshDetail detail = MeshDetail::lean;
};
[[nodiscard]] SkinTemplate build_skin_template(MeshDetail detail, const ParallelFor& parallel);

/// Wanted edge length of the full mesh at a place in the rest frame, mm.
[[nodiscard]] float skin_edge_mm(const glm::vec3& rest_mm);

/// @param scene everything that shades the skin; the skin alone if empty
[[nodiscard]] SkinMesh build_skin_mesh(const SkinField& field, const SkinTemplate& from, const OcclusionGrid& scene,
                                       const Progress& progress, const ParallelFor& parallel);

/// Template, scene of the skin alone and mesh in one.
[[nodiscard]] SkinMesh build_skin_mesh(const SkinField& field, MeshDetail detail, const Progress& progress,
                                       const ParallelFor& parallel = in_order);

}  // namespace sim
