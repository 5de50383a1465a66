#pragma once

#include <span>
#include <string_view>

/// What a plot may draw on, be it a screen or paper. y grows downwards; units are pixels or points, the plot's
/// rectangle says how many.

namespace view {

struct Colour {
    double red = 0.0, green = 0.0, blue = 0.0, alpha = 1.0;  ///< 0 to 1, sRGB
};

struct CanvasPoint {
    double x = 0.0, y = 0.0;
};

struct CanvasRect {
    double left = 0.0, top = 0.0, right = 0.0, bottom = 0.0;
    [[nodiscard]] double width() const { return right - left; }
    [[nodiscard]] double height() const { return bottom - top; }
};

enum class TextAlign { left, centre, right };

class Canvas {
 public:
    virtual ~Canvas() = default;
    /// @param points a simple polygon, convex or not, at least three
    virtual void fill(std::span<const CanvasPoint> points, const Colour& colour) = 0;
    virtual void line(std::span<const CanvasPoint> points, const Colour& colour, double width) = 0;
    /// @param at   on the base line
    /// @param size height of the type, in canvas units
    virtual void text(const CanvasPoint& at, std::string_view text, double size, const Colour& colour,
                      TextAlign align = TextAlign::left) = 0;
    /// The same, read from below: `at` is the middle of its base line.
    virtual void text_upwards(const CanvasPoint& at, std::string_view text, double size, const Colour& colour) = 0;
    [[nodiscard]] virtual double text_width(std::string_view text, double size) = 0;
};

}  // namespace view
