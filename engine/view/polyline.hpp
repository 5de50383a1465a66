#pragma once

#include <span>
#include <vector>

#include "engine/view/canvas.hpp"

namespace view {

/// The same line with the points left out that lie within `tolerance` of what remains (Douglas and Peucker 1973). Both
/// ends of an upright piece always remain, so that two outlines that share a way between such pieces still share it.
[[nodiscard]] std::vector<CanvasPoint> simplified(std::span<const CanvasPoint> points, double tolerance);

}  // namespace view
