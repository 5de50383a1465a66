#pragma once

#include <string_view>

#include "engine/view/canvas.hpp"

/// What all plots share: colours, scales and axes.

namespace view {

// Okabe and Ito 2008, colour-blind-safe set
inline constexpr Colour kBlue{0.0, 0.447, 0.698};
inline constexpr Colour kVermilion{0.835, 0.369, 0.0};
inline constexpr Colour kGreen{0.0, 0.620, 0.451};
inline constexpr Colour kInk{0.13, 0.13, 0.13};
inline constexpr Colour kQuiet{0.38, 0.38, 0.38};
inline constexpr Colour kGrid{0.80, 0.78, 0.75};
inline constexpr Colour kPaper{0.992, 0.988, 0.980};

/// A value range on one side of a rectangle.
struct Scale {
    double low = 0.0, high = 1.0;        ///< values
    double at_low = 0.0, at_high = 1.0;  ///< canvas
    [[nodiscard]] double at(double value) const { return at_low + (value - low) / (high - low) * (at_high - at_low); }
};

/// 1, 2 or 5 times a power of ten, so that a range gets at most `most` ticks.
[[nodiscard]] double tick_step(double range, int most);

void draw_axis_below(Canvas& canvas, const CanvasRect& plot, const Scale& x, std::string_view title, double text_size);
void draw_axis_left(Canvas& canvas, const CanvasRect& plot, const Scale& y, std::string_view title, double text_size,
                    int most_ticks);
void draw_box(Canvas& canvas, const CanvasRect& box, const Colour& fill);

}  // namespace view
