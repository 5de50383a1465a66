#pragma once

#include <optional>
#include <span>
#include <vector>

#include "engine/view/canvas.hpp"

/// Finds room for words in a plot, so that no label lies on the data or on another label.

namespace view {

class LabelPlacer {
 public:
    /// @param within where labels may lie
    explicit LabelPlacer(const CanvasRect& within) : within_(within) {}

    /// Keep a rectangle free of labels.
    void block(const CanvasRect& rect) { taken_.push_back(rect); }

    /// The first of the wanted places where a label of this size touches nothing; its room is then taken.
    /// @param centres in order of preference; pushed inside the plot where they stick out
    std::optional<CanvasRect> place(double width, double height, std::span<const CanvasPoint> centres);

    /// The same at one place, whatever lies there: for what must be said.
    CanvasRect insist(double width, double height, const CanvasPoint& centre);

 private:
    [[nodiscard]] CanvasRect inside(double width, double height, const CanvasPoint& centre) const;
    [[nodiscard]] bool free(const CanvasRect& rect) const;

    CanvasRect within_;
    std::vector<CanvasRect> taken_;
};

/// Positions of labels in a column: as near to where they are wanted as `spacing` allows, order kept.
/// @param wanted rising
[[nodiscard]] std::vector<double> spread_labels(std::vector<double> wanted, double spacing, double low, double high);

/// Words on a rounded ground of their own, legible over anything.
void draw_pill(Canvas& canvas, const CanvasRect& rect, std::string_view words, double text_size, const Colour& ink);
/// Width and height that draw_pill() needs.
[[nodiscard]] double pill_width(Canvas& canvas, std::string_view words, double text_size);
[[nodiscard]] double pill_height(double text_size);

}  // namespace view
