#pragma once

#include <functional>
#include <string>

#include "engine/view/canvas.hpp"

namespace report {

enum class ChartFile { svg, pdf };

/// A sheet of 170 by 115 mm with a title, whatever `draw` draws between, and a caution below.
///
/// @param draw given the canvas, the room and the height of the type in it, in points
/// @return the file's bytes
/// @throws std::runtime_error when Cairo cannot
[[nodiscard]] std::string chart_sheet(ChartFile kind, const std::string& title, const std::string& caution,
                                      const std::function<void(view::Canvas&, const view::CanvasRect&, double)>& draw);

}  // namespace report
