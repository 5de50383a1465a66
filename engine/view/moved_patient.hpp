#pragma once

#include <memory>
#include <span>
#include <vector>

#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"

/// The patient as a posture has moved the tissue: everything that is drawn, from where it lies at rest to where it lies
/// now. What is practised and scored stays in the reference shape; this is what one sees of it.

namespace sim::fe {
class MovedBody;
}

namespace view {

/// What a scene shows of a patient that goes along with the tissue, at rest. Any mesh may be null.
struct SceneParts {
    std::vector<std::shared_ptr<const Surface>> surfaces;  ///< skin first, then what is worn
    std::vector<std::shared_ptr<const ObjectMesh>> on_skin;
    std::vector<std::shared_ptr<const ObjectMesh>> inside;
};

/// How one posture moves those parts, vertex by vertex.
struct PatientMoves {
    std::shared_ptr<const sim::fe::MovedBody> body;
    std::vector<std::vector<glm::vec3>> surfaces_mm, on_skin_mm, inside_mm;  ///< in the order of SceneParts
    std::vector<std::vector<glm::vec3>> surface_turns;  ///< what is added to normals; empty: nothing
};

/// How far normals of a surface turn when its vertices move. About 2 ms for a head.
[[nodiscard]] std::vector<glm::vec3> turns_of(const Surface& rest, std::span<const glm::vec3> moved_mm);

/// Parts so much of the way from one posture to another. @param from, to null: the reference shape
[[nodiscard]] SceneParts moved_parts(const SceneParts& rest, const PatientMoves* from, const PatientMoves* to,
                                     float share);

/// A patient's anatomy where it lies now: asked in space, answered by what has come to be there.
class MovedAnatomy final : public sim::Anatomy {
 public:
    MovedAnatomy(std::shared_ptr<const sim::Anatomy> rest, std::shared_ptr<const sim::fe::MovedBody> body);

    [[nodiscard]] sim::LayerPoint layers_at(const sim::Vec3& p_m) const override;
    [[nodiscard]] sim::Vec3 inward_at(const sim::Vec3& p_m) const override;
    /// @return a point in space
    [[nodiscard]] std::optional<sim::SkinPoint> ray_to_skin(const sim::Vec3& origin_m,
                                                            const sim::Vec3& direction) const override;
    [[nodiscard]] sim::SkinPoint nearest_skin(const sim::Vec3& p_m) const override;

    /// The skin under a ray through space, as a point of the reference shape: what a mark or an entry is made of.
    [[nodiscard]] std::optional<sim::SkinPoint> ray_to_rest(const sim::Vec3& origin_m,
                                                            const sim::Vec3& direction) const;

 private:
    [[nodiscard]] sim::SkinPoint shown(sim::SkinPoint at) const;

    std::shared_ptr<const sim::Anatomy> rest_;
    std::shared_ptr<const sim::fe::MovedBody> body_;
};

}  // namespace view
