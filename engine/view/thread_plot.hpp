#pragma once

#include "engine/view/canvas.hpp"
#include "engine/view/depth_plot.hpp"
#include "sim/barbed_thread/held_thread.hpp"

/// How a thread's barbs share the load: one bar a barb along the thread, up where it draws the tissue towards the
/// entry, down where it draws it towards the far end.

namespace view {

/// Rows that stand right of the plot: what the marks mean, with how many barbs are so.
void draw_thread_plot(Canvas& canvas, const CanvasRect& where, const sim::HeldThread& thread, const PlotStyle& style);

}  // namespace view
