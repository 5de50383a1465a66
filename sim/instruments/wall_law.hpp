#pragma once

#include "sim/instruments/tip_force.hpp"

/// The force at which a tip breaches the wall of a vessel, duct or gland.
///
/// Arteries: Pavicic et al. 2019, Plast Reconstr Surg 143:504e, facial artery of 4 heads, needles of 20, 22, 25, 27 G
/// and blunt cannulas of 22, 25, 27 G. Blunt cannulas thicker than 22 G were not measured: their force is extrapolated
/// along the fit over diameter, assumed, and flagged.

namespace sim {

struct WallForce {
    double mean_n = 0.0;
    double sd_n = 0.0;          ///< 0 where nothing was measured
    bool extrapolated = false;  ///< outside the diameters that were measured
};

/// Exact at the measured gauges, linear in diameter between them, along the published values' fit outside.
[[nodiscard]] WallForce artery_wall(const ShaftKind& shaft);

/// Of any structure; nothing for a nerve, which is judged by contact. A structure's own wall_force_n (an artery's
/// against a 21 G cannula), where given, scales with the gauge as an artery's does.
[[nodiscard]] std::optional<WallForce> wall_of(const ForceParameters& p, const ShaftKind& shaft,
                                               const Structure& structure);

struct WallLoad {
    double force_n = 0.0, slope_n_per_m = 0.0;  ///< along the line from the tip to the structure's axis
    bool breached = false;
};

/// Force of a wall that the tip has pressed in, up to the indentation at which it breaches.
///
/// @param overlap_m by how much tip and undisplaced structure overlap
/// @param radii_m   sum of both radii
[[nodiscard]] WallLoad wall_load(const ForceParameters& p, const WallForce& wall, double overlap_m, double radii_m);

}  // namespace sim
