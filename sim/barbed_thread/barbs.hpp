#pragma once

#include <span>
#include <vector>

#include "sim/scenario.hpp"
#include "sim/trace.hpp"

/// What a withdrawal leaves of a thread: its barbs at their places along the track, and what the layers there give
/// them.

namespace sim {

/// What a set of barbs holds together does not grow with its length beyond some: over 1 to 4 cm of barbed suture in
/// tendon 4.9 to 7.5 N (Gemalmaz, Gazi Med J), flat. No mechanism of the model gives that, so it is imposed: a set that
/// takes L holds in proportion to 1 - exp(-L / kHoldLengthM).
inline constexpr double kHoldLengthM = 8.0 * kMm;  // assumed
/// Set whose barbs hold as barb_capacity_n() says, half of some 50 mm of barbs: what a thread of the shipped cases has.
/// In superficial fat at 1.5 mm between barbs a set so holds 2.07 N at most. Assumed.
inline constexpr double kUsualSetM = 24.75 * kMm;
/// Of barb_capacity_n(), what each barb of a set of that length holds: 1 at kUsualSetM, 3.0 for one barb alone.
[[nodiscard]] double barb_share(double set_m);

/// Most that one barb of a set of the usual length holds in each layer. No published value per barb: 0.05 to 0.2 N in
/// fat and SMAS worked back from pull-out figures; assumed. A barb in the dermis catches hard and dimples it.
[[nodiscard]] double barb_capacity_n(Layer layer);

/// @param pieces   of the track, 1 mm each from the entry
/// @param turn_rad largest turn of the shaft while it was withdrawn: a crooked withdrawal drags barbs along
[[nodiscard]] std::vector<BarbRecord> seat_barbs(const ThreadSpec& thread, std::span<const TrackPiece> pieces,
                                                 double turn_rad);

}  // namespace sim
