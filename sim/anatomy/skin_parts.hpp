#pragma once

#include <array>

#include "sim/anatomy/parameters.hpp"
#include "sim/anatomy/skin_shapes.hpp"

/// The parts of the skin field, in the order in which they are laid onto each other. Internal to the skin.
///
/// All parts work in the rest frame of the face (millimetres; asymmetry undone). Most of a face is even: a part that is
/// takes the mirrored point, with x >= 0, and what differs between the sides arrives as the concerns at that place.

namespace sim::skin {

/// Concerns of age at one place; each 0 none .. 1 pronounced.
struct Concerns {
    float laxity = 0.0f, nasolabial = 0.0f, marionette = 0.0f, jowl = 0.0f, tear_trough = 0.0f, submental = 0.0f;
};

/// Smooth shifts of parts of the face that make it uneven, in millimetres at their centre.
struct Unevenness {
    float chin_x = 0.0f, nose_x = 0.0f;
    float mouth_cant = 0.0f, brow_cant = 0.0f, lid_cant = 0.0f;  ///< height change at 40 mm from the midline
    float jaw_x = 0.0f;                                          ///< both angles to one side
};

/// HeadParameters as the field reads them.
struct Form {
    explicit Form(const HeadParameters& parameters);
    float male, age;  ///< age: 0 at 30 years, 1 at 75
    float malar, buccal, lips;
    Concerns left, right;
    Unevenness uneven;
    float beard;
};

/// A query point in the rest frame.
struct Place {
    glm::vec3 mirrored{};  ///< x >= 0
    Concerns concerns;     ///< of the side the point lies on
};

[[nodiscard]] Place place_at(const Form& form, const glm::vec3& rest_mm);
[[nodiscard]] glm::vec3 without_asymmetry(const Unevenness& uneven, const glm::vec3& p_mm);

/// The skin in the rest frame: what SkinField::value_mm asks after undoing the asymmetry.
[[nodiscard]] float value_at_rest(const Form& form, const glm::vec3& rest_mm);

// Lines of the face that geometry, paint and landmarks share; heights y on the frontal plane at x >= 0.
[[nodiscard]] float mouth_half_width(const Form& form);
[[nodiscard]] float mouth_line_y(float x);  ///< x in units of the woman's mouth: scale by kMouthUnit / mouth_half_width
[[nodiscard]] float lid_line_y(float x);
[[nodiscard]] float brow_line_y(const Form& form, float x);
inline constexpr float kMouthUnitMm = 25.8f;
[[nodiscard]] glm::vec2 lip_heights(const Form& form, float x);  ///< of the red of the upper and the lower lip
[[nodiscard]] glm::vec3 jaw_angle_mm(const Form& form);          ///< centre of the body that forms it

/// Cranium, face and jaw without any feature.
[[nodiscard]] float base_head(const Form& form, const glm::vec3& q);
[[nodiscard]] float with_neck(float d, const Form& form, const Place& at);
[[nodiscard]] float with_cheeks_and_chin(float d, const Form& form, const Place& at);
[[nodiscard]] float with_nose(float d, const Form& form, const glm::vec3& q);
[[nodiscard]] float with_eyes(float d, const Form& form, const Place& at);
[[nodiscard]] float with_mouth(float d, const Form& form, const Place& at);
[[nodiscard]] float with_folds(float d, const Place& at);
[[nodiscard]] float with_ear(float d, const glm::vec3& q);

}  // namespace sim::skin
