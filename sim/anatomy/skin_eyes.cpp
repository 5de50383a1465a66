#include "sim/anatomy/skin_parts.hpp"

/// Orbits and closed lids. Figures drawn by eye (assumed).

namespace sim::skin {
namespace {

constexpr glm::vec3 kEyeballMm{31.0f, 12.5f, 65.5f};

/// The fissure with its margins and the rolls above and below it, as a change of height.
float fissure(float along, float above, float within) {
    const float open = ramp(1.06f, 0.86f, std::fabs(along));
    const float line = 0.75f * bump(above + 0.35f, 0.55f) - 0.38f * bump(above - 0.75f, 0.75f);
    const float rolls =
        0.30f * bump(above - 2.6f, 1.5f) + 0.62f * bump(above + 2.7f, 1.5f) - 0.30f * bump(above + 6.2f, 2.0f);
    return open * line - within * ramp(1.1f, 0.5f, std::fabs(along)) * rolls;
}

}  // namespace

float lid_line_y(float x) {
    const float along = (x - 30.5f) / 14.5f;
    return 11.0f - 3.9f * (1.0f - along * along) + along - 0.9f * bell(x - 15.0f, 1.8f);
}

float brow_line_y(const Form& form, float x) {
    const float s = clamp01((x - 12.0f) / 40.0f);
    const float arch = (7.4f - 4.8f * form.male) * std::sin(s * (2.25f - 0.1f * form.male)) * 0.9f;
    return 32.6f + arch - 1.5f * s - 3.6f * form.male;
}

float with_eyes(float d, const Form& form, const Place& at) {
    const glm::vec3& q = at.mirrored;
    const float male = form.male;
    const float lax = at.concerns.laxity;
    // orbit and the hollow beside the nose
    d = carve(d, ellipsoid(q, {30, 12, 95}, {19, 9.5f, 19.0f + 1.2f * male}), 14);
    d = carve(d, ellipsoid(q, {17.5f, 10, 89}, {7, 7.5f, 9.7f + 0.8f * male}), 10);
    // lids over the eyeball
    const float above = q.y - lid_line_y(q.x);
    const float upper = ellipsoid(q, kEyeballMm, {18.5f, 13.8f, 14.4f});
    const float lower = ellipsoid(q, kEyeballMm + glm::vec3(0.0f, -0.5f, -0.2f), {18.2f, 13.6f, 13.9f});
    d = join(d, glm::mix(lower, upper, ramp(-1.6f, 0.9f, above)), 10);
    // fold and fat under the brow, which come down with laxity
    d = join(d, ellipsoid(q, {32.5f, 26.0f - 3.0f * lax, 66.2f}, {20, 8.5f + 1.5f * lax, 13.6f + lax + 1.2f * male}),
             6);
    d = join(d, ellipsoid(q, {18.5f, 26.8f, 72}, {12, 9.5f, 10.2f + 0.8f * male}), 9);

    const float front = ramp(60, 68, q.z);
    const float along = (q.x - 30.5f) / 15.5f;
    const float within = ramp(1.25f, 0.85f, std::fabs(along)) * front;
    d += fissure(along, above, within) * front;
    // crease of the upper lid, sharp above; the fold over it
    const float arc = std::pow(std::max(0.0f, 1.0f - square((q.x - 32.0f) / 19.0f)), 0.7f);
    const float over_crease = q.y - (13.0f + (5.8f - 1.6f * male) * arc);
    d += within * (0.55f - 0.1f * male) * bump(over_crease, over_crease > 0.0f ? 0.8f : 1.6f);
    d -= 0.9f * (0.45f + lax) * within * bump(over_crease - 2.4f, 2.3f);
    // inner corner
    d += 0.45f * bell(q.x - 14.6f, 1.3f) * bell(q.y - 9.6f, 1.2f) * ramp(60, 70, q.z);
    return d;
}

}  // namespace sim::skin
