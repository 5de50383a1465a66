#pragma once

#include <cairo.h>
#include <pango/pangocairo.h>

#include <memory>
#include <string_view>

#include "engine/view/canvas.hpp"

namespace report {

/// Plots and text on paper: a view::Canvas by Cairo and Pango, in points.
class CairoCanvas final : public view::Canvas {
 public:
    /// @param cairo borrowed; must outlive the canvas
    explicit CairoCanvas(cairo_t* cairo);

    void fill(std::span<const view::CanvasPoint> points, const view::Colour& colour) override;
    void line(std::span<const view::CanvasPoint> points, const view::Colour& colour, double width) override;
    void text(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour& colour,
              view::TextAlign align) override;
    void text_upwards(const view::CanvasPoint& at, std::string_view text, double size,
                      const view::Colour& colour) override;
    [[nodiscard]] double text_width(std::string_view text, double size) override;

    /// Text broken into lines of a width. @param at its upper left corner @return height that it took
    double paragraph(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour& colour,
                     double width, bool bold = false);

    /// What paragraph() would take.
    [[nodiscard]] double paragraph_height(std::string_view text, double size, double width, bool bold = false);

 private:
    void set_paragraph(std::string_view text, double size, double width, bool bold);
    void set_text(std::string_view text, double size, bool bold = false);
    void show_on_base_line(const view::CanvasPoint& at, double shift_left, const view::Colour& colour);

    struct Unref {
        void operator()(PangoLayout* layout) const { g_object_unref(layout); }
    };
    cairo_t* cairo_;
    std::unique_ptr<PangoLayout, Unref> layout_;
};

}  // namespace report
