#include "engine/cohort/cohort_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/view/plot_axes.hpp"

namespace cohort {

namespace {

using view::CanvasPoint;
using view::CanvasRect;

constexpr view::Colour kWash{0.86, 0.92, 0.96};
constexpr view::Colour kPale{0.93, 0.92, 0.90};

void draw_edge(view::Canvas& canvas, const CanvasRect& box, const view::Colour& colour) {
    const std::array<CanvasPoint, 5> corners{{{box.left, box.top},
                                              {box.right, box.top},
                                              {box.right, box.bottom},
                                              {box.left, box.bottom},
                                              {box.left, box.top}}};
    canvas.line(corners, colour, 0.8);
}

void draw_dot(view::Canvas& canvas, const CanvasPoint& at, double radius, const view::Colour& colour) {
    constexpr std::size_t kCorners = 10;
    std::array<CanvasPoint, kCorners> corners;
    for (std::size_t i = 0; i < kCorners; ++i) {
        const double angle = 2.0 * std::acos(-1.0) * static_cast<double>(i) / kCorners;
        corners[i] = {at.x + radius * std::cos(angle), at.y + radius * std::sin(angle)};
    }
    canvas.fill(corners, colour);
}

void draw_line(view::Canvas& canvas, const CanvasPoint& from, const CanvasPoint& to, const view::Colour& colour,
               double width) {
    const std::array<CanvasPoint, 2> ends{{from, to}};
    canvas.line(ends, colour, width);
}

}  // namespace

CellLook look_of(Standing standing) {
    switch (standing) {
        case Standing::ready:
            return {view::kBlue, view::kPaper, view::kBlue};
        case Standing::passing:
            return {kWash, view::kInk, view::kBlue};
        case Standing::not_passed:
            return {view::kPaper, view::kInk, view::kVermilion};
        case Standing::shown:
            return {kPale, view::kQuiet, kPale};
        case Standing::untried:
            break;
    }
    return {view::kPaper, view::kQuiet, view::kPaper};
}

void draw_cell(view::Canvas& canvas, const CanvasRect& where, const Cell& cell, std::int64_t passes, double text_size) {
    if (cell.standing == Standing::untried) return;
    const CellLook look = look_of(cell.standing);
    const CanvasRect box{where.left + 1.0, where.top + 1.0, where.right - 1.0, where.bottom - 1.0};
    view::draw_box(canvas, box, look.fill);
    draw_edge(canvas, box, look.edge);
    const double middle = 0.5 * (box.left + box.right), line = 1.2 * text_size;
    const double first = 0.5 * (box.top + box.bottom) + (cell.share ? -0.12 : 0.38) * text_size;
    canvas.text({middle, first}, cell_words(cell, passes), text_size, look.ink, view::TextAlign::centre);
    if (cell.share)
        canvas.text({middle, first + line}, fmt::format("{:.0f} %", 100.0 * *cell.share), text_size, look.ink,
                    view::TextAlign::centre);
}

void draw_shares(view::Canvas& canvas, const CanvasRect& where, const std::vector<double>& shares) {
    const view::Scale x{0.0, 1.0, where.left, where.right};
    const double middle = 0.5 * (where.top + where.bottom);
    const auto upright = [&](double at, double half, const view::Colour& colour, double width) {
        draw_line(canvas, {x.at(at), middle - half}, {x.at(at), middle + half}, colour, width);
    };
    draw_line(canvas, {where.left, middle}, {where.right, middle}, view::kGrid, 0.8);
    for (const double tick : {0.0, 0.5, 1.0}) upright(tick, 0.25 * where.height(), view::kGrid, 0.8);
    if (shares.empty()) return;
    if (shares.size() >= kFewForQuartiles) {
        const CanvasRect box{x.at(statistics::quantile_of(shares, 0.25)), middle - 0.3 * where.height(),
                             x.at(statistics::quantile_of(shares, 0.75)), middle + 0.3 * where.height()};
        view::draw_box(canvas, box, kWash);
        draw_edge(canvas, box, view::kBlue);
    }
    view::Colour ink = view::kInk;
    ink.alpha = 0.55;  // several on one place are darker
    for (const double share : shares) draw_dot(canvas, {x.at(share), middle}, 0.13 * where.height(), ink);
    upright(statistics::quantile_of(shares, 0.5), 0.42 * where.height(), view::kBlue, 1.6);
}

void draw_attempts(view::Canvas& canvas, const CanvasRect& where, const std::vector<std::optional<double>>& shares,
                   const std::optional<double>& mark, double text_size) {
    const double scale_w = canvas.text_width("100 %", text_size) + 0.5 * text_size;
    const CanvasRect plot{where.left + scale_w, where.top + 0.5 * text_size, where.right,
                          where.bottom - 1.6 * text_size};
    const view::Scale y{0.0, 1.0, plot.bottom, plot.top};
    for (const double share : {0.0, 0.5, 1.0}) {
        draw_line(canvas, {plot.left, y.at(share)}, {plot.right, y.at(share)}, view::kGrid, 0.8);
        canvas.text({plot.left - 0.4 * text_size, y.at(share) + 0.35 * text_size},
                    fmt::format("{:.0f} %", 100.0 * share), text_size, view::kQuiet, view::TextAlign::right);
    }
    if (mark) draw_line(canvas, {plot.left, y.at(*mark)}, {plot.right, y.at(*mark)}, view::kVermilion, 1.4);
    const double step = plot.width() / static_cast<double>(std::max<std::size_t>(1, shares.size()));
    // numbers that have room
    const auto each = static_cast<std::size_t>(std::ceil(2.0 * text_size / step));
    std::optional<CanvasPoint> before;
    for (std::size_t i = 0; i < shares.size(); ++i) {
        const double x = plot.left + (static_cast<double>(i) + 0.5) * step;
        if (i % each == 0)
            canvas.text({x, where.bottom - 0.25 * text_size}, fmt::format("{}", i + 1), text_size, view::kQuiet,
                        view::TextAlign::centre);
        if (!shares[i]) continue;
        const CanvasPoint at{x, y.at(*shares[i])};
        if (before) draw_line(canvas, *before, at, view::kBlue, 1.6);
        before = at;
    }
    for (std::size_t i = 0; i < shares.size(); ++i)
        if (shares[i])
            draw_dot(canvas, {plot.left + (static_cast<double>(i) + 0.5) * step, y.at(*shares[i])}, 0.26 * text_size,
                     view::kBlue);
}

}  // namespace cohort
