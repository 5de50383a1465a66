#pragma once

#include <memory>

#include <glm/vec3.hpp>

#include "sim/anatomy/parameters.hpp"

/// The skin of one patient as an implicit surface.
///
/// This class and the mesh built from it are the one place of sim/ that works in millimetres and single precision: the
/// shape is drawn in millimetres, is asked millions of times, and is known to tenths of a millimetre. Every name says
/// so. Frame of sim/core/vec.hpp. Trusted from the vertex down to the collar bones; the bust is cut off flat at
/// kBustBaseMm.

namespace sim {

namespace skin {
struct Form;
}

/// Changes of colour and surface against the patient's plain skin, for the renderer.
struct SkinPaint {
    float blood = 0.0f;    ///< extra blood, may be negative
    float melanin = 0.0f;  ///< extra pigment
    float beard = 0.0f;    ///< shaved shadow, 0..1
    float wetness = 0.0f;  ///< 0 dry skin .. 1 moist lip
    float pores = 0.0f;    ///< how coarse the skin is, 0 fine .. 1 coarse (nose, medial cheek, chin)
};

class SkinField {
 public:
    static constexpr float kBustBaseMm = -198.0f;

    /// @throws InputError as validate()
    explicit SkinField(const HeadParameters& parameters);

    /// About the distance to the skin, < 0 inside. Near the skin the gradient's length is near 1; deeper than about 10
    /// mm the value is off by up to several millimetres: for depths use a distance grid.
    [[nodiscard]] float value_mm(const glm::vec3& p_mm) const;

    /// The same of the large forms alone: head, jaw, neck, cheeks and chin without nose, lids, lips, folds and ears.
    [[nodiscard]] float large_forms_mm(const glm::vec3& p_mm) const;

    /// Central difference of value_mm on a tetrahedron; not of unit length.
    [[nodiscard]] glm::vec3 gradient(const glm::vec3& p_mm, float step_mm = 0.35f) const;

    /// The place in the even face that a place in this patient's face belongs to: asymmetry undone.
    [[nodiscard]] glm::vec3 rest_mm(const glm::vec3& p_mm) const;

    /// The other way round.
    [[nodiscard]] glm::vec3 from_rest_mm(const glm::vec3& rest) const;

    [[nodiscard]] SkinPaint paint(const glm::vec3& p_mm) const;

    /// A box that holds the whole bust with room to spare.
    [[nodiscard]] glm::vec3 low_mm() const { return {-118.0f, -208.0f, -118.0f}; }
    [[nodiscard]] glm::vec3 high_mm() const { return {118.0f, 142.0f, 130.0f}; }

    [[nodiscard]] const HeadParameters& parameters() const { return parameters_; }
    [[nodiscard]] const skin::Form& form() const { return *form_; }

 private:
    HeadParameters parameters_;
    std::shared_ptr<const skin::Form> form_;  ///< immutable, so copies may share it
};

}  // namespace sim
