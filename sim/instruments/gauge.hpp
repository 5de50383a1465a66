#pragma once

namespace sim {

/// Outside diameter of needle and cannula tubing.
/// @param gauge 16 to 30, checked at load
[[nodiscard]] double outer_diameter_m(int gauge);

}  // namespace sim
