#include "sim/instruments/ligament_law.hpp"

#include <cmath>

#include "sim/core/errors.hpp"

namespace sim {

double ligament_strength_n(const ForceParameters& p, const ShaftKind& shaft, const Ligament& ligament) {
    const double share = shaft.tip == TipShape::bevel ? p.ligament_bevel_share : 1.0;
    return ligament.strength_n * share * shaft.outer_m / kReferenceDiameterM;
}

LigamentLoad ligament_load(const ForceParameters& p, const ShaftKind& shaft, const Ligament& ligament,
                           double stretch_m) {
    SIM_ASSERT(stretch_m >= 0.0 && ligament.stretch_m > 0.0);
    const double strength_n = ligament_strength_n(p, shaft, ligament);
    const double whole_work_j = strength_n * ligament.stretch_m / (p.ligament_exponent + 1.0);
    if (stretch_m >= ligament.stretch_m) return {0.0, 0.0, whole_work_j, true};
    const double s = stretch_m / ligament.stretch_m;
    const double power = std::pow(s, p.ligament_exponent);
    LigamentLoad load;
    load.force_n = strength_n * power;
    load.slope_n_per_m = s > 0.0 ? p.ligament_exponent * load.force_n / stretch_m : 0.0;
    load.work_j = whole_work_j * power * s;
    return load;
}

bool skirts(const Ligament& ligament, double sideways_m) { return sideways_m >= ligament.half_thickness_m; }

}  // namespace sim
