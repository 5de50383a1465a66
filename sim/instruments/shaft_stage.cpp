#include <algorithm>
#include <array>
#include <cmath>

#include "sim/instruments/force_parameters.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/instruments/shaft_beam.hpp"
#include "sim/instruments/track.hpp"

/// Where the shaft lies: straight for a rigid one, else in equilibrium between the hand that clamps its hub, the skin
/// at the entry and the tissue along the way that the tip has made. The hand goes along with the entry where the other
/// hand moves the skin there (assumed).

namespace sim {

namespace {

constexpr double kOutsideNodeM = 5.0 * kMm;  // spacing of beam nodes in the air: nothing acts on them there
constexpr double kInsideNodeM = 1.0 * kMm;
constexpr double kLeastInsideM = 0.1 * kMm;
constexpr ForceParameters kForces{};

/// Axis of the hand's clamp and the two directions across it: `up` towards the skin's outside, `side` beside it.
struct HandFrame {
    Vec3 origin{}, along{}, up{}, side{};
};

HandFrame frame_of(const Hands& hands) {
    HandFrame frame;
    frame.origin = hands.entry.position_m;
    frame.along = shaft_direction(hands);
    const Vec3 normal = hands.entry.normal;
    frame.up = normal - frame.along * glm::dot(normal, frame.along);
    // looking straight down the shaft: any direction across will do, take the planned one
    if (glm::length(frame.up) < 1e-6) frame.up = hands.along - frame.along * glm::dot(hands.along, frame.along);
    frame.up = glm::normalize(frame.up);
    frame.side = glm::cross(frame.along, frame.up);
    return frame;
}

struct BeamNodes {
    std::array<BeamNode, kBeamNodes> up{}, side{};
    std::size_t count = 0;
    std::size_t entry = 0;  ///< index of the node in the entry hole

    void add(double along_m, double up_spring, double side_spring, double up_m, double side_m) {
        up[count] = {along_m, up_spring, up_m, 0.0};
        side[count] = {along_m, side_spring, side_m, 0.0};
        ++count;
    }
};

void lay_nodes(const State& s, const HandFrame& frame, double outside_m, BeamNodes& nodes) {
    const int free = std::max(1, static_cast<int>(std::ceil(outside_m / kOutsideNodeM)));
    for (int i = 0; i < free; ++i) nodes.add(outside_m * i / free, 0.0, 0.0, 0.0, 0.0);
    nodes.entry = nodes.count;
    nodes.add(outside_m, kForces.entry_stiffness_n_per_m, kForces.entry_stiffness_n_per_m, 0.0, 0.0);
    // a tip that has hardly entered is the entry's own node: a beam element must not be shorter than this
    if (!s.track || s.inserted_m < kLeastInsideM) return;
    const Track& track = *s.track;
    const int inside = static_cast<int>(std::ceil(s.inserted_m / kInsideNodeM));
    for (int i = 1; i <= inside; ++i) {
        const double arc_m = s.inserted_m * i / inside;
        const double length_m = s.inserted_m / inside * (i == inside ? 0.5 : 1.0);
        const Vec3 offset = way_at(track, arc_m) + moved_by_hand(s.hand, arc_m) - frame.origin;
        const auto index = std::min(track.nodes.size() - 1, static_cast<std::size_t>(arc_m / kTrackNodeM));
        const TrackNode& tissue = track.nodes[index];
        nodes.add(outside_m + arc_m, tissue.normal_stiffness_pa * length_m, tissue.tangent_stiffness_pa * length_m,
                  glm::dot(offset, frame.up), glm::dot(offset, frame.side));
    }
}

void bend(const StepContext& context, const HandFrame& frame, double outside_m) {
    State& s = context.state;
    BeamNodes nodes;
    lay_nodes(s, frame, outside_m, nodes);
    nodes.up[nodes.count - 1].load_n += s.hands.lift_n;
    const double stiffness = gauge(context.instrument().gauge).bending_stiffness_n_m2();
    BeamShape up;
    BeamShape side;
    if (!solve_beam(stiffness, {nodes.up.data(), nodes.count}, up) ||
        !solve_beam(stiffness, {nodes.side.data(), nodes.count}, side)) {
        ++context.report.faults.non_finite;
        return;
    }
    for (std::size_t i = 0; i < nodes.count; ++i) {
        const double inside_m = nodes.up[i].along_m - outside_m;
        // what the other hand moves is taken back: track and layers lie in the reference shape
        s.shaft_m.push_back(frame.origin + frame.along * inside_m + frame.up * up.offset_m[i] +
                            frame.side * side.offset_m[i] -
                            (inside_m > 0.0 ? moved_by_hand(s.hand, inside_m) : Vec3{}));
    }
    const std::size_t tip = nodes.count - 1;
    const Vec3 heading = glm::normalize(frame.along + frame.up * up.slope[tip] + frame.side * side.slope[tip]);
    s.tip_heading = glm::normalize(heading - stretched_by_hand(s.hand, s.inserted_m));
}

}  // namespace

void shaft(const StepContext& context) {
    State& s = context.state;
    s.shaft_m.clear();
    if (s.hands.instrument < 0 || !s.hands.entry_chosen) return;
    const HandFrame frame = frame_of(s.hands);
    // the hub is where the hand holds it, less what the hand's own spring has given
    const double outside_m = std::max(kMm, context.instrument().length_m - s.inserted_m);
    if (s.track && !rigid(context.model)) {
        bend(context, frame, outside_m);
        return;
    }
    if (s.track && s.aim_turn_rad > 0.0 && s.inserted_m > 0.0) sweep_rigid_track(context);
    s.tip_heading = frame.along;
    s.shaft_m = {frame.origin - frame.along * outside_m, frame.origin};
    if (s.in_skin) s.shaft_m.push_back(frame.origin + frame.along * s.inserted_m);
    if (s.in_skin && !s.track) s.tip_m = frame.origin + frame.along * s.inserted_m;  // a pilot stays straight
}

}  // namespace sim
