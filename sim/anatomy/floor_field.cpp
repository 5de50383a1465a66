#include "sim/anatomy/floor_field.hpp"

#include "sim/anatomy/floor_field_depths.hpp"
#include "sim/anatomy/floor_field_shapes.hpp"

/// The skeleton's figures are drawn in the even head of a woman, against the published depths, the published widths of
/// skull and mandible and by eye (assumed, unless a source stands beside the figure).

namespace sim {
namespace {

using glm::vec2;
using glm::vec3;
using skeleton::Wall;
using skin::bell;
using skin::capsule;
using skin::carve;
using skin::ellipse;
using skin::ellipsoid;
using skin::join_soft;
using skin::meet;
using skin::ramp;
using skin::square;

// ---- mandible ------------------------------------------------------------------------------------------------------

constexpr Wall::Node kBodyNodes[] = {
    {-4.0f, 70.5f, -54.0f, -86.5f, 6.0f, 0.6f}, {4.0f, 70.5f, -54.0f, -86.5f, 6.0f, 0.6f},
    {13.0f, 66.5f, -54.0f, -83.0f, 5.8f, 0.4f}, {21.0f, 56.5f, -53.0f, -76.8f, 5.4f, -0.5f},
    {23.6f, 45.0f, -51.0f, -70.4f, 4.4f, 0.5f}, {30.4f, 33.0f, -48.0f, -64.6f, 4.5f, 0.6f},
    {38.3f, 21.0f, -46.0f, -61.2f, 4.0f, 0.3f}};
constexpr Wall::Node kLowerTeethNodes[] = {
    {-4.0f, 75.4f, -46.0f, -59.0f, 3.6f, 1.2f}, {4.0f, 75.4f, -46.0f, -59.0f, 3.6f, 1.2f},
    {12.0f, 70.5f, -46.0f, -60.0f, 3.8f, 0.0f}, {19.0f, 58.8f, -46.0f, -60.0f, 4.2f, 0.0f},
    {24.0f, 46.0f, -45.5f, -58.0f, 4.5f, 0.0f}, {28.0f, 34.0f, -45.0f, -56.0f, 4.5f, 0.0f}};
constexpr Wall::Node kUpperTeethNodes[] = {
    {-4.0f, 76.6f, -27.5f, -46.0f, 4.2f, -4.6f}, {4.0f, 76.6f, -27.5f, -46.0f, 4.2f, -4.6f},
    {13.2f, 73.8f, -23.0f, -45.5f, 4.7f, -2.4f}, {21.5f, 61.0f, -19.0f, -45.0f, 5.2f, -0.6f},
    {26.5f, 47.0f, -18.0f, -45.0f, 5.5f, 0.0f},  {29.0f, 34.0f, -18.0f, -44.0f, 5.5f, 0.0f}};

/// Outline of the ramus from the side (z, y): back from the angle up, condyle, notch, coronoid, front border, angle.
constexpr vec2 kRamusOutline[] = {{14.5f, -53.5f}, {11.0f, -47.0f}, {9.0f, -38.0f},  {7.6f, -27.0f},  {6.5f, -14.0f},
                                  {6.5f, -5.0f},   {9.0f, -2.0f},   {14.0f, -2.0f},  {16.0f, -6.0f},  {17.5f, -12.0f},
                                  {21.0f, -16.0f}, {25.0f, -16.0f}, {29.0f, -12.0f}, {32.5f, -7.0f},  {35.0f, -11.0f},
                                  {35.0f, -22.0f}, {36.5f, -34.0f}, {41.0f, -43.0f}, {47.0f, -49.0f}, {46.0f, -66.0f},
                                  {38.0f, -63.5f}, {30.0f, -60.2f}, {24.0f, -58.6f}, {19.0f, -56.8f}};
constexpr float kRamusRoundingMm = 3.4f;

const Wall& body() {
    static const Wall wall(kBodyNodes, 4.2f);
    return wall;
}
const Wall& lower_teeth() {
    static const Wall wall(kLowerTeethNodes, 2.8f);
    return wall;
}
const Wall& upper_teeth() {
    static const Wall wall(kUpperTeethNodes, 3.2f);
    return wall;
}

/// Middle of the ramus plate: leans out towards the condyle, flares at the angle, turns in towards the front border.
float ramus_x(const vec3& q) {
    const float forward = q.z - 29.5f;
    const float turned_in = 0.42f * (forward + std::sqrt(square(forward) + 30.0f));
    return 38.6f + 8.3f * ramp(-40.0f, 4.0f, q.y) + 1.9f * bell(q.y + 58.0f, 9.0f) - turned_in;
}

float ramus(const vec3& q) {
    const float plate = std::fabs(q.x - ramus_x(q)) - (2.0f + 1.2f * bell(q.y + 50.0f, 12.0f));
    const float outline = skeleton::polygon({q.z, q.y}, kRamusOutline) + kRamusRoundingMm - 0.4f;
    const float plain = skeleton::corner(plate + 1.8f, outline) - kRamusRoundingMm;
    const float condyle = capsule(q, {43.0f, -2.5f, 11.0f}, {53.0f, -2.5f, 12.5f}, 4.0f, 4.0f);
    return join_soft(plain, condyle, 4.0f);
}

float mandible(const vec3& q) {
    float d = body().distance(q);
    d = join_soft(d, ellipsoid(q, {0.0f, -74.0f, 70.5f}, {12.0f, 8.0f, 7.5f}), 8.0f);  // mental protuberance
    d = join_soft(d, ellipsoid(q, {11.0f, -78.0f, 66.0f}, {6.0f, 4.5f, 6.0f}), 6.0f);  // mental tubercle
    return join_soft(d, ramus(q), 10.0f);
}

// ---- skull ---------------------------------------------------------------------------------------------------------

float braincase(const vec3& q) {
    float d = join_soft(ellipsoid(q, {0.0f, 50.0f, -16.0f}, {64.0f, 72.5f, 62.5f}),
                        ellipsoid(q, {0.0f, 46.5f, 23.0f}, {51.0f, 70.0f, 68.5f}), 24.0f);
    d = join_soft(d, ellipsoid(q, {0.0f, 8.0f, -45.0f}, {45.0f, 36.0f, 32.0f}), 26.0f);    // occiput
    d = carve(d, ellipsoid(q, {80.0f, 18.0f, 38.0f}, {26.0f, 36.0f, 32.0f}), 16.0f);       // temporal fossa
    d = join_soft(d, ellipsoid(q, {0.0f, -2.0f, 20.0f}, {32.0f, 30.0f, 40.0f}), 16.0f);    // base, sphenoid
    d = join_soft(d, ellipsoid(q, {45.5f, -13.0f, -16.0f}, {9.0f, 15.0f, 11.0f}), 10.0f);  // mastoid
    return d;
}

/// Arch with its root before the ear canal, blade-like: higher than thick.
float zygomatic_arch(const vec3& q) {
    const auto blade = [&q](const vec3& a, const vec3& b, float ra, float rb) {
        constexpr float kHeight = 1.35f;  // of the section, over its thickness
        const vec3 squeeze(1.0f, 1.0f / kHeight, 1.0f);
        return capsule(q * squeeze, a * squeeze, b * squeeze, ra, rb);
    };
    float d = blade({47.5f, -4.0f, 49.0f}, {55.5f, -2.0f, 34.0f}, 4.4f, 2.9f);
    d = join_soft(d, blade({55.5f, -2.0f, 34.0f}, {58.0f, -0.5f, 18.0f}, 2.9f, 2.7f), 5.0f);
    d = join_soft(d, blade({58.0f, -0.5f, 18.0f}, {54.5f, 2.0f, 2.0f}, 2.7f, 3.4f), 5.0f);
    // the root runs on above the ear canal as a crest that sinks into the braincase
    d = join_soft(d, blade({55.3f, 3.0f, 9.0f}, {51.0f, 6.5f, -12.0f}, 2.8f, 3.4f), 4.0f);
    return d;
}

float skull(const vec3& q) {
    float d = braincase(q);
    d = join_soft(d, capsule(q, {9.0f, 32.0f, 84.0f}, {34.0f, 36.0f, 79.0f}, 5.0f, 5.0f), 10.0f);   // brow
    d = join_soft(d, ellipsoid(q, {14.0f, -6.0f, 52.0f}, {24.0f, 27.0f, 23.0f}), 12.0f);            // maxilla
    d = join_soft(d, capsule(q, {20.0f, -6.0f, 66.0f}, {38.0f, -5.0f, 61.0f}, 6.5f, 7.0f), 10.0f);  // lower rim
    d = join_soft(d, capsule(q, {0.0f, 27.0f, 84.5f}, {0.0f, 2.0f, 92.4f}, 4.2f, 3.2f), 6.0f);      // nasal bones
    d = join_soft(d, capsule(q, {3.5f, 25.0f, 82.0f}, {4.4f, 3.0f, 87.5f}, 4.0f, 3.0f), 10.0f);
    d = join_soft(d, capsule(q, {6.0f, 20.0f, 76.0f}, {11.0f, -4.0f, 74.0f}, 4.0f, 5.0f), 7.0f);  // frontal process
    d = join_soft(d, capsule(q, {11.0f, -4.0f, 74.0f}, {16.0f, -18.0f, 73.5f}, 5.0f, 5.0f), 7.0f);
    d = join_soft(d, ellipsoid(q, {43.5f, -5.0f, 53.5f}, {11.0f, 11.0f, 9.0f}), 9.0f);            // cheekbone
    d = join_soft(d, capsule(q, {47.5f, 2.0f, 52.0f}, {48.5f, 18.0f, 56.0f}, 4.6f, 5.0f), 7.0f);  // lateral rim
    d = join_soft(d, capsule(q, {48.5f, 18.0f, 56.0f}, {40.0f, 35.5f, 72.0f}, 5.0f, 5.0f), 7.0f);
    d = join_soft(d, zygomatic_arch(q), 8.0f);
    d = carve(d, ellipsoid(q, {31.0f, 12.5f, 66.0f}, {17.2f, 15.0f, 27.0f}), 7.0f);  // orbit
    d = join_soft(d, upper_teeth().distance(q), 9.0f);
    d = carve(d, ellipsoid(q, {0.0f, -13.0f, 86.0f}, {11.0f, 15.0f, 15.0f}), 6.0f);  // piriform aperture
    return d;
}

// ---- soft floors ---------------------------------------------------------------------------------------------------

/// Closed vestibule and lining beside the teeth (assumed): thinner before the front teeth than in the cheek.
constexpr float kUpperVestibuleMm = 1.7f, kUpperFrontMm = 1.1f;
constexpr float kLowerVestibuleMm = 1.5f, kLowerFrontMm = 1.0f;

float mouth(const vec3& q) {
    // sideways by the thickness of the closed space and its lining, closed over the gap between the teeth
    const float front = ramp(50.0f, 64.0f, q.z);
    float d = join_soft(upper_teeth().distance(q, glm::mix(kUpperVestibuleMm, kUpperFrontMm, front)),
                        lower_teeth().distance(q, glm::mix(kLowerVestibuleMm, kLowerFrontMm, front)),
                        glm::mix(9.0f, 6.0f, front));
    d = join_soft(d, ellipsoid(q, {0.0f, -44.0f, 40.0f}, {28.0f, 23.0f, 37.0f}), 10.0f);  // mouth, tongue
    return d;
}

/// Fascia between jaw and neck: over mylohyoid and digastric below, over the pterygoids and throat behind.
float under_jaw(const vec3& q) {
    float d = ellipsoid(q, {0.0f, -45.0f, 6.0f}, {34.0f, 44.0f, 26.0f});                   // throat
    d = join_soft(d, ellipsoid(q, {0.0f, -68.0f, 42.0f}, {25.0f, 13.5f, 28.0f}), 14.0f);   // mylohyoid
    d = join_soft(d, ellipsoid(q, {25.0f, -71.0f, 16.0f}, {12.0f, 11.0f, 19.0f}), 12.0f);  // submandibular bed
    return d;
}

float neck(const vec3& q, float male) {
    const float t = skin::clamp01((-40.0f - q.y) / 150.0f);
    const float axis_z = -16.0f - 18.0f * t;
    const float wide = 5.0f * male;
    const vec2 radius(37.5f + 3.0f * t + wide + 14.0f * square(square(t)),
                      q.z > axis_z ? 38.0f + 4.0f * t : 34.0f + 4.0f * t);
    float d = ellipse({q.x, q.z - axis_z}, radius);
    d = meet(d, q.y + 10.0f, 40.0f);
    const vec3 out(0.35f * wide, 0.0f, 0.0f);
    d = join_soft(d, capsule(q, vec3(45.5f, -20.0f, -18.0f) + out, vec3(33.5f, -90.0f, -2.0f) + out, 8.4f, 9.2f),
                  14.0f);
    d = join_soft(d, capsule(q, vec3(33.5f, -90.0f, -2.0f) + out, {12.0f, -176.0f, 9.0f}, 9.2f, 6.0f), 14.0f);
    d = join_soft(d, ellipsoid(q, {0.0f, -119.0f, 19.0f + 3.0f * male}, {9.5f, 19.0f, 7.5f + 3.0f * male}),
                  14.0f);                                                                            // larynx
    d = join_soft(d, capsule(q, {7.0f, -102.0f, 20.5f}, {8.0f, -178.0f, 2.0f}, 5.5f, 6.0f), 12.0f);  // strap muscles
    d = join_soft(d, capsule(q, {0.0f, -98.0f, 21.5f}, {20.0f, -93.0f, 8.0f}, 4.5f, 4.0f), 12.0f);   // hyoid
    d = join_soft(d, capsule(q, {12.0f, -30.0f, -44.0f}, {38.0f, -150.0f, -52.0f}, 9.0f, 15.0f), 24.0f);  // trapezius
    d = join_soft(d, capsule(q, {36.0f, -176.0f, -46.0f}, {78.0f, -214.0f, -38.0f}, 20.0f, 25.0f), 36.0f);
    return join_soft(d, ellipsoid(q, {0.0f, -232.0f, -26.0f}, {92.0f, 43.0f, 49.0f}), 28.0f);
}

/// x without the crease at the midline.
constexpr float kMidlineMm = 0.2f;  // what x = 0 reads as
float mirrored_x(float x) { return std::sqrt(square(x) + square(kMidlineMm)); }

constexpr float kFitWidthMm = 20.0f;

}  // namespace

namespace {

/// The same person at the age in which the skeleton is fitted.
SkinField at_fitting_age(const SkinField& young) {
    HeadParameters parameters = young.parameters();
    parameters.age_years = HeadParameters{}.age_years;
    return SkinField(parameters);
}

}  // namespace

FloorField::FloorField(const SkinField& young)
    : FloorField(young, [](const DepthLandmark& row) { return !row.left_out; }) {}

FloorField::FloorField(const SkinField& young, const std::function<bool(const DepthLandmark&)>& fitted)
    : young_(at_fitting_age(young)), male_(static_cast<float>(young.parameters().male)) {
    fit(fitted);
    covered_ = true;  // a small last step: the fit is that of the skeleton as drawn
}

vec3 FloorField::table_place_mm(const vec3& p) const {
    vec3 q = young_.rest_mm(p);
    q.x = mirrored_x(q.x);
    // a man's jaw is wider at the angle, deeper at the chin, his brow stands out (drawn to the skin's own differences)
    const float wider =
        male_ * (1.0f + 7.5f * bell(q.y + 60.0f, 24.0f)) * ramp(60.0f, 20.0f, q.y) * ramp(-130.0f, -95.0f, q.y);
    q.x /= 1.0f + wider / 50.0f;
    q.z -= 1.0f * male_ * bell(q.y + 80.0f, 12.0f) * ramp(40.0f, 65.0f, q.z);
    q.z -= 1.6f * male_ * bell(q.x, 12.0f) * bell(q.y - 8.0f, 14.0f);
    q.y += 4.0f * male_ * ramp(-42.0f, -80.0f, q.y) * ramp(-140.0f, -100.0f, q.y);
    return q;
}

vec3 FloorField::from_table_mm(const vec3& wanted, bool left) const {
    const vec3 place(std::max(wanted.x, kMidlineMm), wanted.y, wanted.z);
    constexpr int kRounds = 12;  // the warp's slope is below 0.25: each round leaves a quarter of the error
    const float sign = left ? 1.0f : -1.0f;
    vec3 p(sign * place.x, place.y, place.z);
    for (int i = 0; i < kRounds; ++i) {
        const vec3 off = place - table_place_mm(p);
        p += vec3(sign * off.x, off.y, off.z);
    }
    return p;
}

vec3 FloorField::fitted_place_mm(const vec3& p) const {
    const vec3 q = table_place_mm(p);
    float inwards = 0.0f;
    for (const Bell& b : bells_) {
        const vec3 off = q - b.centre_mm;
        const float r2 = glm::dot(off, off) / square(kFitWidthMm);
        if (r2 < 12.0f) inwards += b.height_mm * std::exp(-0.5f * r2);
    }
    if (inwards == 0.0f) return q;
    // the bone moves as a whole along a fixed, smooth outward direction: thin plates keep their thickness
    const vec3 outward = q - vec3(0.0f, glm::clamp(0.75f * q.y, -55.0f, 50.0f), 22.0f);
    return q + outward * (inwards / (glm::length(outward) + 4.0f));
}

float FloorField::bone_mm(const vec3& p) const {
    const vec3 q = fitted_place_mm(p);
    const float bone = join_soft(skull(q), join_soft(mandible(q), lower_teeth().distance(q), 6.0f), 3.0f);
    return covered_ ? under_nose_mm(bone, p) : bone;
}

float FloorField::under_nose_mm(float bone, const vec3& p) const {
    constexpr float kCoverMm = 3.1f;     // skin and muscle on the side of the nose and at the inner canthus, assumed
    constexpr float kFarMm = 8.0f;       // bone this far away is not touched
    constexpr float kNoCoverMm = 14.0f;  // outside the window the skin may lie this deep in bone before it matters
    if (bone > kFarMm) return bone;
    const vec3 q = table_place_mm(p);
    // not on the bridge, whose depth is published
    const float window = ramp(1.0f, 4.0f, q.x) * ramp(30.0f, 20.0f, q.x) * ramp(-13.0f, -5.0f, q.y) *
                         ramp(34.0f, 26.0f, q.y) * ramp(52.0f, 62.0f, q.z);
    if (window <= 0.0f) return bone;
    // what stands higher follows the skin: nasal bones are the shape of the nose
    return meet(bone, young_.value_mm(p) + glm::mix(-kNoCoverMm, kCoverMm, window), 2.0f);
}

float FloorField::lining_mm(const vec3& p) const { return mouth(fitted_place_mm(p)); }

float FloorField::fascia_mm(const vec3& p) const {
    vec3 rest = young_.rest_mm(p);
    rest.x = mirrored_x(rest.x);
    return join_soft(under_jaw(table_place_mm(p)), neck(rest, male_), 12.0f);
}

float FloorField::masseter_mm(const vec3& p) const {
    // from the arch to the angle; front and back border lean forward going up
    static const skin::Curve outer_x{{-66.0f, 42.5f}, {-58.0f, 47.0f}, {-50.0f, 49.8f}, {-40.0f, 51.4f},
                                     {-28.0f, 52.6f}, {-14.0f, 54.0f}, {-4.0f, 55.5f}};
    constexpr float kHalfThickMm = 9.0f;
    constexpr float kHalfWideMm = 15.5f;
    const vec3 q = fitted_place_mm(p);
    const float middle_z = 26.0f + 0.18f * (q.y + 30.0f);
    const float y = glm::clamp(q.y, -66.0f, -4.0f);
    const float across = ellipse({q.x - (outer_x(y) - kHalfThickMm), q.z - middle_z}, {kHalfThickMm, kHalfWideMm});
    return meet(across, std::fabs(q.y + 31.0f) - 27.0f, 10.0f);
}

float FloorField::temporalis_mm(const vec3& p) const {
    const vec3 q = fitted_place_mm(p);
    return ellipsoid(q, {49.0f, 26.0f, 30.0f}, {10.5f, 34.0f, 30.0f});
}

void FloorField::fit(const std::function<bool(const DepthLandmark&)>& fitted) {
    // two rounds of a ridge regression on the residuals at the landmarks taken
    constexpr int kRounds = 2;
    constexpr double kRidge = 0.5;
    constexpr float kMostMm = 5.0f;  // a landmark further off than this says that the base is wrong, not the fit
    const std::vector<DepthSite> sites = depth_sites(young_);
    for (int round = 0; round < kRounds; ++round) {
        std::vector<vec3> centres;
        std::vector<double> residuals;
        for (const DepthSite& site : sites) {
            if (site.side == Side::right || !site.table->has_depth() || !fitted(*site.table)) continue;
            const auto depth = bone_depth_mm(*this, site.skin_mm);
            if (!depth) continue;
            const vec3 inwards = -glm::normalize(young_.gradient(site.skin_mm, kNormalSmoothingMm));
            centres.push_back(table_place_mm(site.skin_mm + inwards * *depth));
            const float target = site.table->target_mm(male_);
            residuals.push_back(static_cast<double>(glm::clamp(target - *depth, -kMostMm, kMostMm)));
        }
        const auto heights = ridge_weights(centres, residuals, kFitWidthMm, kRidge);
        for (std::size_t i = 0; i < centres.size(); ++i) bells_.push_back({centres[i], static_cast<float>(heights[i])});
    }
}

}  // namespace sim
