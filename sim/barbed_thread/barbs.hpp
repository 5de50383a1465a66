#pragma once

#include <span>
#include <vector>

#include "sim/scenario.hpp"
#include "sim/trace.hpp"

/// What a withdrawal leaves of a thread: its barbs at their places along the track, and what the layers there give
/// them.

namespace sim {

/// Most that one barb holds in each layer. No published value per barb: 0.05 to 0.2 N in fat and SMAS worked back from
/// pull-out figures; assumed. A barb in the dermis catches hard and dimples it.
[[nodiscard]] double barb_capacity_n(Layer layer);

/// @param pieces   of the track, 1 mm each from the entry
/// @param turn_rad largest turn of the shaft while it was withdrawn: a crooked withdrawal drags barbs along
[[nodiscard]] std::vector<BarbRecord> seat_barbs(const ThreadSpec& thread, std::span<const TrackPiece> pieces,
                                                 double turn_rad);

}  // namespace sim
