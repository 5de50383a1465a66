#pragma once

#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/scenario.hpp"

/// Where a patient wants lift: places of the skin whose way is read from every answer about threads.

namespace sim {

/// Jowl, mouth corner, nasolabial fold and angle of the jaw, left then right, for a head; nothing for another anatomy.
/// Places are quantised, as the record keeps them.
[[nodiscard]] std::vector<Concern> concerns_of(const Anatomy& anatomy);

}  // namespace sim
