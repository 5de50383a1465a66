#include "sim/anatomy/skin_field.hpp"

#include "sim/anatomy/skin_parts.hpp"
#include "sim/core/random.hpp"

namespace sim {
namespace skin {
namespace {

/// Half width of the strip around the midline in which one side's concerns give way to the other's.
constexpr float kSideBlendMm = 9.0f;

/// Standard deviations at asymmetry = 1 (assumed; judged by eye: at 0.3 a face looks natural, at 1 plainly uneven).
constexpr double kChinSdMm = 1.6;
constexpr double kNoseSdMm = 1.2;
constexpr double kMouthCantSdMm = 1.3;
constexpr double kBrowCantSdMm = 1.2;
constexpr double kLidCantSdMm = 0.7;
constexpr double kJawSdMm = 1.3;
constexpr double kMostSds = 1.8;  ///< draws are cut here, so that no seed makes a deformity

Unevenness unevenness(double amount, std::uint64_t seed) {
    Random random(seed);
    const auto draw = [&](double sd_mm) {
        return static_cast<float>(amount * sd_mm * std::clamp(random.normal(), -kMostSds, kMostSds));
    };
    Unevenness out;
    out.chin_x = draw(kChinSdMm);
    out.nose_x = draw(kNoseSdMm);
    out.mouth_cant = draw(kMouthCantSdMm);
    out.brow_cant = draw(kBrowCantSdMm);
    out.lid_cant = draw(kLidCantSdMm);
    out.jaw_x = draw(kJawSdMm);
    return out;
}

Concerns concerns_of(const HeadParameters& p, bool left) {
    const auto pick = [left](double of_left, double of_right) { return static_cast<float>(left ? of_left : of_right); };
    Concerns out;
    out.laxity = pick(p.laxity_left, p.laxity_right);
    out.nasolabial = pick(p.nasolabial_left, p.nasolabial_right);
    out.marionette = pick(p.marionette_left, p.marionette_right);
    out.jowl = pick(p.jowl_left, p.jowl_right);
    out.tear_trough = pick(p.tear_trough_left, p.tear_trough_right);
    out.submental = pick(p.submental_left, p.submental_right);
    return out;
}

/// Cuts off the bust below the collar bones.
float with_bust_base(float d, const glm::vec3& q) { return meet(d, SkinField::kBustBaseMm - q.y, 4.0f); }

}  // namespace

float value_at_rest(const Form& form, const glm::vec3& rest) {
    const Place at = place_at(form, rest);
    const glm::vec3& q = at.mirrored;
    float d = base_head(form, q);
    d = with_neck(d, form, at);
    const bool face = q.z > -35.0f && q.y < 75.0f && q.y > -110.0f;
    if (face) {
        d = with_cheeks_and_chin(d, form, at);
        d = with_nose(d, form, q);
        d = with_eyes(d, form, at);
        d = with_mouth(d, form, at);
        d = with_folds(d, at);
    }
    d = with_ear(d, q);
    return with_bust_base(d, q);
}

Form::Form(const HeadParameters& p)
    : male(static_cast<float>(p.male)),
      age(clamp01(static_cast<float>((p.age_years - 30.0) / 45.0))),
      malar(static_cast<float>(p.malar_fullness)),
      buccal(static_cast<float>(p.buccal_fullness)),
      lips(static_cast<float>(p.lip_fullness)),
      left(concerns_of(p, true)),
      right(concerns_of(p, false)),
      uneven(unevenness(p.asymmetry, p.asymmetry_seed)),
      beard(static_cast<float>(p.beard)) {}

Place place_at(const Form& form, const glm::vec3& rest_mm) {
    const float left = ramp(-kSideBlendMm, kSideBlendMm, rest_mm.x);
    const auto at = [&](float Concerns::*c) { return glm::mix(form.right.*c, form.left.*c, left); };
    Place place;
    place.mirrored = {std::fabs(rest_mm.x), rest_mm.y, rest_mm.z};
    place.concerns = {at(&Concerns::laxity), at(&Concerns::nasolabial),  at(&Concerns::marionette),
                      at(&Concerns::jowl),   at(&Concerns::tear_trough), at(&Concerns::submental)};
    return place;
}

glm::vec3 without_asymmetry(const Unevenness& uneven, const glm::vec3& p_mm) {
    const float chin = bell(p_mm.y + 80.0f, 35.0f) * bell(p_mm.z - 80.0f, 45.0f);
    const float nose = bell(p_mm.y + 10.0f, 14.0f) * bell(p_mm.z - 105.0f, 14.0f);
    const float jaw = bell(p_mm.y + 55.0f, 30.0f) * bell(p_mm.z - 12.0f, 40.0f);
    const float front = bell(p_mm.z - 80.0f, 30.0f);
    const float from_midline = p_mm.x / 40.0f;
    glm::vec3 rest = p_mm;
    rest.x -= uneven.chin_x * chin + uneven.nose_x * nose + uneven.jaw_x * jaw;
    rest.y -= from_midline * front *
              (uneven.mouth_cant * bell(p_mm.y + 45.0f, 16.0f) + uneven.brow_cant * bell(p_mm.y - 32.0f, 13.0f) +
               uneven.lid_cant * bell(p_mm.y - 10.0f, 12.0f));
    return rest;
}

}  // namespace skin

SkinField::SkinField(const HeadParameters& parameters) : parameters_(parameters) {
    validate(parameters);
    form_ = std::make_shared<const skin::Form>(parameters);
}

float SkinField::value_mm(const glm::vec3& p_mm) const { return skin::value_at_rest(*form_, rest_mm(p_mm)); }

float SkinField::large_forms_mm(const glm::vec3& p_mm) const {
    const skin::Place at = skin::place_at(*form_, rest_mm(p_mm));
    return skin::with_cheeks_and_chin(skin::with_neck(skin::base_head(*form_, at.mirrored), *form_, at), *form_, at);
}

glm::vec3 SkinField::gradient(const glm::vec3& p_mm, float step_mm) const {
    constexpr glm::vec3 k0(1.0f, -1.0f, -1.0f), k1(-1.0f, -1.0f, 1.0f), k2(-1.0f, 1.0f, -1.0f), k3(1.0f, 1.0f, 1.0f);
    return (k0 * value_mm(p_mm + step_mm * k0) + k1 * value_mm(p_mm + step_mm * k1) +
            k2 * value_mm(p_mm + step_mm * k2) + k3 * value_mm(p_mm + step_mm * k3)) /
           (4.0f * step_mm);
}

glm::vec3 SkinField::rest_mm(const glm::vec3& p_mm) const { return skin::without_asymmetry(form_->uneven, p_mm); }

glm::vec3 SkinField::from_rest_mm(const glm::vec3& rest) const {
    constexpr int kRounds =
        8;  // each shrinks the error by the slope of the warp, below 0.1: far below float resolution
    glm::vec3 p = rest;
    for (int i = 0; i < kRounds; ++i) p += rest - rest_mm(p);
    return p;
}

}  // namespace sim
