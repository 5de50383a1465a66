#include "sim/anatomy/skin_parts.hpp"

/// Lips, philtrum, corners, and the groove above the chin. Figures drawn by eye (assumed).

namespace sim::skin {
namespace {

constexpr float kLipEndMm = 26.0f;    ///< from the midline, in mouth units
constexpr float kMouthBowMm = 13.5f;  ///< how far the corner lies behind the middle

float lip_front_z(float x) { return 89.5f - kMouthBowMm * square(x / kLipEndMm); }

/// Distance to a lip: an ellipse in the sagittal plane, closed off at the corner.
float lip(const glm::vec2& from_axis, float half_height, float half_depth, float beyond_corner) {
    const float flat = ellipse(from_axis, {half_height, half_depth});
    return std::hypot(std::max(flat, 0.0f), beyond_corner) + std::min(flat, 0.0f);
}

}  // namespace

float mouth_half_width(const Form& form) { return 24.4f + 1.9f * form.male; }

float mouth_line_y(float x) {
    return -47.4f - 0.9f * bell(x, 4.5f) + 0.5f * bell(x - 9.0f, 5.0f) + 1.5f * square(square(x / 25.0f));
}

glm::vec2 lip_heights(const Form& form, float x) {
    const float size = 0.84f + 0.34f * form.lips - 0.20f * form.male - 0.12f * form.age;
    const float taper = std::sqrt(std::max(0.0f, 1.0f - square(clamp01(x / kMouthUnitMm))));
    return {(5.9f * std::pow(taper, 1.15f) + 1.1f * bell(x - 5.5f, 3.0f) - 1.0f * bell(x, 2.2f)) * size,
            8.4f * std::pow(taper, 1.05f) * size};
}

float with_mouth(float d, const Form& form, const Place& at) {
    const glm::vec3& q = at.mirrored;
    const float x = q.x * kMouthUnitMm / mouth_half_width(form);
    const float line_y = mouth_line_y(x);
    const float axis_z = lip_front_z(x);
    const float above = q.y - line_y;
    const float full = 0.75f + 0.5f * form.lips - 0.28f * form.male - 0.18f * at.concerns.laxity;
    const float taper = std::sqrt(std::max(0.0f, 1.0f - square(clamp01(x / kLipEndMm))));
    const float plump = 0.5f + 0.5f * full;
    const float upper_h = (3.8f * taper + 0.7f * bell(x - 5.5f, 3.0f) - 0.5f * bell(x, 2.2f)) * plump;
    const float lower_h = 5.2f * std::pow(taper, 0.95f) * plump;
    const float upper_d = (4.0f * std::pow(taper, 0.8f) + 0.2f) * full;
    const float lower_d = (4.6f * std::pow(taper, 0.9f) + 0.2f) * full;
    const float beyond = std::max(0.0f, x - kLipEndMm);
    const float upper = lip({above - upper_h * 0.92f, q.z - axis_z + 0.1f}, upper_h + 0.15f, upper_d, beyond);
    const float lower = lip({above + lower_h * 0.92f, q.z - axis_z + 0.9f}, lower_h + 0.15f, lower_d, beyond);
    const float bow_slope = 2.0f * kMouthBowMm * x / square(kLipEndMm);
    d = join(d, std::min(upper, lower) / std::sqrt(1.0f + bow_slope * bow_slope), 3);

    const float front = ramp(66, 74, q.z);
    d += 0.75f * ramp(27.5f, 23.0f, x) * front * bump(above, 0.75f);                        // line between the lips
    d -= 0.30f * ramp(27.5f, 23.0f, x) * front * bell(x, 3.2f) * bell(above - 2.6f, 1.6f);  // tubercle
    d += 0.9f * bell(above + 2.0f * lower_h + 2.6f, 2.2f) * bell(x, 13.0f) * front;  // hollow below the lower lip
    d -= 0.13f * ramp(24, 16, x) * front *                                           // white rolls
         (bell(above - 2.0f * upper_h - 0.4f, 0.7f) + 0.6f * bell(above + 2.0f * lower_h + 0.2f, 0.8f));
    d += 0.8f * bell(x - 26.0f, 2.6f) * bell(q.y + 46.1f, 2.4f) * ramp(60, 70, q.z);  // corner
    const float philtrum = ramp(-25, -29, q.y) * ramp(-41, -37, q.y) * ramp(70, 80, q.z);
    d += philtrum * (1.0f * bell(x, 2.6f) - 0.65f * bell(x - 5.2f, 1.9f));
    d += 0.8f * bell(q.y + 62.0f, 3.2f) * bell(x, 11.0f) * ramp(60, 75, q.z);  // above the chin
    return d;
}

}  // namespace sim::skin
