#include "sim/anatomy/skin_field.hpp"
#include "sim/anatomy/skin_parts.hpp"

/// Where skin differs from the patient's plain colour. Drawn by eye (assumed).

namespace sim {
namespace {

using skin::bell;
using skin::ramp;
using skin::square;

/// Where a beard grows: jaw, chin, upper lip, upper neck; below a line from the tragus to the corner of the mouth.
float beard_cover(const glm::vec3& q) {
    const float cheek_line =
        -34.0f + 0.0088f * square(std::max(0.0f, q.x - 24.0f)) + 0.30f * std::max(0.0f, 40.0f - q.z);
    const float top = glm::mix(-27.5f + 0.30f * std::max(0.0f, 40.0f - q.z), cheek_line, ramp(15, 32, q.x));
    float cover = ramp(top + 5.0f, top - 8.0f, q.y) * ramp(-116, -88, q.y) * ramp(-22, -2, q.z);
    cover *= 1.0f - std::exp(-square(square(q.x / 25.0f)) - 0.5f * square((q.y + 48.0f) / 5.2f));  // lips
    cover *= 1.0f - 0.55f * bell(q.x - 24.0f, 7) * bell(q.y + 58.0f, 6);
    cover *= 1.0f - ramp(62.5f, 66.0f, q.x) * ramp(-60, -45, q.y);  // lobule
    return cover;
}

}  // namespace

SkinPaint SkinField::paint(const glm::vec3& p_mm) const {
    const glm::vec3 rest = rest_mm(p_mm);
    const glm::vec3 q(std::fabs(rest.x), rest.y, rest.z);
    const auto near = [&](float x, float y, float z, float sigma) {
        return bell(glm::length(q - glm::vec3(x, y, z)), sigma);
    };
    const float cheek = near(40, -14, 66, 16);
    const float nose = near(0, -15, 108, 11);
    const float chin = near(0, -74, 88, 12);
    SkinPaint out;
    out.blood = 0.50f * cheek + 0.42f * nose + 0.45f * near(78, 4, -14, 22) + 0.22f * chin +
                0.25f * bell(q.x - 14.0f, 5) * bell(q.y + 18.0f, 6) - 0.12f * bell(q.y - 55.0f, 22) * ramp(40, 60, q.z);
    out.melanin =
        0.10f * bell(q.x - 30.0f, 15) * bell(q.y - 9.0f, 8) * ramp(55, 66, q.z) + 0.05f * ramp(-84, -100, q.y);
    out.beard = beard_cover(q) * form_->beard;
    out.pores = skin::clamp01(0.9f * nose + 0.7f * near(20, -14, 84, 14) + 0.6f * chin + 0.35f * near(0, 45, 88, 22));
    return out;
}

}  // namespace sim
