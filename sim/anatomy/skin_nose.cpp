#include "sim/anatomy/skin_parts.hpp"

/// The nose: a wedge along the bridge, tip, wings, columella, nostrils. Figures drawn by eye (assumed).

namespace sim::skin {
namespace {

// by height y: z of the ridge, half width at the base, z of the base
const Curve kRidgeZ{{34, 89}, {28, 88}, {20, 89.6f}, {14, 93.8f}, {4, 100.5f}, {-5, 106.5f}, {-12, 110.5f}, {-20, 110}};
const Curve kBaseHalfWidth{{34, 12}, {26, 11.5f}, {14, 11.5f}, {4, 13.3f}, {-5, 15.8f}, {-14, 17.5f}, {-24, 17.5f}};
const Curve kBaseZ{{34, 80}, {26, 78}, {14, 75}, {4, 77}, {-5, 79.5f}, {-14, 82}, {-24, 84}};

constexpr float kRidgeHalfWidthMm = 2.2f;
constexpr float kNostrilTiltRad = -0.25f;

float bridge(const Form& form, const glm::vec3& q) {
    const float y = std::clamp(q.y, -28.0f, 36.0f);
    const float ridge = kRidgeZ(y) + form.male * (2.4f + 1.8f * bell(y - 10, 9));
    const float half_width = kBaseHalfWidth(y) - 0.9f + 2.9f * form.male;
    const float base = kBaseZ(y);
    const float x = std::sqrt(q.x * q.x + 3.0f);  // rounds the ridge
    const float over_ridge = (q.z - ridge) * (q.y > -12.0f ? 0.86f : 1.0f);
    const float over_flank =
        ((x - kRidgeHalfWidthMm) * (ridge - base) + (q.z - ridge) * (half_width - kRidgeHalfWidthMm)) /
        std::hypot(ridge - base, half_width - kRidgeHalfWidthMm);
    float nose = meet(over_ridge, over_flank, 8);
    nose = meet(nose, glm::dot(q - glm::vec3(0, -22, 98), glm::vec3(0.0f, -0.95f, 0.31f)), 7);
    nose = meet(nose, q.y - 34.0f, 12);
    return meet(nose, 70.0f - q.z, 6);
}

}  // namespace

float with_nose(float d, const Form& form, const glm::vec3& at) {
    constexpr float kLongerInMenMm = 2.0f;
    const float male = form.male;
    const glm::vec3 q(at.x, at.y + kLongerInMenMm * male * ramp(14, -8, at.y), at.z);
    float nose = bridge(form, q);
    nose = join(nose, ellipsoid(q, {2.0f, -13.6f, 101.2f}, {5.1f + 1.1f * male, 6.0f + 0.4f * male, 8.0f}), 7);
    nose = join(nose, ellipsoid(q, {9.5f + 2.0f * male, -17.9f, 90.3f}, {4.3f + 0.4f * male, 5.9f, 8.8f}), 5);
    nose = join(nose, capsule(q, {0, -18.5f, 101}, {0, -23.5f, 89}, 2.9f, 3.8f), 4.5f);
    nose = carve(nose, tilted_ellipsoid(q, {6.3f, -24.2f, 95}, {2.7f, 3.9f, 6.0f}, kNostrilTiltRad), 2.4f);
    return join(d, nose, glm::mix(4.0f, 12.0f, ramp(-15, 2, q.y)));
}

}  // namespace sim::skin
