#include <algorithm>
#include <cmath>

#include "sim/stages.hpp"

/// The tail cut at the skin. What is drawn out then slips back when the hand lets go, and skin that was pressed down
/// rises over the end: by so much it lies buried.

namespace sim {

namespace {

constexpr double kToldM = 0.05 * kMm;  // the end has come to lie elsewhere

/// How far the skin at the thread's entry is pressed in.
double pressed_in_m(const State& s, const HeldThread& thread) {
    const bool presses = s.hand.placed && s.hand.grip == Grip::press && s.hand.settled_n > 0.0;
    const bool there = presses && glm::length(s.hand.at.position_m - thread.ramp_m.front()) < kPressReachM;
    return there ? s.hand.skin_moved_m : 0.0;
}

Vec3 ramp_at(const HeldThread& thread, double along_m) {
    const double at = std::clamp(along_m / kRampStepM, 0.0, static_cast<double>(thread.ramp_m.size() - 1));
    const auto low = std::min(static_cast<std::size_t>(at), thread.ramp_m.size() - 2);
    const double t = at - static_cast<double>(low);
    return thread.ramp_m[low] + t * (thread.ramp_m[low + 1] - thread.ramp_m[low]);
}

}  // namespace

void settle_tail(const StepContext& context, HeldThread& thread) {
    if (!thread.trimmed() || thread.out) return;
    const double along_m = *thread.cut_m - thread.tail_out_m;
    const double depth_m = along_m > 0.0 ? context.model.anatomy->layers_at(ramp_at(thread, along_m)).depth_m : along_m;
    if (std::abs(depth_m - thread.tail_depth_m) < kToldM) return;
    thread.tail_depth_m = depth_m;
    context.note(EventKind::tail_settled, thread.ramp_m.front(), thread.number, {depth_m, along_m, 0, 0});
}

void trim(const StepContext& context, int number) {
    State& s = context.state;
    HeldThread& thread = s.threads[static_cast<std::size_t>(number - 1)];
    const double pressed_m = pressed_in_m(s, thread);
    thread.cut_m = thread.tail_out_m + pressed_m;
    context.note(EventKind::trimmed, thread.ramp_m.front(), number, {*thread.cut_m, thread.tail_out_m, pressed_m, 0});
    // nobody can hold what was cut
    thread.pull_n = thread.peak_n = 0.0;
    thread.tail_depth_m = 0.0;
    settle_tail(context, thread);
}

}  // namespace sim
