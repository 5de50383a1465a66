#include <algorithm>
#include <cmath>

#include "sim/instruments/gauge.hpp"
#include "sim/instruments/ligament_law.hpp"
#include "sim/instruments/resistance.hpp"
#include "sim/instruments/track.hpp"

/// One millisecond of hand against resistance. The hand is a spring along the shaft: it moves as told, the tip follows
/// as far as the resistance lets it, and what is left over is the force in the hand. When something gives way, the tip
/// travels until the spring has eased: a plunge.

namespace sim {

namespace {

constexpr double kStrideM = 0.05 * kMm;   // the tip goes in strides of this at most; forces change little within one
constexpr double kFastestM = 1.0 * kMm;   // in one sub-step, 1 m/s: a plunge takes a few of them; assumed
constexpr double kSameHoleM = 2.0 * kMm;  // a tip this near an opening finds it; assumed
constexpr double kRoundingM = 1e-9;       // many small motions that add up to none
constexpr double kOutM = 0.2 * kMm;       // what a hand at the skin has not quite drawn out falls out; assumed
constexpr int kRestSubSteps = 50;         // a hand that rests for 50 ms lets the shaft stick; assumed
constexpr double kPlungeM = 1.5 * kMm;    // less travel beyond the hand's own is not called a plunge; assumed
constexpr double kRunningShare = 0.01;    // of each sub-step in the running force: about 100 ms; assumed
constexpr double kClearOfEntryM = 8.0 * kMm;  // the skin's own resistance at the hole is not a warning; assumed
constexpr double kLeastRunningN = 0.25;       // below this no doubling is called; assumed

int hole_for(const State& s, double diameter_m) {
    for (std::size_t i = 0; i < s.holes.size(); ++i)
        if (glm::length(s.holes[i].at.position_m - s.hands.entry.position_m) <= kSameHoleM &&
            s.holes[i].diameter_m + 0.05 * kMm >= diameter_m)
            return static_cast<int>(i);
    return -1;
}

double nearest_hole_m(const State& s) {
    double best = 1.0;
    for (const EntryHole& hole : s.holes)
        best = std::min(best, glm::length(hole.at.position_m - s.hands.entry.position_m));
    return best;
}

double hand_stiffness(const StepContext& context) {
    const double grip = context.instrument().tip == TipShape::bevel ? kForceParameters.needle_grip : 1.0;
    return grip * context.model.scenario.mechanics.hand_stiffness_n_per_m;
}

void enter(const StepContext& context) {
    State& s = context.state;
    s.in_skin = true;
    s.inserted_m = 0.0;
    s.tip_m = s.hands.entry.position_m;
    s.tip_heading = shaft_direction(s.hands);
    s.force = {};
    s.ligament = {};
    s.friction_sum_n = 0.0;
    s.press_m = 0.0;
    s.aim_turn_rad = s.withdrawn_m = 0.0;
}

/// A tip on closed skin: it presses it in; a bevel goes through at its puncture force, a blunt tip never does.
void press_skin(const StepContext& context) {
    State& s = context.state;
    const ShaftKind shaft = shaft_kind(context.instrument());
    const double k = hand_stiffness(context);
    const double reach_m = std::max(0.0, s.hands.hand_m);
    // the skin and the hand's spring share the way: solve k (reach - press) = a press + b press^2
    const double tight_n_per_m = tight_skin_n_per_m(s.hand, s.hands.entry.position_m);
    const double a = kForceParameters.skin_linear_n_per_m + tight_n_per_m + k;
    const double b = kForceParameters.skin_quadratic_n_per_m2;
    s.press_m = 2.0 * k * reach_m / (a + std::sqrt(a * a + 4.0 * b * k * reach_m));
    s.force.hand_n = s.force.tip_n = skin_indentation_n(kForceParameters, s.press_m) + tight_n_per_m * s.press_m;
    if (shaft.tip == TipShape::blunt) {
        if (!s.refused_here && reach_m > kMm) {
            context.note(EventKind::entry_refused, s.hands.entry.position_m, -1, {nearest_hole_m(s), 0, 0, 0});
            s.refused_here = true;
        }
        // nobody pushes a blunt tip harder into closed skin than this
        const double most_m = skin_indentation_m(kForceParameters, kForceParameters.blunt_refused_n);
        s.hands.hand_m = std::min(s.hands.hand_m, most_m + kForceParameters.blunt_refused_n / k);
        return;
    }
    const double puncture_n = skin_puncture_n(kForceParameters, shaft).value();
    if (s.force.hand_n < puncture_n) return;
    const double angle_rad =
        std::asin(std::clamp(-glm::dot(shaft_direction(s.hands), s.hands.entry.normal), -1.0, 1.0));
    const double force_n = s.force.hand_n;
    enter(context);
    s.puncture_rad = angle_rad;
    s.pilot_deepest_m = 0.0;
    s.force.sliding = Sliding::inwards;
    context.note(EventKind::skin_punctured, s.hands.entry.position_m, -1, {angle_rad, force_n, 0, 0});
}

void meet_ligaments(const StepContext& context, double by_m) {
    State& s = context.state;
    if (s.ligament.ligament >= 0) {
        s.ligament.stretch_m += by_m;
        return;
    }
    for (const int index : s.ligaments_near) {
        if (std::find(s.ligaments_passed.begin(), s.ligaments_passed.end(), index) != s.ligaments_passed.end())
            continue;
        const Ligament& ligament = context.model.anatomy->ligaments()[static_cast<std::size_t>(index)];
        const auto hit = crossing(ligament, s.tip_m, s.tip_m + s.tip_heading * by_m);
        if (!hit) continue;
        s.ligament = {index, (1.0 - *hit) * by_m, 0.0, 0.0, s.tip_m + s.tip_heading * (*hit * by_m), s.tip_heading};
        context.note(EventKind::ligament_met, s.ligament.met_m, index, {s.force.hand_n, 0, 0, 0});
        return;
    }
}

void ligament_over(State& s) {
    s.ligaments_passed.push_back(s.ligament.ligament);
    s.ligament = {};
}

/// The ligament has parted under the tip, or the tip has slid round it. @return whether it has, and resists no more
bool settle_ligament(const StepContext& context, const Resistance& r) {
    State& s = context.state;
    if (s.ligament.ligament < 0) return false;
    s.ligament.work_j = std::max(s.ligament.work_j, r.ligament_work_j);
    s.ligament.peak_n = std::max(s.ligament.peak_n, r.ligament_n);
    const Ligament& ligament = context.model.anatomy->ligaments()[static_cast<std::size_t>(s.ligament.ligament)];
    if (r.ligament_parted) {
        const double peak_n = ligament_strength_n(kForceParameters, shaft_kind(context.instrument()), ligament);
        const double plunge_m =
            std::max(0.0, s.hands.hand_m - s.inserted_m - (r.tip_n + r.friction_n) / hand_stiffness(context));
        context.note(EventKind::ligament_parted, s.tip_m, s.ligament.ligament,
                     {peak_n, r.ligament_work_j, plunge_m, 0});
        ligament_over(s);
        return true;
    }
    const Vec3 moved = s.tip_m - s.ligament.met_m;
    const double sideways_m = glm::length(moved - s.ligament.heading * glm::dot(moved, s.ligament.heading));
    if (!skirts(ligament, sideways_m)) return false;
    context.note(EventKind::ligament_skirted, s.tip_m, s.ligament.ligament,
                 {s.ligament.peak_n, s.ligament.work_j, 0, 0});
    ligament_over(s);
    return true;
}

/// Note what the tip presses on. @return whether a wall or the lining has given way, and resists no more
bool settle_walls(const StepContext& context, const Resistance& r) {
    State& s = context.state;
    bool gave_way = false;
    if (r.wall >= 0) {
        auto known =
            std::find_if(s.walls.begin(), s.walls.end(), [&](const WallContact& w) { return w.structure == r.wall; });
        if (known == s.walls.end()) {
            context.note(EventKind::wall_touched, s.tip_m, r.wall, {r.wall_n, 0, 0, 0});
            known = s.walls.insert(s.walls.end(), WallContact{r.wall, 0.0, false});
        }
        known->peak_n = std::max(known->peak_n, r.wall_n);
        if (r.wall_breached && !known->breached) {
            known->breached = gave_way = true;
            context.note(EventKind::wall_breached, s.tip_m, r.wall, {known->peak_n, 0, 0, 0});
        }
    }
    if (r.floor_n > 0.0 && !s.floor_noted) {
        s.floor_noted = true;
        context.note(EventKind::floor_touched, s.tip_m, static_cast<int>(r.at.floor), {r.floor_n, 0, 0, 0});
    }
    if (r.lining_breached && !s.lining_noted) {
        s.lining_noted = gave_way = true;
        context.note(EventKind::lining_breached, s.tip_m, static_cast<int>(FloorKind::lining), {r.floor_n, 0, 0, 0});
    }
    return gave_way;
}

/// The next stride: not past the point at which a ligament parts, so that its whole strength is felt first.
double stride_to_peak(const StepContext& context) {
    const LigamentContact& contact = context.state.ligament;
    if (contact.ligament < 0) return kStrideM;
    const double whole_m = context.model.anatomy->ligaments()[static_cast<std::size_t>(contact.ligament)].stretch_m;
    const double left_m = (whole_m - contact.stretch_m) - 1e-9 * whole_m;
    return left_m > 1e-9 * whole_m ? std::min(kStrideM, left_m) : kStrideM;
}

/// Let the tip advance until the resistance holds the hand's spring. @return way made
/// @param here resistance at the tip; brought up to date
double slide_in(const StepContext& context, Resistance& here) {
    State& s = context.state;
    const double k = hand_stiffness(context);
    double made_m = 0.0;
    const double limit_m = std::min(kFastestM, context.instrument().length_m - s.inserted_m);
    while (made_m < limit_m) {
        const double stride_m = std::min(stride_to_peak(context), limit_m - made_m);
        const Resistance next = resistance(context, stride_m);
        const double spare_n = k * (s.hands.hand_m - s.inserted_m - stride_m) - next.inwards_n();
        double by_m = stride_m;
        if (spare_n < 0.0) {
            // it comes to rest within the stride: one secant step on the straight line between both ends
            const double here_n = k * (s.hands.hand_m - s.inserted_m) - here.inwards_n();
            if (!(here_n > 0.0)) break;
            by_m = stride_m * here_n / (here_n - spare_n);
        }
        if (!(by_m > 1e-12)) break;
        meet_ligaments(context, by_m);
        advance_tip(context, by_m);
        if (!s.track) s.inserted_m += by_m;
        s.friction_sum_n +=
            friction_per_length(kForceParameters, shaft_kind(context.instrument()), next.at.layer, Motion::inwards)
                .sliding_n_per_m *
            by_m;
        here = resistance(context, 0.0);
        const bool ligament_gone = settle_ligament(context, here);
        const bool gave_way = settle_walls(context, here);
        if (ligament_gone || gave_way) here = resistance(context, 0.0);
        made_m += by_m;
        if (spare_n < 0.0) break;
    }
    return made_m;
}

double slide_out(const StepContext& context, double sliding_out_n) {
    State& s = context.state;
    const double k = hand_stiffness(context);
    // a drawn-back shaft rests where the hand's pull equals what rubs
    const double rest_m = std::max(0.0, s.hands.hand_m + sliding_out_n / k);
    const double by_m = std::clamp(s.inserted_m - rest_m, 0.0, kFastestM);
    if (!(by_m > 0.0)) return 0.0;
    if (s.inserted_m > 0.0) s.friction_sum_n *= std::max(0.0, 1.0 - by_m / s.inserted_m);
    retract_tip(context, by_m);
    s.withdrawal_turn_rad = std::max(s.withdrawal_turn_rad, s.aim_turn_rad);
    if (s.ligament.ligament < 0) return by_m;
    s.ligament.stretch_m -= by_m;
    // eased to half of what it had: the learner has stopped and drawn back
    const Resistance now = resistance(context, 0.0);
    if (s.ligament.stretch_m > 0.0 && now.ligament_n > 0.5 * s.ligament.peak_n) return by_m;
    context.note(EventKind::ligament_stopped, s.ligament.met_m, s.ligament.ligament,
                 {s.ligament.peak_n, s.ligament.work_j, 0, 0});
    s.ligament = {};
    return by_m;
}

/// Count a burst of travel beyond what the hand did itself, and name it when it is over.
void watch_for_plunge(const StepContext& context, double made_m, double push_m, double force_before_n) {
    State& s = context.state;
    const double beyond_m = made_m - std::max(0.0, push_m);
    if (beyond_m > 0.02 * kMm) {
        if (s.force.burst_m == 0.0) s.force.burst_from_n = force_before_n;
        s.force.burst_m += beyond_m;
        return;
    }
    if (s.track && s.force.burst_m > kPlungeM)
        context.note(EventKind::plunge, s.tip_m, -1, {s.force.burst_m, s.force.burst_from_n, 0, 0});
    s.force.burst_m = 0.0;
}

void watch_resistance(const StepContext& context, double made_m) {
    State& s = context.state;
    ShaftForce& f = s.force;
    const double floor_n = std::max(kLeastRunningN, f.running_n);
    if (!f.doubled && f.hand_n > 2.0 * floor_n && s.track && s.inserted_m > kClearOfEntryM) {
        f.doubled = true;
        context.note(EventKind::resistance_doubled, s.tip_m, -1, {f.hand_n, f.running_n, 0, 0});
    }
    if (f.hand_n < 1.5 * floor_n) f.doubled = false;
    const bool free = made_m > 0.0 && s.inserted_m > kClearOfEntryM && s.ligament.ligament < 0 && !f.doubled;
    if (free) f.running_n += (f.hand_n - f.running_n) * (f.running_n == 0.0 ? 1.0 : kRunningShare);
}

void leave_skin(const StepContext& context) {
    State& s = context.state;
    if (s.track) close_track(context);
    if (context.instrument().tip == TipShape::bevel) {
        const LayerPoint at = context.model.anatomy->layers_at(s.hands.entry.position_m);
        const double diameter_m = gauge(context.instrument().gauge).outer_m;
        context.note(EventKind::entry_opened, s.hands.entry.position_m, static_cast<int>(s.holes.size()),
                     {s.puncture_rad, s.pilot_deepest_m, at.bottom_of(Layer::superficial_fat), diameter_m});
        s.holes.push_back({s.hands.entry, diameter_m, s.pilot_deepest_m, s.puncture_rad});
    }
    s.in_skin = false;
    s.tip_layer = Layer::outside;
    s.inserted_m = 0.0;
    s.force = {};
    s.ligament = {};
    s.tip_m = s.hands.entry.position_m;
    s.tent_m = s.tent_width_m = s.hands.lift_n = 0.0;
}

/// The shaft in the tissue: which way it slides, or that it sticks.
void slide(const StepContext& context, double push_m) {
    State& s = context.state;
    ShaftForce& f = s.force;
    const ForceParameters& p = kForceParameters;
    f.still_sub_steps = push_m == 0.0 ? f.still_sub_steps + 1 : 0;
    if (f.still_sub_steps > kRestSubSteps) f.sliding = Sliding::stuck;

    Resistance here = resistance(context, 0.0);
    const double pull_n = hand_stiffness(context) * (s.hands.hand_m - s.inserted_m);
    const double out_n = here.friction_n * p.withdrawal_ratio;
    const bool stuck_in = f.sliding != Sliding::inwards;
    const bool stuck_out = f.sliding != Sliding::outwards;
    const double start_in_n = here.inwards_n() + (stuck_in ? here.friction_n * (p.breakaway_ratio_in - 1.0) : 0.0);
    const double start_out_n = out_n * (stuck_out ? p.breakaway_ratio_out : 1.0);

    double made_m = 0.0;
    if (pull_n > start_in_n) {
        f.sliding = Sliding::inwards;
        made_m = slide_in(context, here);
        s.travel_since_row_m += made_m;
    } else if (pull_n < -start_out_n) {
        f.sliding = Sliding::outwards;
        s.travel_since_row_m += slide_out(context, out_n);
        here = resistance(context, 0.0);
    }
    watch_for_plunge(context, made_m, push_m, pull_n);

    f.tip_n = here.tip_n;
    f.friction_n = here.friction_n;
    f.ligament_n = here.ligament_n;
    f.hand_n = hand_stiffness(context) * (s.hands.hand_m - s.inserted_m);
    watch_resistance(context, made_m);
}

}  // namespace

void force(const StepContext& context, double push_m) {
    State& s = context.state;
    if (s.hands.instrument < 0 || !s.hands.entry_chosen) return;
    const InstrumentSpec& instrument = context.instrument();
    // the hand stops at the hub, and is out of reach of the skin once it has drawn the tip well clear
    s.hands.hand_m = std::clamp(s.hands.hand_m + push_m, -20.0 * kMm, instrument.length_m + 20.0 * kMm);
    if (s.in_skin) {
        slide(context, push_m);
        if (s.inserted_m <= kOutM && s.hands.hand_m <= kRoundingM) leave_skin(context);
        return;
    }
    if (!(s.hands.hand_m > kRoundingM)) {
        s.press_m = 0.0;
        s.force.hand_n = s.force.tip_n = 0.0;
        return;
    }
    const int hole = instrument.tip == TipShape::blunt ? hole_for(s, gauge(instrument.gauge).outer_m) : -1;
    if (hole < 0) {
        press_skin(context);
        return;
    }
    s.hands.entry = s.holes[static_cast<std::size_t>(hole)].at;
    enter(context);
    open_track(context);
    slide(context, push_m);
}

}  // namespace sim
