#include <algorithm>
#include <cmath>

#include "sim/instruments/gauge.hpp"
#include "sim/instruments/resistance.hpp"
#include "sim/instruments/track.hpp"

/// What the tip has come to: layers crossed, skin from inside, withdrawals; and what is near enough for the force stage
/// to look at in the next step.

namespace sim {

namespace {

constexpr double kNearM = 12.0 * kMm;         // farther than a tip can plunge in one step
constexpr double kClearOfEntryM = 8.0 * kMm;  // the skin met beyond this is the skin from inside; assumed
constexpr double kWithdrawalM = 5.0 * kMm;    // drawn back by more than this, a withdrawal has begun; assumed

void look_around(const StepContext& context) {
    State& s = context.state;
    std::vector<Clearance> found;
    context.model.anatomy->clearances(s.tip_m, s.tip_m, kNearM, found);
    s.structure_near = !found.empty();
    s.ligaments_near.clear();
    const auto ligaments = context.model.anatomy->ligaments();
    for (std::size_t i = 0; i < ligaments.size(); ++i)
        if (distance_to(ligaments[i], s.tip_m) < kNearM) s.ligaments_near.push_back(static_cast<int>(i));
}

void note_skin(const StepContext& context, const LayerPoint& at) {
    State& s = context.state;
    if (!s.track || s.skin_noted || s.inserted_m < kClearOfEntryM) return;
    if (at.depth_m > 0.0) return;
    s.skin_noted = true;
    context.note(EventKind::skin_broken_through, s.tip_m, s.track->index, {s.force.hand_n, 0, 0, 0});
}

void note_withdrawal(const StepContext& context) {
    State& s = context.state;
    if (!s.track || s.track->withdrawing || !(s.withdrawn_m > kWithdrawalM)) return;
    s.track->withdrawing = true;
    context.note(EventKind::withdrawal_began, s.track->end_m, s.track->index, {s.track->farthest_m, 0, 0, 0});
}

/// How far the skin over the tip stands out, and the note that somebody looked.
void tent(const StepContext& context) {
    State& s = context.state;
    s.tent_m = s.tent_width_m = 0.0;
    if (!s.track) return;
    const TrackNode& node =
        s.track->nodes[std::min(s.track->nodes.size() - 1, static_cast<std::size_t>(s.inserted_m / kTrackNodeM))];
    s.tent_m = s.hands.lift_n * node.tent_per_force_m_per_n;
    s.tent_width_m = s.hands.lift_n > 0.0 ? node.tent_width_m : 0.0;
    if (s.hands.lift_n > 0.0 && !s.lift_noted)
        context.note(EventKind::tip_lifted, s.tip_m, s.track->index, {s.tent_m, s.tent_width_m, 0, 0});
    s.lift_noted = s.hands.lift_n > 0.0;
}

}  // namespace

void structures(const StepContext& context) {
    State& s = context.state;
    if (!s.in_skin) return;
    const LayerPoint at = context.model.anatomy->layers_at(s.tip_m);
    if (at.layer != s.tip_layer) {
        context.note(EventKind::layer_crossed, s.tip_m, static_cast<int>(at.layer), {at.depth_m, s.force.hand_n, 0, 0});
        s.tip_layer = at.layer;
    }
    if (context.instrument().tip == TipShape::bevel) s.pilot_deepest_m = std::max(s.pilot_deepest_m, at.depth_m);
    s.friction_sum_n = friction_along(context);
    note_skin(context, at);
    note_withdrawal(context);
    tent(context);
    look_around(context);
}

}  // namespace sim
