#pragma once

#include <span>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/state.hpp"

/// Where a shaft is drawn. Tissue is drawn at rest, so the shaft is drawn where it lies among the layers at rest;
/// depth, clearance and score are of the same places.

namespace view {

using sim::Vec3;

/// The part of a shaft that lies under the skin. @param shaft_m from the hub to the tip
[[nodiscard]] std::vector<Vec3> part_under_skin(std::span<const Vec3> shaft_m, double inserted_m);

/// Within the tissue along the way that the shaft made there; outside straight from the entry to the hub, which lies on
/// the skin where the hand holds it lower; at the entry a round bend between the two. From the hub to the tip.
/// Without a track the shaft as it lies in space.
[[nodiscard]] std::vector<Vec3> shaft_among_layers(const sim::State& state, const sim::Anatomy& anatomy);

}  // namespace view
