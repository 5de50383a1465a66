#include "engine/view/chart_plot.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/view/plot_axes.hpp"

namespace view {

namespace {

constexpr int kTicks = 6;
constexpr double kLineEm = 1.15;  // between names

struct Range {
    double low = 0.0, high = 0.0;
    bool empty = true;

    void take(double value) {
        low = empty ? value : std::min(low, value);
        high = empty ? value : std::max(high, value);
        empty = false;
    }
    /// With some room about it; a single value stands in the middle.
    [[nodiscard]] Range padded(double share) const {
        if (empty) return {0.0, 1.0, false};
        const double room = high > low ? share * (high - low) : 0.5 * std::max(1.0, std::abs(high));
        return {low - room, high + room, false};
    }
};

struct Frame {
    CanvasRect plot;
    Scale x, y;
};

double widest_name(Canvas& canvas, const Chart& chart, double text_size) {
    double width = 0.0;
    for (const ChartSeries& series : chart.series)
        if (!series.name.empty()) width = std::max(width, canvas.text_width(series.name, text_size) + 0.9 * text_size);
    return width;
}

Frame frame_of(Canvas& canvas, const CanvasRect& where, const Chart& chart, double text_size) {
    Range x, y;
    for (const ChartSeries& series : chart.series)
        for (const ChartPoint& point : series.points) x.take(point.x), y.take(point.y);
    for (const ChartBand& band : chart.bands)
        for (std::size_t i = 0; i < band.x.size(); ++i) x.take(band.x[i]), y.take(band.low[i]), y.take(band.high[i]);
    for (const ChartRule& rule : chart.rules) rule.upright ? x.take(rule.at) : y.take(rule.at);
    x = x.padded(0.03), y = y.padded(0.06);
    if (chart.y_low) y.low = *chart.y_low;
    Frame frame;
    frame.plot = {where.left + 4.0 * text_size, where.top + 0.6 * text_size,
                  where.right - std::max(0.8 * text_size, widest_name(canvas, chart, text_size)),
                  where.bottom - 3.0 * text_size};
    frame.x = {x.low, x.high, frame.plot.left, frame.plot.right};
    frame.y = {y.low, y.high, frame.plot.bottom, frame.plot.top};
    return frame;
}

void draw_frame(Canvas& canvas, const CanvasRect& box) {
    const std::array<CanvasPoint, 3> corner{{{box.left, box.top}, {box.left, box.bottom}, {box.right, box.bottom}}};
    canvas.line(corner, kInk, 1.0);
}

void draw_band(Canvas& canvas, const Frame& frame, const ChartBand& band) {
    std::vector<CanvasPoint> outline;
    for (std::size_t i = 0; i < band.x.size(); ++i)
        outline.push_back({frame.x.at(band.x[i]), frame.y.at(band.high[i])});
    for (std::size_t i = band.x.size(); i-- > 0;) outline.push_back({frame.x.at(band.x[i]), frame.y.at(band.low[i])});
    if (outline.size() > 3) canvas.fill(outline, band.colour);
}

void draw_dot(Canvas& canvas, const CanvasPoint& at, double radius, const Colour& colour) {
    constexpr int kCorners = 12;
    std::array<CanvasPoint, kCorners> corners;
    for (int i = 0; i < kCorners; ++i) {
        const double angle = 2.0 * std::acos(-1.0) * i / kCorners;
        corners[static_cast<std::size_t>(i)] = {at.x + radius * std::cos(angle), at.y + radius * std::sin(angle)};
    }
    canvas.fill(corners, colour);
}

void draw_series(Canvas& canvas, const Frame& frame, const ChartSeries& series, double text_size) {
    std::vector<CanvasPoint> points;
    for (const ChartPoint& point : series.points) points.push_back({frame.x.at(point.x), frame.y.at(point.y)});
    if (series.lines && points.size() > 1) canvas.line(points, series.colour, series.width);
    if (series.dots || points.size() == 1)
        for (const CanvasPoint& point : points) draw_dot(canvas, point, 0.22 * text_size, series.colour);
}

/// A rule's name on a lighter ground, so that lines that cross it do not take it away. @param at left end of its base
/// line
void draw_rule_name(Canvas& canvas, const CanvasPoint& at, const ChartRule& rule, double text_size) {
    Colour ground = kPaper;
    ground.alpha = 0.85;
    draw_box(canvas,
             {at.x - 0.15 * text_size, at.y - 0.85 * text_size,
              at.x + canvas.text_width(rule.name, text_size) + 0.15 * text_size, at.y + 0.22 * text_size},
             ground);
    canvas.text(at, rule.name, text_size, rule.colour);
}

void draw_rule(Canvas& canvas, const Frame& frame, const ChartRule& rule, double text_size) {
    if (rule.upright) {
        const double x = frame.x.at(rule.at);
        const std::array<CanvasPoint, 2> line{{{x, frame.plot.top}, {x, frame.plot.bottom}}};
        canvas.line(line, rule.colour, 1.0);
        const double width = canvas.text_width(rule.name, text_size);
        const bool room = x + width + 0.4 * text_size < frame.plot.right;
        draw_rule_name(canvas,
                       {room ? x + 0.4 * text_size : x - width - 0.4 * text_size, frame.plot.top + 0.8 * text_size},
                       rule, text_size);
        return;
    }
    const double y = frame.y.at(rule.at);
    const std::array<CanvasPoint, 2> line{{{frame.plot.left, y}, {frame.plot.right, y}}};
    canvas.line(line, rule.colour, 1.0);
    draw_rule_name(canvas, {frame.plot.left + 0.4 * text_size, y - 0.35 * text_size}, rule, text_size);
}

/// Names at the ends of their lines, from above down, none on another.
void draw_names(Canvas& canvas, const Frame& frame, const Chart& chart, double text_size) {
    struct Name {
        const ChartSeries* series;
        double y;
    };
    std::vector<Name> names;
    for (const ChartSeries& series : chart.series)
        if (!series.name.empty() && !series.points.empty())
            names.push_back({&series, frame.y.at(series.points.back().y) + 0.35 * text_size});
    std::stable_sort(names.begin(), names.end(), [](const Name& a, const Name& b) { return a.y < b.y; });
    const double step = kLineEm * text_size;
    for (std::size_t i = 1; i < names.size(); ++i) names[i].y = std::max(names[i].y, names[i - 1].y + step);
    // what was pushed out below comes back up, and pushes those above
    double most = frame.plot.bottom;
    for (std::size_t i = names.size(); i-- > 0;) {
        names[i].y = std::min(names[i].y, most);
        most = names[i].y - step;
    }
    for (const Name& name : names)
        canvas.text({frame.plot.right + 0.4 * text_size, name.y}, name.series->name, text_size, name.series->colour);
}

}  // namespace

void draw_chart(Canvas& canvas, const CanvasRect& where, const Chart& chart, double text_size) {
    const Frame frame = frame_of(canvas, where, chart, text_size);
    for (const ChartBand& band : chart.bands) draw_band(canvas, frame, band);
    for (const ChartSeries& series : chart.series) draw_series(canvas, frame, series, text_size);
    for (const ChartRule& rule : chart.rules) draw_rule(canvas, frame, rule, text_size);
    draw_frame(canvas, frame.plot);
    draw_axis_below(canvas, frame.plot, frame.x, chart.x_title, text_size);
    draw_axis_left(canvas, frame.plot, frame.y, chart.y_title, text_size, kTicks);
    draw_names(canvas, frame, chart, text_size);
}

void draw_bars(Canvas& canvas, const CanvasRect& where, const std::vector<Bar>& bars, const std::string& title,
               double text_size) {
    double name_width = 0.0, label_width = 0.0, most = 0.0;
    for (const Bar& bar : bars) {
        name_width = std::max(name_width, canvas.text_width(bar.name, text_size));
        label_width = std::max(label_width, canvas.text_width(bar.label, text_size));
        most = std::max(most, bar.value);
    }
    const CanvasRect plot{where.left + name_width + 0.8 * text_size, where.top,
                          where.right - label_width - 0.8 * text_size, where.bottom - 3.0 * text_size};
    const Scale x{0.0, most > 0.0 ? most : 1.0, plot.left, plot.right};
    const double step = plot.height() / static_cast<double>(std::max<std::size_t>(1, bars.size()));
    for (std::size_t i = 0; i < bars.size(); ++i) {
        const double middle = plot.top + (static_cast<double>(i) + 0.5) * step, half = std::min(0.32 * step, text_size);
        const double base = middle + 0.35 * text_size;
        draw_box(canvas, {plot.left, middle - half, x.at(bars[i].value), middle + half}, kBlue);
        canvas.text({plot.left - 0.4 * text_size, base}, bars[i].name, text_size, kInk, TextAlign::right);
        canvas.text({x.at(bars[i].value) + 0.4 * text_size, base}, bars[i].label, text_size, kInk);
    }
    draw_frame(canvas, plot);
    draw_axis_below(canvas, plot, x, title, text_size);
}

}  // namespace view
