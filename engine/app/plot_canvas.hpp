#pragma once

#include "engine/app/ui.hpp"
#include "engine/view/canvas.hpp"

namespace app {

/// Plots on the screen: view::Canvas in the window's pixels.
class PlotCanvas final : public view::Canvas {
 public:
    explicit PlotCanvas(Ui& ui) : ui_(ui) {}

    void fill(std::span<const view::CanvasPoint> points, const view::Colour& colour) override;
    void line(std::span<const view::CanvasPoint> points, const view::Colour& colour, double width) override;
    void text(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour& colour,
              view::TextAlign align) override;
    void text_upwards(const view::CanvasPoint& at, std::string_view text, double size,
                      const view::Colour& colour) override;
    [[nodiscard]] double text_width(std::string_view text, double size) override;

 private:
    [[nodiscard]] ImFont* font_for(double size) const;

    Ui& ui_;
    bool turning_ = false;  ///< the text being drawn is not yet where it will be
};

}  // namespace app
