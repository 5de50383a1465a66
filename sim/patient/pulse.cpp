#include "sim/patient/pulse.hpp"

#include <cmath>

#include "sim/procedure/mark_rules.hpp"
#include "sim/stages.hpp"

namespace sim {

namespace {

// what an artery lies on moves little; where none is near, so deep beneath the finger: assumed
constexpr double kBeneathM = 8.0 * kMm;
constexpr double kUnknown = -1.0;

double back_rad(Chair chair) { return (chair == Chair::reclined ? kReclinedDegrees : 90.0) * kPi / 180.0; }

/// Nearest place of an artery's axis, or some tissue beneath the finger.
Vec3 beneath(const Anatomy& anatomy, const SkinPoint& finger) {
    constexpr double kNearM = 20.0 * kMm;
    Vec3 nearest_m = finger.position_m - kBeneathM * finger.normal;
    double least_m = kNearM;
    for (const Structure& one : anatomy.structures()) {
        if (one.kind != StructureKind::artery) continue;
        for (const StructureNode& node : one.line) {
            const double away_m = glm::length(node.position_m - finger.position_m);
            if (away_m < least_m) least_m = away_m, nearest_m = node.position_m;
        }
    }
    return nearest_m;
}

/// @param slid_m of the skin over what lies beneath @param known whether the tissue has told it
void tell(const StepContext& context, const PulseFeel& feel, const Vec3& slid_m, bool known) {
    const int artery = pulse_under(*context.model.anatomy, feel.at.position_m + slid_m);
    context.note(EventKind::deed_done, feel.at.position_m, static_cast<int>(Deed::feel_pulse),
                 {known ? glm::length(slid_m) : kUnknown, artery >= 0 ? 1.0 : 0.0, static_cast<double>(artery),
                  static_cast<double>(feel.chair)});
}

}  // namespace

void feel_pulse(const StepContext& context) {
    State& s = context.state;
    const PulseFeel feel{s.hand.at, s.visit.chair};
    if (feel.chair == Chair::upright) return tell(context, feel, {}, true);
    s.visit.feels.push_back(feel);
}

ThreadRequest pulse_request(const StepContext& context) {
    const PulseFeel& feel = context.state.visit.feels.front();
    const double back = back_rad(feel.chair);
    ThreadRequest out;
    out.gravity_change_m_per_s2 = Vec3(0.0, 1.0 - std::cos(back), -std::sin(back)) * kGravityMPerS2;
    out.read_m = {feel.at.position_m};
    out.inside_m = {beneath(*context.model.anatomy, feel.at)};
    return out;
}

bool asks_pulse(const ThreadRequest& request) { return request.gravity_change_m_per_s2 != Vec3{}; }

void take_pulse(const StepContext& context, const ThreadAnswer& answer) {
    auto& feels = context.state.visit.feels;
    const PulseFeel feel = feels.front();
    feels.erase(feels.begin());
    const bool known = answer.trouble == ThreadTrouble::none && answer.moved_m.size() == 2;
    tell(context, feel, known ? answer.moved_m[0] - answer.moved_m[1] : Vec3{}, known);
}

}  // namespace sim
