#include "sim/instruments/resistance.hpp"

#include <algorithm>
#include <cmath>

#include "sim/instruments/gauge.hpp"
#include "sim/instruments/ligament_law.hpp"
#include "sim/instruments/track.hpp"
#include "sim/instruments/wall_law.hpp"

namespace sim {

namespace {

constexpr double kHoleReachM = 5.0 * kMm;  // of the pilot's opening along a sloping way through the skin; assumed

/// Parting the layer at the tip, and the fascia that bulges before it.
double layer_force(const StepContext& context, const ShaftKind& shaft, const LayerPoint& at, const Vec3& p,
                   double inserted_m) {
    const ForceParameters& f = kForceParameters;
    double force_n = spreading_n(f, shaft, at.layer);
    if (at.layer == Layer::skin && inserted_m < kHoleReachM) return force_n * f.opening_grip;  // in the pilot's hole
    const double rate = glm::dot(context.state.tip_heading, context.model.anatomy->inward_at(p));
    const auto layer = static_cast<int>(at.layer);
    if (rate > 0.02 && layer >= 1 && layer < kTissueLayers) {
        const double ahead_m = (at.bottom_m[static_cast<std::size_t>(layer - 1)] - at.depth_m) / rate;
        force_n += pass_through_n(f, shaft, static_cast<Layer>(layer + 1), std::max(0.0, ahead_m));
    } else if (rate < -0.02 && layer >= 2) {
        const double ahead_m = (at.depth_m - at.bottom_m[static_cast<std::size_t>(layer - 2)]) / -rate;
        force_n += pass_through_n(f, shaft, static_cast<Layer>(layer - 1), std::max(0.0, ahead_m));
    }
    return force_n;
}

void add_walls(const StepContext& context, const ShaftKind& shaft, const Vec3& p, Resistance& out) {
    const State& s = context.state;
    if (!s.structure_near) return;
    const double radius_m = 0.5 * shaft.outer_m;
    std::vector<Clearance> found;
    context.model.anatomy->clearances(p, p, radius_m, found);
    for (const Clearance& clearance : found) {
        const bool breached_before = std::any_of(s.walls.begin(), s.walls.end(), [&](const WallContact& w) {
            return w.structure == clearance.structure && w.breached;
        });
        if (breached_before) continue;
        const Structure& structure = context.model.anatomy->structures()[static_cast<std::size_t>(clearance.structure)];
        out.wall = clearance.structure;
        const auto wall = wall_of(kForceParameters, shaft, structure);
        if (!wall) continue;  // a nerve gives no force to feel
        const WallLoad load = wall_load(kForceParameters, *wall, radius_m - clearance.distance_m,
                                        radius_m + structure.line.front().radius_m);
        out.wall_n = std::max(out.wall_n, load.breached ? wall->mean_n : load.force_n);
        out.wall_breached = out.wall_breached || load.breached;
        if (!load.breached) out.tip_n += load.force_n;
    }
}

void add_floor(const ShaftKind& shaft, const LayerPoint& at, bool lining_open, Resistance& out) {
    const double press_m = at.depth_m + 0.5 * shaft.outer_m - at.bottom_m.back();
    if (!(press_m > 0.0)) return;
    const ForceParameters& f = kForceParameters;
    if (at.floor == FloorKind::lining && lining_open) return;
    out.floor_n = press_m * (at.floor == FloorKind::bone ? f.bone_n_per_m : f.lining_n_per_m);
    if (at.floor == FloorKind::lining && out.floor_n >= f.lining_breach_n * shaft.outer_m / kReferenceDiameterM)
        out.lining_breached = true;
    else
        out.tip_n += out.floor_n;
}

}  // namespace

ShaftKind shaft_kind(const InstrumentSpec& instrument) { return {instrument.tip, gauge(instrument.gauge).outer_m}; }

Resistance resistance(const StepContext& context, double ahead_m) {
    const State& s = context.state;
    const ShaftKind shaft = shaft_kind(context.instrument());
    const Vec3 p = s.tip_m + s.tip_heading * ahead_m;
    Resistance out;
    out.at = context.model.anatomy->layers_at(p);
    // the old way again is open already: nothing to part, only what rubs
    const bool new_way = !s.track || s.inserted_m + ahead_m >= s.track->farthest_m - 1e-9;
    if (new_way) out.tip_n = layer_force(context, shaft, out.at, p, s.inserted_m + ahead_m);
    const FrictionPerLength at_tip = friction_per_length(kForceParameters, shaft, out.at.layer, Motion::inwards);
    out.friction_n = s.friction_sum_n + at_tip.sliding_n_per_m * ahead_m;
    if (s.ligament.ligament >= 0) {
        const Ligament& ligament = context.model.anatomy->ligaments()[static_cast<std::size_t>(s.ligament.ligament)];
        const LigamentLoad load =
            ligament_load(kForceParameters, shaft, ligament, std::max(0.0, s.ligament.stretch_m + ahead_m));
        out.ligament_n = load.force_n;
        out.ligament_work_j = load.work_j;
        out.ligament_parted = load.parted;
    }
    add_walls(context, shaft, p, out);
    add_floor(shaft, out.at, s.lining_noted, out);
    return out;
}

double friction_along(const StepContext& context) {
    const State& s = context.state;
    const ShaftKind shaft = shaft_kind(context.instrument());
    const auto per_m = [&](const Vec3& p) {
        return friction_per_length(kForceParameters, shaft, context.model.anatomy->layers_at(p).layer, Motion::inwards)
            .sliding_n_per_m;
    };
    if (!s.track) return s.inserted_m * per_m(s.tip_m - s.tip_heading * (0.5 * s.inserted_m));
    double sum_n = 0.0;
    constexpr double kPart = 2.0 * kMm;
    for (double arc_m = 0.0; arc_m < s.inserted_m; arc_m += kPart) {
        const double length_m = std::min(kPart, s.inserted_m - arc_m);
        sum_n += length_m * per_m(way_at(*s.track, arc_m + 0.5 * length_m));
    }
    return sum_n;
}

}  // namespace sim
