#pragma once

#include <glm/geometric.hpp>
#include <glm/vec3.hpp>

/// Double-precision vectors in the head frame: origin midway between the tragia, +x to the patient's left, +y up,
/// +z forward (Frankfurt horizontal). Metres inside, millimetres only where people read.

namespace sim {

using Vec3 = glm::dvec3;

inline constexpr double kPi = 3.14159265358979323846;
inline constexpr double kMm = 1e-3;  ///< one millimetre in metres: 4.0 * kMm reads as "4 mm"

}  // namespace sim
