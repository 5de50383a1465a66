#pragma once

#include <vector>

#include "sim/anatomy/anatomy.hpp"

/// The named landmarks of a patient. assets/landmarks.json holds the same names with the other names that papers use.

namespace sim {

struct HeadTissue;

/// Every landmark of the published depth tables and those that courses of vessels and nerves are told from, left and
/// right where paired, but for those outside the modelled tissue (the vertex). Without bone within 45 mm,
/// Landmark::depth_m is the depth of the floor.
[[nodiscard]] std::vector<Landmark> place_landmarks(const HeadTissue& tissue);

}  // namespace sim
