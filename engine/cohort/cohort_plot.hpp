#pragma once

#include "engine/cohort/cohort.hpp"
#include "engine/view/canvas.hpp"

/// A cohort on a canvas, be it a screen or paper. States are told by words and by fill, so that they are read in grey.

namespace cohort {

/// How a cell is filled, and the ink on it.
struct CellLook {
    view::Colour fill, ink, edge;
};
[[nodiscard]] CellLook look_of(Standing standing);

/// One cell: its words, and below them the share of the points.
void draw_cell(view::Canvas& canvas, const view::CanvasRect& where, const Cell& cell, std::int64_t passes,
               double text_size);

/// A line from 0 to 100 % of the points with a dot for each learner, a box from the lower to the upper quartile and a
/// bar at the median. @pre shares ascend
void draw_shares(view::Canvas& canvas, const view::CanvasRect& where, const std::vector<double>& shares);

/// Shares of the points from attempt to attempt, over 0 to 100 %; nothing where one was not finished.
/// @param mark a pass mark, 0 to 1
void draw_attempts(view::Canvas& canvas, const view::CanvasRect& where,
                   const std::vector<std::optional<double>>& shares, const std::optional<double>& mark,
                   double text_size);

}  // namespace cohort
