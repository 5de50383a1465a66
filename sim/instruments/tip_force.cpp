#include "sim/instruments/tip_force.hpp"

#include <cmath>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

double scale_of(const ShaftKind& shaft) { return shaft.outer_m / kReferenceDiameterM; }
double tip_share(const ForceParameters& p, const ShaftKind& shaft) {
    return shaft.tip == TipShape::bevel ? p.bevel_share : 1.0;
}

}  // namespace

double skin_indentation_n(const ForceParameters& p, double press_m) {
    return press_m * (p.skin_linear_n_per_m + press_m * p.skin_quadratic_n_per_m2);
}

double skin_indentation_m(const ForceParameters& p, double force_n) {
    const double a = p.skin_linear_n_per_m;
    return 2.0 * force_n / (a + std::sqrt(a * a + 4.0 * p.skin_quadratic_n_per_m2 * force_n));
}

std::optional<double> skin_puncture_n(const ForceParameters& p, const ShaftKind& shaft) {
    if (shaft.tip == TipShape::blunt) return std::nullopt;
    return p.bevel_puncture_n_per_m * shaft.outer_m;
}

double spreading_n(const ForceParameters& p, const ShaftKind& shaft, Layer layer) {
    return of_layer(p.spreading_n, layer) * scale_of(shaft) * tip_share(p, shaft);
}

double pass_through_n(const ForceParameters& p, const ShaftKind& shaft, Layer into, double ahead_m) {
    SIM_ASSERT(ahead_m >= 0.0);
    if (ahead_m >= p.pass_through_rise_m) return 0.0;
    const double built_up = 1.0 - ahead_m / p.pass_through_rise_m;
    return of_layer(p.pass_through_n, into) * scale_of(shaft) * tip_share(p, shaft) * built_up;
}

FrictionPerLength friction_per_length(const ForceParameters& p, const ShaftKind& shaft, Layer layer, Motion motion) {
    const bool inwards = motion == Motion::inwards;
    const double sliding = of_layer(p.friction_n_per_m, layer) * scale_of(shaft) * (inwards ? 1.0 : p.withdrawal_ratio);
    return {sliding, sliding * (inwards ? p.breakaway_ratio_in : p.breakaway_ratio_out)};
}

}  // namespace sim
