#include <algorithm>
#include <cmath>

#include "sim/patient/patient.hpp"
#include "sim/stages.hpp"

/// Gate and hands: what a command may do, and what it does to what the hands hold.

namespace sim {

namespace {

double radians(std::int64_t millidegrees) { return static_cast<double>(millidegrees) * (kPi / 180'000.0); }
double newtons(std::int64_t millinewtons) { return static_cast<double>(millinewtons) * 1e-3; }
double metres(std::int64_t micrometres) { return static_cast<double>(micrometres) * 1e-6; }

Vec3 place_of(const Command& command) {
    return {metres(command.value[0]), metres(command.value[1]), metres(command.value[2])};
}

/// Of the planned vectors the one that is nearest to a place.
/// @param how_far_m of a vector
template <typename HowFar>
const PlannedVector& nearest(const Model& model, const HowFar& how_far_m) {
    const auto& plan = model.scenario.plan;
    return *std::min_element(plan.begin(), plan.end(), [&](const PlannedVector& a, const PlannedVector& b) {
        return how_far_m(a) < how_far_m(b);
    });
}

/// A unit vector in the skin at the entry that points to the end of the planned vector.
Vec3 along_the_skin(const SkinPoint& entry, const Vec3& end_m) {
    Vec3 along = end_m - entry.position_m;
    along -= entry.normal * glm::dot(along, entry.normal);
    if (glm::length(along) < 1e-6) {
        // the end lies under the entry: any direction in the skin will do, take the one nearest to down
        along = Vec3(0.0, -1.0, 0.0) + entry.normal * entry.normal.y;
        if (glm::length(along) < 1e-6) along = Vec3(1.0, 0.0, 0.0);
    }
    return glm::normalize(along);
}

void choose_entry(const StepContext& context, const Command& command) {
    Hands& h = context.state.hands;
    h.entry = context.model.anatomy->nearest_skin(place_of(command));
    const PlannedVector& vector =
        nearest(context.model, [&](const PlannedVector& v) { return glm::length(v.entry_m - h.entry.position_m); });
    h.along = along_the_skin(h.entry, vector.end_m);
    h.entry_chosen = true;
    h.hand_m = 0.0;
    context.state.refused_here = false;
    context.note(EventKind::entry_chosen, h.entry.position_m, -1,
                 {glm::length(vector.entry_m - h.entry.position_m), 0, 0, 0});
}

void lay_hand(const StepContext& context, const Command& command) {
    SecondHand& hand = context.state.hand;
    hand.at = context.model.anatomy->nearest_skin(place_of(command));
    const Vec3 at_m = hand.at.position_m;
    const PlannedVector& vector = nearest(context.model, [&](const PlannedVector& v) {
        const Vec3 chord = v.end_m - v.entry_m;
        const double t = std::clamp(glm::dot(at_m - v.entry_m, chord) / glm::dot(chord, chord), 0.0, 1.0);
        return glm::length(v.entry_m + t * chord - at_m);
    });
    hand.along = along_the_skin({at_m, hand.at.normal}, at_m + (vector.end_m - vector.entry_m));
    hand.placed = true;
    hand.asked.reset();
    let_go(hand);
}

/// Point the shaft anew and keep count of how far it turned.
void turn(State& s, double yaw_rad, double pitch_rad) {
    const Vec3 before = shaft_direction(s.hands);
    s.hands.yaw_rad = yaw_rad;
    s.hands.pitch_rad = pitch_rad;
    if (!s.in_skin) return;
    const Vec3 after = shaft_direction(s.hands);
    s.aim_turn_rad += std::atan2(glm::length(glm::cross(before, after)), glm::dot(before, after));
}

}  // namespace

Vec3 shaft_direction(const Hands& hands) {
    const Vec3 across = glm::cross(hands.entry.normal, hands.along);
    const Vec3 flat = std::cos(hands.yaw_rad) * hands.along + std::sin(hands.yaw_rad) * across;
    return std::cos(hands.pitch_rad) * flat - std::sin(hands.pitch_rad) * hands.entry.normal;
}

bool gate(const StepContext& context, const Command& command) {
    const State& s = context.state;
    if (s.finishing) return false;
    const bool in_skin = s.in_skin;
    // who has gone home is called, and that is all
    if (s.visit.discharged && command.verb != Verb::deed && command.verb != Verb::aid &&
        command.verb != Verb::moved_with && command.verb != Verb::finish)
        return false;
    switch (command.verb) {
        case Verb::take: {
            // a hand cannot swap what is still in the skin, nor pick up what was thrown away
            const auto wanted = static_cast<std::size_t>(command.value[0]);
            return !in_skin && wanted < s.in_use.size() && s.in_use[wanted];
        }
        case Verb::entry:
            return !in_skin;
        case Verb::aim:
        case Verb::push:
            return s.hands.instrument >= 0 && s.hands.entry_chosen;
        case Verb::lift:
            return in_skin;
        case Verb::discard:
            return s.hands.instrument >= 0 && !in_skin;
        case Verb::traction:
        case Verb::stroke:
        case Verb::trim: {
            const auto number = static_cast<int>(command.value[0]);
            std::optional<int> half;
            if (command.verb == Verb::stroke) half = static_cast<int>(command.value[1]);
            const auto refusal = refusal_of(context.model, s, number, half);
            if (refusal) context.note(EventKind::thread_refused, {}, number, {static_cast<double>(*refusal), 0, 0, 0});
            return !refusal;
        }
        case Verb::touch:
        case Verb::grip: {
            std::optional<ThreadRefusal> refusal;
            if (!context.model.scenario.mechanics.tissue_response)
                refusal = ThreadRefusal::rigid_tissue;
            else if (command.verb == Verb::grip && !s.hand.placed)
                refusal = ThreadRefusal::no_hand_there;
            if (refusal) context.note(EventKind::thread_refused, {}, 0, {static_cast<double>(*refusal), 0, 0, 0});
            return !refusal;
        }
        case Verb::deed:
        case Verb::inject: {
            const bool deed = command.verb == Verb::deed;
            const auto which = static_cast<Deed>(command.value[0]);
            const auto refusal = deed ? refusal_of(context.model, s, which, static_cast<int>(command.value[1]))
                                      : refusal_of_injection(context.model, s);
            if (refusal)
                context.note(EventKind::deed_refused, {}, deed ? static_cast<int>(which) : -1,
                             {static_cast<double>(*refusal), 0, 0, 0});
            return !refusal;
        }
        case Verb::decide:
        case Verb::let_pass:
            return context.model.scenario.visit.has_value();
        case Verb::probe:
            return s.hand.placed;
        case Verb::aid:
        case Verb::moved_with:
        case Verb::finish:
            return true;
    }
    return false;
}

void hands(const StepContext& context, const Command& command) {
    State& s = context.state;
    switch (command.verb) {
        case Verb::take:
            s.hands.instrument = static_cast<int>(command.value[0]);
            s.hands.hand_m = 0.0;
            s.press_m = 0.0;
            s.refused_here = false;
            context.note(EventKind::instrument_taken, s.hands.entry.position_m, s.hands.instrument);
            break;
        case Verb::entry:
            choose_entry(context, command);
            break;
        case Verb::aim:
            turn(s, radians(command.value[0]), radians(command.value[1]));
            break;
        case Verb::push:
            s.hands.push_m += metres(command.value[0]);
            break;
        case Verb::lift:
            s.hands.lift_n = newtons(command.value[0]);
            break;
        case Verb::discard:
            s.in_use[static_cast<std::size_t>(s.hands.instrument)] = false;
            context.note(EventKind::instrument_discarded, s.hands.entry.position_m, s.hands.instrument);
            s.hands.instrument = -1;
            break;
        case Verb::traction: {
            HeldThread& thread = s.threads[static_cast<std::size_t>(command.value[0] - 1)];
            thread.pull_n = newtons(command.value[1]);
            thread.peak_n = std::max(thread.peak_n, thread.pull_n);
            break;
        }
        case Verb::stroke:
            begin_stroke(context, static_cast<int>(command.value[0]), static_cast<int>(command.value[1]),
                         newtons(command.value[2]));
            break;
        case Verb::touch:
            lay_hand(context, command);
            touch_skin(context);
            break;
        case Verb::grip:
            act(*context.model.anatomy, s.hand, static_cast<Grip>(command.value[0]), radians(command.value[1]),
                newtons(command.value[2]));
            break;
        case Verb::trim:
            trim(context, static_cast<int>(command.value[0]));
            break;
        case Verb::deed:
            do_deed(context, static_cast<Deed>(command.value[0]), static_cast<int>(command.value[1]));
            break;
        case Verb::decide:
            decide(context, static_cast<Decision>(command.value[0]), static_cast<HistoryItem>(command.value[1]));
            break;
        case Verb::inject:
            inject_here(context, static_cast<double>(command.value[0]) * 1e-3);
            break;
        case Verb::let_pass:
            let_pass(context, static_cast<double>(command.value[0]));
            break;
        case Verb::aid:
            context.note(EventKind::aid_used, {}, static_cast<int>(command.value[0]),
                         {static_cast<double>(command.value[1]), 0, 0, 0});
            break;
        case Verb::probe:
            context.note(
                EventKind::probe_held, s.hand.at.position_m, -1,
                {static_cast<double>(command.value[0]) * 1e-3 * kPi / 180.0,
                 static_cast<double>(command.value[1]) * 1e-6, static_cast<double>(command.value[2]) * 1e-6, 0.0});
            break;
        case Verb::moved_with:
            context.note(EventKind::device_changed, {}, static_cast<int>(command.value[0]));
            break;
        case Verb::finish:
            if (s.track) close_track(context);
            s.finishing = true;
            context.note(EventKind::finished, s.tip_m);
            break;
    }
}

}  // namespace sim
