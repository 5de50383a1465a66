#pragma once

#include "sim/instruments/tip_force.hpp"

/// How a retaining ligament resists a tip pushed through it: load rises with stretch up to its strength, then it parts.
///
/// Strength of a 21 G blunt cannula: Hong et al. 2025, Aesthetic Plast Surg (zygomatic 9.2, 8.0; mandibular 3.6;
/// temporal adhesion 3.2 N). Other diameters scale linearly: assumed, trusted from 18 to 25 G.

namespace sim {

struct LigamentLoad {
    double force_n = 0.0;
    double slope_n_per_m = 0.0;
    double work_j = 0.0;  ///< done on it since it was met: the integral of force over stretch
    bool parted = false;
};

/// Strength against this shaft.
[[nodiscard]] double ligament_strength_n(const ForceParameters& p, const ShaftKind& shaft, const Ligament& ligament);

/// F = strength (s / stretch)^exponent. @param stretch_m way of the tip since it met the ligament, >= 0
[[nodiscard]] LigamentLoad ligament_load(const ForceParameters& p, const ShaftKind& shaft, const Ligament& ligament,
                                         double stretch_m);

/// A tip that has moved sideways by more than the fibres reach has slid round them.
[[nodiscard]] bool skirts(const Ligament& ligament, double sideways_m);

}  // namespace sim
