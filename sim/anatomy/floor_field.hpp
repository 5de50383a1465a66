#pragma once

#include <functional>
#include <span>
#include <vector>

#include <glm/vec3.hpp>

#include "sim/anatomy/skin_field.hpp"

/// The floor of the workable soft tissue: bone, the lining of the mouth, and deep cervical fascia, each an implicit
/// field of its own; and the two chewing muscles that stand on it.
///
/// As SkinField, in millimetres and single precision, negative inside. The skeleton hangs on sex and asymmetry only:
/// never on folds, fat or laxity. It is fitted to the patient's young reference skin by a sum of a few wide bells, so
/// that soft-tissue depths agree with the published ones; see floor_field_depths.hpp. Field values are distances to
/// about a fifth near the surface and less further off: for distances use the grids of HeadTissue.

namespace sim {

struct DepthLandmark;

class FloorField {
 public:
    /// @param young the patient without laxity and folds
    explicit FloorField(const SkinField& young);

    /// The same fitted to the landmarks that `fitted` takes, to see how the fit does at the others.
    FloorField(const SkinField& young, const std::function<bool(const DepthLandmark&)>& fitted);

    [[nodiscard]] float bone_mm(const glm::vec3& p_mm) const;    ///< skull and mandible with teeth
    [[nodiscard]] float lining_mm(const glm::vec3& p_mm) const;  ///< vestibule and cheek lining, mouth
    [[nodiscard]] float fascia_mm(const glm::vec3& p_mm) const;  ///< neck, floor of the mouth from below, throat
    [[nodiscard]] float masseter_mm(const glm::vec3& p_mm) const;
    [[nodiscard]] float temporalis_mm(const glm::vec3& p_mm) const;

    /// Where a place would lie in the even head of a woman, x >= 0: the frame of every table of the skeleton and
    /// layers.
    [[nodiscard]] glm::vec3 table_place_mm(const glm::vec3& p_mm) const;

    /// The other way round, to 0.01 mm. @param left which side of the patient
    [[nodiscard]] glm::vec3 from_table_mm(const glm::vec3& place_mm, bool left) const;

    [[nodiscard]] const SkinField& young() const { return young_; }

 private:
    struct Bell {
        glm::vec3 centre_mm;
        float height_mm;  ///< > 0 moves the bone inwards
    };
    [[nodiscard]] glm::vec3 fitted_place_mm(const glm::vec3& p_mm) const;
    /// Bone of the nose's side and the inner canthus, held below its skin.
    [[nodiscard]] float under_nose_mm(float bone_mm, const glm::vec3& p_mm) const;
    void fit(const std::function<bool(const DepthLandmark&)>& fitted);

    SkinField young_;
    float male_;
    std::vector<Bell> bells_;
    bool covered_ = false;
};

}  // namespace sim
