#include "sim/anatomy/skin_parts.hpp"

/// Tear trough, nasolabial and marionette folds, jowl. Courses and figures drawn by eye (assumed).

namespace sim::skin {
namespace {

const DrawnLine kNasolabial{{14.5f, -12}, {19.5f, -16.5f}, {26, -24},   {31.5f, -34},
                            {34, -44},    {34.2f, -53},    {32.5f, -62}};
const DrawnLine kMarionette{{25.5f, -47}, {27.6f, -51.5f}, {29.2f, -57}, {29.8f, -65}, {29.5f, -74}, {28, -82}};
const DrawnLine kTearTrough{{15.5f, 6.5f}, {20, 0}, {27, -5}, {36, -8}, {44, -7}};

/// Height change across a fold: a dip with a soft medial flank and a roll of skin on the lateral side. `window` (0..1)
/// scales depth and width together, so that the end of a fold thins out instead of stopping.
float fold(float offset, float depth, float window) {
    if (window < 1e-3f) return 0.0f;
    const float narrow = 0.40f + 0.60f * window;
    const float s = offset / narrow;
    const float a = depth * window;
    const float lateral = s > 0.0f ? 1.0f : 0.0f;
    const float dip =
        1.35f * a * bump(s, glm::mix(7.0f, 3.2f, lateral)) + 0.75f * a * a * bump(s, glm::mix(2.2f, 1.3f, lateral));
    const float roll = lateral * 2.4f * a * square(s / 10.0f) * std::exp(1.0f - square(s / 10.0f));
    return (dip - roll) * (0.6f + 0.4f * narrow);
}

}  // namespace

float with_folds(float d, const Place& at) {
    const glm::vec3& q = at.mirrored;
    const Concerns& c = at.concerns;
    const glm::vec2 frontal(q.x, q.y);

    // far from a line, or behind its window in depth, it changes nothing: no need to look for its nearest point
    const bool near_trough = q.x < 65.0f && q.y > -28.0f && q.y < 27.0f;
    if (near_trough) {
        const DrawnLine::Place tear = kTearTrough.place(frontal);
        d += (0.5f + 2.0f * c.tear_trough) * ramp(-0.02f, 0.15f, tear.fraction) * ramp(1.0f, 0.45f, tear.fraction) *
             bump(tear.offset_mm, 3.6f);
    }
    const float naso_front = ramp(40, 55, q.z);
    if (naso_front > 0.0f) {
        const DrawnLine::Place naso = kNasolabial.place(frontal);
        d += fold(naso.offset_mm, c.nasolabial,
                  ramp(-0.06f, 0.34f, naso.fraction) * ramp(1.0f, 0.38f, naso.fraction) * naso_front);
    }
    const float mario_front = ramp(35, 50, q.z);
    if (mario_front > 0.0f) {
        const DrawnLine::Place mario = kMarionette.place(frontal);
        d += fold(mario.offset_mm, c.marionette,
                  ramp(-0.04f, 0.55f, mario.fraction) * ramp(1.0f, 0.50f, mario.fraction) * mario_front);
    }
    const glm::vec3 from_jowl = (q - glm::vec3(33, -70.0f - 4.0f * c.jowl, 50)) / glm::vec3(9.5f, 8.5f, 15);
    d -= 5.5f * c.jowl * faded(0.5f * glm::dot(from_jowl, from_jowl));
    d += 1.6f * c.jowl * bell(q.x - 28.0f, 5) * bell(q.y + 80.0f, 7) * ramp(40, 55, q.z);  // notch before it
    return d;
}

}  // namespace sim::skin
