#pragma once

#include "engine/view/depth_plot.hpp"
#include "engine/view/label_placer.hpp"

/// Parts of the depth plot. Internal to engine/view.

namespace view {

inline constexpr double kClearanceShownMm = 6.0;  ///< more than the most that is scored
inline constexpr double kAfterTickEm = 0.8;       ///< the axis title stands clear of the last number
inline constexpr double kLabelEm = 0.7;           ///< from the plot to the labels at its right

/// What the parts of one plot share.
struct PlotFrame {
    DepthPlotPlaces places;
    double text = 14.0;
    double hair = 1.0;  ///< thinnest line that is sure to be seen
};

/// Name and place of something that is labelled at the right edge.
struct EdgeLabel {
    std::string words;
    double y = 0.0;
    Colour ink;
};

// what layers look like in every plot. layer: 0 skin, 1 superficial fat, ... 5 floor
inline constexpr Colour kLayerBoundary{0.36, 0.27, 0.22, 0.75};
inline constexpr Colour kTargetFill{0.0, 0.620, 0.451, 0.20}, kTargetLine{0.0, 0.42, 0.30};
[[nodiscard]] std::string_view layer_name(std::size_t layer);
[[nodiscard]] const Colour& layer_colour(std::size_t layer);
/// A mark of the layer's own pattern.
void draw_layer_mark(Canvas& canvas, std::size_t layer, double x, double y, double size);

/// Layers of tissue with a pattern each, faded where the track did not come.
void draw_layers(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace);
[[nodiscard]] std::vector<EdgeLabel> layer_labels(const PlotFrame& frame, const DepthTrace& trace);
/// Width of the widest name that may stand at the right edge. @param axis_title that stands there too
[[nodiscard]] double edge_label_width(Canvas& canvas, double text_size, bool axis_title = true);
/// Labels at the right edge with leaders to what they name, spread so that none touches another.
void draw_edge_labels(Canvas& canvas, const PlotFrame& frame, const std::vector<EdgeLabel>& labels);

/// Distance to the nearest structure's wall under the plot, its margin, and the nearest by name.
void draw_clearance(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace, const PlotStyle& style);

/// A polyline with gaps. @param pattern lengths of stroke and gap by turns, canvas units
void draw_dashed(Canvas& canvas, std::span<const CanvasPoint> points, std::span<const double> pattern,
                 const Colour& colour, double width);

struct BesideLook {
    Colour colour;
    std::vector<double> pattern_em;
};
[[nodiscard]] const BesideLook& look_of(BesideTrace::Look look);

inline constexpr const char* kAlongWords = "mm from the entry";

}  // namespace view
