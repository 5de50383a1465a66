#include "sim/anatomy/skin_parts.hpp"

/// Cranium, jaw, neck, cheeks and chin: the large forms. All figures here are drawn by eye against the published widths
/// and heights that tests/oracle/anthropometry_test.cpp lists (assumed, unless a source stands beside the figure).

namespace sim::skin {
namespace {

// The face is a loft of horizontal super-ellipses: by height y, the foremost z, half width, z of the widest place,
// exponent.
const Curve kFrontZ{{110, 60},   {90, 73},    {75, 82},     {60, 87},  {45, 90},     {36, 90.5f},
                    {28, 88.5f}, {20, 85.5f}, {10, 83},     {0, 82},   {-10, 82.5f}, {-24, 85},
                    {-36, 86},   {-45, 85},   {-60, 81.5f}, {-75, 80}, {-90, 77},    {-105, 72}};
const Curve kHalfWidth{{110, 40},    {90, 48},     {75, 54},     {60, 58.5f},  {45, 61},  {30, 62},  {15, 61},  {0, 60},
                       {-15, 58.8f}, {-30, 56.5f}, {-45, 52.8f}, {-60, 48.2f}, {-75, 39}, {-90, 32}, {-105, 26}};
const Curve kWidestZ{{90, 0}, {60, 0}, {30, 5}, {0, 9}, {-30, 6}, {-60, 4}, {-90, 2}};
const Curve kRoundness{{90, 2.0f},  {60, 2.05f},  {30, 2.25f}, {0, 2.2f},
                       {-30, 2.1f}, {-60, 2.02f}, {-80, 2.1f}, {-100, 2.1f}};

constexpr float kLoftTopMm = 105.0f;
constexpr float kLoftBottomMm = -112.0f;
constexpr float kBackDepthMm = 34.0f;  ///< of the loft behind its widest place

float face_loft(const Form& form, const glm::vec3& q) {
    const float y = std::clamp(q.y, kLoftBottomMm, kLoftTopMm);
    const float woman = 1.0f - form.male;
    const float front =
        kFrontZ(y) + form.male * (3.0f * bell(y + 80, 12) + 1.6f * bell(y - 33, 9) - 3.0f * bell(y - 72, 22));
    const float half_width =
        kHalfWidth(y) + form.male * (6.0f * bell(y + 66, 22) + 2.8f) - woman * 2.6f * bell(y + 62, 20);
    const float widest_z = kWidestZ(y);
    const bool ahead = q.z > widest_z;
    const float half_depth = ahead ? front - widest_z : widest_z + kBackDepthMm;
    const float exponent = ahead ? kRoundness(y) : 2.0f;
    const float x = std::max(q.x / half_width, 1e-3f);
    const float z = std::max(std::fabs(q.z - widest_z) / half_depth, 1e-3f);
    const float x_term = std::pow(x, exponent);
    const float z_term = std::pow(z, exponent);
    const float sum = x_term + z_term;
    const float level = std::pow(sum, 1.0f / exponent);
    const float slope_x = level / sum * (x_term / x) / half_width;  // of `level`, in the horizontal plane
    const float slope_z = level / sum * (z_term / z) / half_depth;
    return (level - 1.0f) / std::max(std::hypot(slope_x, slope_z), 1e-4f);
}

/// The ramus with the masseter on it. It carries the width of the jaw angle, which the loft alone would leave about 5
/// mm a side too narrow for a mandible with 10 mm of soft tissue over it.
float jaw_angle(const Form& form, const glm::vec3& q) {
    const glm::vec3 top(49.0f + 1.5f * form.male, -18.0f, 14.0f);
    return capsule(q, top, jaw_angle_mm(form), 9.0f, 10.5f + 1.0f * form.male);
}

}  // namespace

glm::vec3 jaw_angle_mm(const Form& form) { return {42.5f + 2.5f * form.male, -53.0f - 3.0f * form.male, 11.0f}; }

float base_head(const Form& form, const glm::vec3& q) {
    float cranium = join(ellipsoid(q, {0, 49, -16}, {70, 77, 69}), ellipsoid(q, {0, 46, 22}, {58, 74, 70}), 26);
    cranium = join(cranium, ellipsoid(q, {0, 5, -45}, {52, 42, 38}), 30);  // occiput
    float face = face_loft(form, q);
    face = join(face, jaw_angle(form, q), 14);
    const glm::vec3 down_from_jaw = glm::normalize(glm::vec3(0.0f, -0.955f, -0.295f));
    const float below_jaw = glm::dot(q - glm::vec3(0, -82.5f - 8.5f * form.male, 78), down_from_jaw);
    face = meet(face, below_jaw, 16);
    face = meet(face, q.y - 92.0f, 30);
    return join(cranium, face, 22);
}

float with_neck(float d, const Form& form, const Place& at) {
    const glm::vec3& q = at.mirrored;
    const Concerns& c = at.concerns;
    if (q.y > 75.0f && d < 30.0f) return d;  // beyond the reach of the join
    // column: its axis leans forward going up
    const float t = clamp01((-40.0f - q.y) / 150.0f);
    const float axis_z = glm::mix(-16.0f, -34.0f, t);
    const float radius_x = glm::mix(42.0f, 45.5f, t) + 7.5f * form.male + 14.0f * square(square(t));
    const float radius_z = q.z > axis_z ? glm::mix(47.0f, 50.0f, t) : glm::mix(40.0f, 44.0f, t);
    float neck = ellipse({q.x, q.z - axis_z}, {radius_x, radius_z});
    neck = 0.95f * meet(neck, q.y - 5.0f, 40);
    // sternocleidomastoid
    neck = join(neck, capsule(q, {48, -22, -18}, {36, -90, -2}, 8.0f + form.male, 8.3f + 1.2f * form.male), 20);
    neck = join(neck, capsule(q, {36, -90, -2}, {13, -176, 12}, 8.3f + 1.2f * form.male, 5.8f + 0.7f * form.male), 20);
    // larynx, trachea
    neck = join(neck, ellipsoid(q, {0, -120, 23}, {10, 20, 8.0f + 6.0f * form.male}), 20);
    neck = join(neck, capsule(q, {0, -125, 18}, {0, -190, 6}, 9, 10), 20);
    // trapezius, shoulders
    neck = join(neck, capsule(q, {12, -30, -48}, {40, -150, -56}, 13, 19), 30);
    neck = join(neck, capsule(q, {36, -176, -46}, {78, -214, -38}, 26, 32), 44);
    neck = join(neck, ellipsoid(q, {0, -232, -26}, {100, 50, 56}), 34);
    // collar bones, jugular notch
    neck = join(neck, capsule(q, {14, -187, 14}, {62, -186, 1}, 2.5f, 2.5f), 26);
    neck = carve(neck, ellipsoid(q, {0, -184, 28}, {6, 9, 9}), 16);
    // under the chin
    neck = join(neck,
                ellipsoid(q, {0, -79.5f - 4.0f * c.submental - 2.0f * c.laxity, 42},
                          {26, 11.0f + 9.0f * c.submental + 3.0f * c.laxity, 29}),
                16);
    neck = join(neck, ellipsoid(q, {26, -72, 16}, {13, 16, 26}), 18);
    return join_soft(d, neck, 21.0f + 8.0f * c.submental);
}

float with_cheeks_and_chin(float d, const Form& form, const Place& at) {
    const glm::vec3& q = at.mirrored;
    const float male = form.male;
    // brow ridge, glabella
    d = join(d, capsule(q, {12, 31, 80}, {30, 35.5f, 76.5f}, 4.2f + 4.2f * male, 4.9f + 3.9f * male), 20);
    d = join(d, capsule(q, {30, 35.5f, 76.5f}, {49, 31, 62}, 4.9f + 3.9f * male, 4.2f + 3.0f * male), 20);
    d = join(d, ellipsoid(q, {0, 29, 82}, {14, 8, 6.8f + 3.2f * male}), 14);
    // cheekbone with arch, malar fat, buccal fat
    d = join(d, capsule(q, {44, -1, 57}, {54.5f, 2, 26}, 7, 6), 22);
    d = join(d,
             ellipsoid(q, {35, -10.0f - 5.0f * at.concerns.laxity, 57},
                       {22, 20, 16.0f + 4.0f * (form.malar - 0.5f) - 1.6f * male}),
             22);
    d = join(d, ellipsoid(q, {36, -42, 46}, {18, 24, 19.0f + 5.0f * (form.buccal - 0.5f)}), 22);
    // dental arch, chin
    d = join(d, ellipsoid(q, {0, -41, 66}, {29, 25, 23.5f}), 18);
    d = join(d,
             ellipsoid(q, {0, -71.5f - 7.0f * male, 69.5f}, {14.0f + 9.0f * male, 11.0f + 1.5f * male, 15.0f + male}),
             24);
    return d;
}

}  // namespace sim::skin
