#pragma once

#include <cairo.h>

#include <memory>
#include <string>

#include "engine/report/cairo_canvas.hpp"
#include "engine/report/cairo_stream.hpp"
#include "engine/report/debrief_pdf.hpp"
#include "engine/view/plot_axes.hpp"

/// What the pages of a debrief share. Points.

namespace report {

inline constexpr double kMargin = 42.0;
inline constexpr double kBody = 9.0, kSmall = 7.5, kHead = 11.0, kBig = 20.0, kTitle = 17.0;

struct Page {
    CairoCanvas& canvas;
    double width = 0.0, height = 0.0;
    double y = kMargin;

    [[nodiscard]] double left() const { return kMargin; }
    [[nodiscard]] double right() const { return width - kMargin; }
    [[nodiscard]] double inner() const { return width - 2.0 * kMargin; }
    /// Keep clear of the cautions at the foot.
    [[nodiscard]] double end() const { return height - kMargin - 34.0; }

    void paragraph(const std::string& text, double size, const view::Colour& colour = view::kInk, bool bold = false) {
        y += canvas.paragraph({left(), y}, text, size, colour, inner(), bold);
    }
    void gap(double height_points) { y += height_points; }
    void rule() {
        const std::array<view::CanvasPoint, 2> ends{{{left(), y}, {right(), y}}};
        canvas.line(ends, view::kGrid, 0.8);
        y += 5.0;
    }
};

/// At the foot of each page.
void draw_cautions(const Page& page);

/// @return height that it took @throws std::runtime_error when size and pixels differ
double draw_picture(cairo_t* cairo, const Picture& picture, const view::CanvasPoint& at, double width);

/// How threads lie at the end, their barbs' loads, and the lift of each concern. @pre the recording has lifts
void draw_lift_page(Page& page, cairo_t* cairo, const sim::Recording& recording, const DebriefFacts& facts);

/// The case sheet with its map, on as many pages as it takes; each is ended. @pre the recording has a visit
void draw_visit_pages(Page& page, cairo_t* cairo, const sim::Recording& recording, const DebriefFacts& facts);

}  // namespace report
