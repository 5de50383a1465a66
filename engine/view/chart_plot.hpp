#pragma once

#include <optional>
#include <string>
#include <vector>

#include "engine/view/canvas.hpp"

/// Plain charts of figures: lines, dots and bands over two axes, and bars. They know nothing of what they show; all
/// words come with the data.

namespace view {

struct ChartPoint {
    double x = 0.0, y = 0.0;
};

/// Points that belong together, named at their last point where there is a name.
struct ChartSeries {
    std::string name;
    std::vector<ChartPoint> points;  ///< finite
    Colour colour;
    bool dots = false;   ///< a dot at each point
    bool lines = true;   ///< joined
    double width = 1.2;  ///< of lines, in canvas units
};

/// An area between two curves, such as an interval.
struct ChartBand {
    std::vector<double> x, low, high;  ///< as long as each other, at least 2
    Colour colour;
};

/// A straight line across, such as a limit or a pass mark, with its name.
struct ChartRule {
    double at = 0.0;
    bool upright = false;  ///< at an x, otherwise at a y
    std::string name;
    Colour colour;
};

struct Chart {
    std::string x_title, y_title;
    std::vector<ChartBand> bands;
    std::vector<ChartSeries> series;
    std::vector<ChartRule> rules;
    std::optional<double> y_low;  ///< otherwise a little below the lowest point
};

/// Bands below, then rules, lines and dots; names of series stand right of the plot, pushed apart where they would
/// meet. A chart without a point is an empty frame.
void draw_chart(Canvas& canvas, const CanvasRect& where, const Chart& chart, double text_size);

struct Bar {
    std::string name;
    double value = 0.0;  ///< >= 0
    std::string label;   ///< at the bar's end
};

/// Bars from the left, in their order, over one axis from 0.
void draw_bars(Canvas& canvas, const CanvasRect& where, const std::vector<Bar>& bars, const std::string& title,
               double text_size);

}  // namespace view
