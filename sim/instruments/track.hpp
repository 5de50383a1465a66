#pragma once

#include "sim/stages.hpp"

/// The way that a tip makes through the tissue, in the reference shape, and the record of its millimetres.

namespace sim {

inline constexpr double kTrackNodeM = 0.5 * kMm;
inline constexpr double kPieceM = 1.0 * kMm;

/// Is the shaft a straight line in tissue that does not give? Then reference shape and space are the same.
[[nodiscard]] inline bool rigid(const Model& model) {
    return !model.scenario.mechanics.bending || !model.scenario.mechanics.tissue_response;
}

void open_track(const StepContext& context);

/// Take the tip on by `by_m` along its heading: new way, or the old way again where there is one.
void advance_tip(const StepContext& context, double by_m);

/// Draw the tip back along the way it came.
void retract_tip(const StepContext& context, double by_m);

/// Lay a rigid shaft's way along its new direction, and let every millimetre remember the worst of both.
void sweep_rigid_track(const StepContext& context);

/// The way at this length from the entry, between nodes by straight line.
[[nodiscard]] Vec3 way_at(const Track& track, double arc_m);

}  // namespace sim
