#pragma once

#include <vector>

#include "sim/anatomy/skin_mesher.hpp"

/// How much of the surroundings a place on the skin sees: for shading only, never for anatomy.

namespace sim {

/// A coarse copy of a whole scene's distance field, quick to walk through.
class OcclusionGrid {
 public:
    OcclusionGrid(const FieldMm& scene, const glm::vec3& low_mm, const glm::vec3& high_mm, float cell_mm,
                  const ParallelFor& parallel);

    /// Trilinear; beyond the grid its border value plus the way there.
    [[nodiscard]] float value_mm(const glm::vec3& p_mm) const;

    /// How far a ray of up to `reach_mm` passes clear: 0 blocked .. 1 open, soft between. @param direction unit
    [[nodiscard]] float clearance(const glm::vec3& from_mm, const glm::vec3& direction, float reach_mm) const;

 private:
    glm::ivec3 size_{};
    glm::vec3 low_{};
    float cell_ = 1.0f;
    std::vector<float> value_;
};

/// What a surface point sees of the half space above it.
struct Visibility {
    float ambient = 1.0f;        ///< cosine-weighted share that is open
    glm::vec3 open_direction{};  ///< unit, mean of the open directions
};
[[nodiscard]] Visibility visibility(const OcclusionGrid& scene, const glm::vec3& p_mm, const glm::vec3& normal);

/// Soft shadow of one distant light at each vertex, 0 dark .. 1 lit: cheap enough to redo when the head turns.
/// @param to_light unit, in the head frame
[[nodiscard]] std::vector<float> soft_shadow(const OcclusionGrid& scene, const std::vector<glm::vec3>& position_mm,
                                             const std::vector<glm::vec3>& normal, const glm::vec3& to_light,
                                             const ParallelFor& parallel);

}  // namespace sim
