#include "engine/view/depth_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "engine/view/depth_plot_parts.hpp"

namespace view {

namespace {

using sim::kMm;

constexpr Colour kShaft{0.27, 0.30, 0.34};
constexpr Colour kAxis{0.96, 0.97, 0.98};
constexpr Colour kHalo{1.0, 1.0, 1.0, 0.92};
constexpr double kAheadShare = 0.5;  // of the band's ink where the tip has not been
constexpr Colour kVermilionText{0.64, 0.28, 0.0};

double deepest_shown_m(const DepthTrace& trace, const PlotStyle& style) {
    double deepest_m = 0.0;
    const auto take = [&](const DepthTrace& one) {
        for (const DepthSample& s : one.samples)
            deepest_m = std::max({deepest_m, s.bottom_m[2] + 1.5 * kMm, s.deepest_m + one.shaft_radius_m + 1.0 * kMm});
    };
    take(trace);
    for (const BesideTrace& beside : style.beside) take(beside.trace);
    return deepest_m;
}

PlotFrame frame_of(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace, const PlotStyle& style) {
    const double text = style.text_size;
    PlotFrame frame;
    frame.text = text;
    frame.hair = std::max(0.7, text / 14.0);
    const double left = where.left + 3.3 * text;
    const double right = where.right - edge_label_width(canvas, text) - (kLabelEm + 0.1) * text;
    const double strip_bottom = where.bottom - 1.6 * text;
    const double strip_height = std::clamp(0.17 * where.height(), 2.1 * text, 4.5 * text);
    DepthPlotPlaces& at = frame.places;
    at.strip = {left, strip_bottom - strip_height, right, strip_bottom};
    at.plot = {left, where.top + 0.5 * text, right, at.strip.top - 0.55 * text};
    const double length_mm = std::max(trace.samples.back().along_m + 0.5 * kMm, trace.planned_m) / kMm;
    at.along_mm = {0.0, length_mm, left, right};
    at.depth_mm = {0.0, deepest_shown_m(trace, style) / kMm, at.plot.top, at.plot.bottom};
    at.clearance_mm = {0.0, kClearanceShownMm, at.strip.bottom, at.strip.top};
    return frame;
}

/// Limits of the wall, not of the axis: what is drawn is the shaft at its true thickness.
struct BandEdges {
    std::vector<CanvasPoint> top, bottom;
    std::size_t ahead = 0;  ///< first point of the part that the tip has not reached
};
void extend(BandEdges& edges, const PlotFrame& frame, const DepthTrace& trace, const DepthSample& sample,
            double along_m) {
    const double x = frame.places.along_mm.at(along_m / kMm);
    edges.top.push_back({x, frame.places.depth_mm.at((sample.band.top_m - trace.shaft_radius_m) / kMm)});
    edges.bottom.push_back({x, frame.places.depth_mm.at((sample.band.bottom_m + trace.shaft_radius_m) / kMm)});
}

BandEdges band_edges(const PlotFrame& frame, const DepthTrace& trace) {
    BandEdges edges;
    for (const DepthSample& sample : trace.samples)
        if (sample.along_m >= trace.ramp_m) extend(edges, frame, trace, sample, sample.along_m);
    // ahead of the tip to the planned end, as the last layers that were met go on: a target is seen before it is
    // reached
    const DepthSample& last = trace.samples.back();
    edges.ahead = edges.top.size();
    if (trace.planned_m > std::max(last.along_m, trace.ramp_m)) {
        if (last.along_m < trace.ramp_m) extend(edges, frame, trace, last, trace.ramp_m);
        extend(edges, frame, trace, last, trace.planned_m);
    }
    return edges;
}

void draw_band(Canvas& canvas, const PlotFrame& frame, const BandEdges& edges) {
    if (edges.top.size() < 2) return;
    const auto fill = [&](std::size_t first, std::size_t end, const Colour& colour) {
        if (end < first + 2) return;
        const auto from = static_cast<std::ptrdiff_t>(first), to = static_cast<std::ptrdiff_t>(end);
        std::vector<CanvasPoint> outline(edges.top.begin() + from, edges.top.begin() + to);
        outline.insert(outline.end(), std::make_reverse_iterator(edges.bottom.begin() + to),
                       std::make_reverse_iterator(edges.bottom.begin() + from));
        canvas.fill(outline, colour);
    };
    Colour faint = kTargetFill;
    faint.alpha *= kAheadShare;
    fill(0, edges.ahead, kTargetFill);
    fill(edges.ahead == 0 ? 0 : edges.ahead - 1, edges.top.size(), faint);
    const std::array<double, 2> dashes{0.75 * frame.text, 0.4 * frame.text};
    draw_dashed(canvas, edges.top, dashes, kTargetLine, 1.8 * frame.hair);
    draw_dashed(canvas, edges.bottom, dashes, kTargetLine, 1.8 * frame.hair);
}

/// Upper and lower wall over a run of samples, grown by so much.
struct Walls {
    std::vector<CanvasPoint> top, bottom;
};
Walls walls_of(const PlotFrame& frame, const DepthTrace& trace, std::size_t first, std::size_t last, double grow) {
    const CanvasRect& plot = frame.places.plot;
    const double radius_mm = trace.shaft_radius_m / kMm;
    Walls walls;
    for (std::size_t i = first; i <= last; ++i) {
        const DepthSample& s = trace.samples[i];
        const double x = frame.places.along_mm.at(s.along_m / kMm);
        const auto y = [&](double depth_mm, double by) {
            return std::clamp(frame.places.depth_mm.at(depth_mm) + by, plot.top, plot.bottom);
        };
        walls.top.push_back({x, y(s.shallowest_m / kMm - radius_mm, -grow)});
        walls.bottom.push_back({x, y(s.deepest_m / kMm + radius_mm, grow)});
    }
    if (last + 1 == trace.samples.size() && last > 0) {
        // a sample in the middle of a piece stands for the whole of it, to where the track ends
        const double along_mm = trace.samples[last].along_m / kMm;
        const double half_mm = std::min(0.5, 0.5 * (along_mm - trace.samples[last - 1].along_m / kMm));
        const double x = frame.places.along_mm.at(std::min(along_mm + half_mm, frame.places.along_mm.high));
        walls.top.push_back({x, walls.top.back().y});
        walls.bottom.push_back({x, walls.bottom.back().y});
    }
    return walls;
}

void fill_walls(Canvas& canvas, const Walls& walls, const Colour& colour, double edge) {
    std::vector<CanvasPoint> outline = walls.top;
    outline.insert(outline.end(), walls.bottom.rbegin(), walls.bottom.rend());
    canvas.fill(outline, colour);
    canvas.line(walls.top, colour, edge);
    canvas.line(walls.bottom, colour, edge);
}

bool out_of_band(const DepthTrace& trace, std::size_t i) {
    return trace.samples[i].along_m > trace.ramp_m && std::abs(trace.samples[i].excess_m()) > 1e-9;
}

/// A stretch out of band on one side.
struct Excursion {
    std::size_t first = 0, last = 0, worst = 0;
    bool deep = false;
};

std::vector<Excursion> excursions_of(const DepthTrace& trace) {
    std::vector<Excursion> out;
    for (std::size_t i = 0; i < trace.samples.size(); ++i) {
        if (!out_of_band(trace, i)) continue;
        const bool deep = trace.samples[i].excess_m() > 0.0;
        if (out.empty() || out.back().last + 1 != i || out.back().deep != deep) out.push_back({i, i, i, deep});
        out.back().last = i;
        if (std::abs(trace.samples[i].excess_m()) > std::abs(trace.samples[out.back().worst].excess_m()))
            out.back().worst = i;
    }
    return out;
}

/// The shaft at true thickness, its axis as a light line; where it left the band in vermilion with white slashes, so
/// that grey shows it too.
void draw_shaft(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace,
                const std::vector<Excursion>& excursions) {
    const std::size_t last = trace.samples.size() - 1;
    if (last == 0) return;
    fill_walls(canvas, walls_of(frame, trace, 0, last, 1.8 * frame.hair), kHalo, frame.hair);
    fill_walls(canvas, walls_of(frame, trace, 0, last, 0.0), kShaft, frame.hair);
    for (const Excursion& one : excursions) {
        const Walls walls =
            walls_of(frame, trace, one.first > 0 ? one.first - 1 : 0, std::min(last, one.last + 1), 0.0);
        fill_walls(canvas, walls, kVermilion, frame.hair);
        const double step = 0.55 * frame.text;
        double next_x = walls.top.front().x;
        for (std::size_t i = 0; i < walls.top.size(); ++i) {
            if (walls.top[i].x < next_x) continue;
            next_x = walls.top[i].x + step;
            const double lean = 0.3 * (walls.bottom[i].y - walls.top[i].y);
            const std::array<CanvasPoint, 2> slash{
                {{walls.bottom[i].x - lean, walls.bottom[i].y}, {walls.top[i].x + lean, walls.top[i].y}}};
            canvas.line(slash, kHalo, 1.2 * frame.hair);
        }
    }
    std::vector<CanvasPoint> axis;
    for (const DepthSample& s : trace.samples)
        axis.push_back(
            {frame.places.along_mm.at(s.along_m / kMm),
             std::clamp(frame.places.depth_mm.at(s.told_m() / kMm), frame.places.plot.top, frame.places.plot.bottom)});
    canvas.line(axis, kAxis, 1.2 * frame.hair);
}

void draw_beside(Canvas& canvas, const PlotFrame& frame, const BesideTrace& beside, std::vector<CanvasPoint>& line) {
    for (const DepthSample& s : beside.trace.samples)
        if (s.along_m / kMm <= frame.places.along_mm.high)
            line.push_back({frame.places.along_mm.at(s.along_m / kMm),
                            std::clamp(frame.places.depth_mm.at(s.told_m() / kMm), frame.places.plot.top,
                                       frame.places.plot.bottom)});
    if (line.size() < 2) return;
    const BesideLook& look = look_of(beside.look);
    std::vector<double> pattern;
    for (const double em : look.pattern_em) pattern.push_back(em * frame.text);
    canvas.line(line, kHalo, 5.0 * frame.hair);
    draw_dashed(canvas, line, pattern, look.colour, 2.6 * frame.hair);
}

CanvasRect around(const CanvasPoint& a, const CanvasPoint& b, double grow) {
    return {std::min(a.x, b.x) - grow, std::min(a.y, b.y) - grow, std::max(a.x, b.x) + grow, std::max(a.y, b.y) + grow};
}

/// Words beside the data: what must not be covered is blocked first, then the most important label chooses first.
class PlotLabels {
 public:
    PlotLabels(Canvas& canvas, const PlotFrame& frame)
        : canvas_(canvas),
          frame_(frame),
          placer_({frame.places.plot.left + 2.0, frame.places.plot.top + 2.0, frame.places.plot.right - 2.0,
                   frame.places.plot.bottom - 2.0}) {}

    void block_walls(const Walls& walls) {
        for (std::size_t i = 0; i + 1 < walls.top.size(); ++i)
            placer_.block({walls.top[i].x, std::min(walls.top[i].y, walls.top[i + 1].y) - 2.0, walls.top[i + 1].x,
                           std::max(walls.bottom[i].y, walls.bottom[i + 1].y) + 2.0});
    }
    void block_line(std::span<const CanvasPoint> line) {
        for (std::size_t i = 0; i + 1 < line.size(); ++i)
            placer_.block(around(line[i], line[i + 1], 2.0 * frame_.hair));
    }
    void block(const CanvasRect& rect) { placer_.block(rect); }

    /// @return where it was put; nothing when there was no room
    std::optional<CanvasRect> put(const std::string& words, std::span<const CanvasPoint> wanted, const Colour& ink) {
        const auto rect = placer_.place(pill_width(canvas_, words, frame_.text), pill_height(frame_.text), wanted);
        if (rect) draw_pill(canvas_, *rect, words, frame_.text, ink);
        return rect;
    }

 private:
    Canvas& canvas_;
    const PlotFrame& frame_;
    LabelPlacer placer_;
};

/// Rings of places around a point, above or below first.
std::vector<CanvasPoint> places_near(const CanvasPoint& at, double text, bool above_first, double plot_width) {
    std::vector<CanvasPoint> out;
    for (double far = 1.3; far < 9.0; far += 0.7)
        for (const double side : {0.0, 2.0, -2.0, 5.0, -5.0, 9.0, -9.0})
            for (const bool above : {above_first, !above_first}) {
                const double dx = std::clamp(side * text, -0.5 * plot_width, 0.5 * plot_width);
                out.push_back({at.x + dx, at.y + (above ? -far : far) * text});
            }
    return out;
}

/// Each sample stands for its share of the way: pieces of a closed track for 1 mm, rows of an open one for less.
double stretch_m(const DepthTrace& trace, std::size_t first, std::size_t last) {
    const auto along_m = [&](std::size_t i) { return trace.samples[i].along_m; };
    const double before_m = first > 0 ? along_m(first) - along_m(first - 1) : 2.0 * along_m(0);
    return along_m(last) - along_m(first) + before_m;
}

void label_excursions(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace,
                      std::vector<Excursion> excursions, PlotLabels& labels) {
    // the worst first: it must find room
    std::stable_sort(excursions.begin(), excursions.end(), [&](const Excursion& a, const Excursion& b) {
        return std::abs(trace.samples[a.worst].excess_m()) > std::abs(trace.samples[b.worst].excess_m());
    });
    for (const Excursion& one : excursions) {
        const DepthSample& worst = trace.samples[one.worst];
        const double length_mm = stretch_m(trace, one.first, one.last) / kMm;
        const std::string words = fmt::format("{:.1f} mm too {} for {:.0f} mm", std::abs(worst.excess_m()) / kMm,
                                              one.deep ? "deep" : "shallow", length_mm);
        const double wall_mm =
            (one.deep ? worst.deepest_m + trace.shaft_radius_m : worst.shallowest_m - trace.shaft_radius_m) / kMm;
        const CanvasPoint at{frame.places.along_mm.at(worst.along_m / kMm), frame.places.depth_mm.at(wall_mm)};
        const auto rect =
            labels.put(words, places_near(at, frame.text, !one.deep, frame.places.plot.width()), kVermilionText);
        if (!rect) continue;
        const CanvasPoint from{std::clamp(at.x, rect->left + 3.0, rect->right - 3.0),
                               rect->bottom <= at.y ? rect->bottom : rect->top};
        const std::array<CanvasPoint, 2> leader{{from, at}};
        canvas.line(leader, kVermilionText, 1.2 * frame.hair);
        labels.block_line(leader);
    }
}

/// In the band where the shaft leaves room, else just outside it. @return false when there is none
bool label_band(const PlotFrame& frame, const BandEdges& edges, PlotLabels& labels) {
    if (edges.top.size() < 2) return true;
    std::vector<CanvasPoint> inside, outside;
    const double half = 0.5 * pill_height(frame.text) + 1.0;
    const std::size_t count = edges.top.size(), stride = std::max<std::size_t>(1, count / 24);
    // from the middle outwards
    for (std::size_t k = 0; k < count; k += stride) {
        const std::size_t i =
            k % (2 * stride) == 0 ? count / 2 + k / 2 : count / 2 - std::min(count / 2, (k + stride) / 2);
        const std::size_t at = std::min(i, count - 1);
        const double x = edges.top[at].x, top = edges.top[at].y, bottom = edges.bottom[at].y;
        for (const double y : {bottom - half, top + half, 0.5 * (top + bottom)}) inside.push_back({x, y});
        for (const double y : {bottom + half, top - half}) outside.push_back({x, y});
    }
    inside.insert(inside.end(), outside.begin(), outside.end());
    return labels.put("target band", inside, kTargetLine).has_value();
}

void label_beside(const PlotFrame& frame, const BesideTrace& beside, std::span<const CanvasPoint> line,
                  PlotLabels& labels) {
    if (line.size() < 2) return;
    std::vector<CanvasPoint> wanted;
    for (std::size_t k = 1; k <= 10; ++k) {
        const CanvasPoint& at = line[(line.size() - 1) * (11 - k) / 11];
        for (const double far : {1.0, -1.0, 1.7, -1.7, 2.6, -2.6}) wanted.push_back({at.x, at.y + far * frame.text});
    }
    static_cast<void>(labels.put(beside.name, wanted, look_of(beside.look).colour));
}

void label_numbers(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace, const PlotStyle& style,
                   PlotLabels& labels) {
    for (const NumberedPlace& place : style.numbered) {
        const auto near =
            std::min_element(trace.samples.begin(), trace.samples.end(), [&](const auto& a, const auto& b) {
                return std::abs(a.along_m - place.along_m) < std::abs(b.along_m - place.along_m);
            });
        const CanvasPoint at{frame.places.along_mm.at(near->along_m / kMm),
                             frame.places.depth_mm.at((near->shallowest_m - trace.shaft_radius_m) / kMm)};
        std::vector<CanvasPoint> wanted;
        for (double far = 1.0; far < 4.0; far += 0.5)
            for (const double side : {0.0, 1.2, -1.2, 2.4, -2.4})
                for (const double way : {-1.0, 1.0})
                    wanted.push_back({at.x + side * frame.text, at.y + way * far * frame.text});
        const auto rect = labels.put(fmt::format("{}", place.number), wanted, place.selected ? kBlue : kInk);
        if (!rect) continue;
        const std::array<CanvasPoint, 5> box{{{rect->left, rect->top},
                                              {rect->right, rect->top},
                                              {rect->right, rect->bottom},
                                              {rect->left, rect->bottom},
                                              {rect->left, rect->top}}};
        canvas.line(box, place.selected ? kBlue : kInk, (place.selected ? 2.0 : 1.0) * frame.hair);
    }
}

void draw_cursor(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace, double along_m) {
    const DepthPlotPlaces& at = frame.places;
    const double x = at.along_mm.at(std::clamp(along_m / kMm, 0.0, at.along_mm.high));
    const std::array<CanvasPoint, 2> line{{{x, at.plot.top}, {x, at.strip.bottom}}};
    canvas.line(line, kHalo, 4.5 * frame.hair);
    canvas.line(line, kBlue, 2.2 * frame.hair);
    const auto near = std::min_element(trace.samples.begin(), trace.samples.end(), [&](const auto& a, const auto& b) {
        return std::abs(a.along_m - along_m) < std::abs(b.along_m - along_m);
    });
    const double y = std::clamp(at.depth_mm.at(near->told_m() / kMm), at.plot.top, at.plot.bottom);
    for (const auto& [radius, colour] : {std::pair{0.48, kHalo}, std::pair{0.38, kBlue}, std::pair{0.20, kHalo}}) {
        std::vector<CanvasPoint> disc;
        constexpr int kPoints = 20;
        for (int i = 0; i < kPoints; ++i) {
            const double angle = 2.0 * sim::kPi * i / kPoints;
            disc.push_back({x + radius * frame.text * std::cos(angle), y + radius * frame.text * std::sin(angle)});
        }
        canvas.fill(disc, colour);
    }
}

}  // namespace

double DepthPlotPlaces::along_m_at(double x) const {
    const double share = (x - along_mm.at_low) / (along_mm.at_high - along_mm.at_low);
    return std::clamp(share, 0.0, 1.0) * along_mm.high * kMm;
}

const BesideLook& look_of(BesideTrace::Look look) {
    // Okabe and Ito 2008: blue, reddish purple and bluish green, the last two darkened to be read as text
    static const std::array<BesideLook, 3> kLooks{
        {{kBlue, {0.7, 0.35}}, {{0.58, 0.27, 0.45}, {0.16, 0.3}}, {{0.0, 0.41, 0.30}, {1.5, 0.3, 0.2, 0.3}}}};
    return kLooks[static_cast<std::size_t>(look)];
}

void draw_dashed(Canvas& canvas, std::span<const CanvasPoint> points, std::span<const double> pattern,
                 const Colour& colour, double width) {
    if (points.size() < 2 || pattern.empty()) return;
    std::size_t part = 0;
    double left = pattern[0];
    std::vector<CanvasPoint> stroke{points[0]};
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
        CanvasPoint at = points[i];
        double rest = std::hypot(points[i + 1].x - at.x, points[i + 1].y - at.y);
        while (rest > 0.0) {
            const double go = std::min(rest, left);
            const double t = go / rest;
            at = {at.x + t * (points[i + 1].x - at.x), at.y + t * (points[i + 1].y - at.y)};
            rest -= go;
            left -= go;
            if (part % 2 == 0) stroke.push_back(at);
            if (left > 1e-9) break;
            if (part % 2 == 0 && stroke.size() > 1) canvas.line(stroke, colour, width);
            part = (part + 1) % pattern.size();
            left = pattern[part];
            stroke.assign(1, at);
        }
    }
    if (part % 2 == 0 && stroke.size() > 1) canvas.line(stroke, colour, width);
}

void draw_depth_strip(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace, double text_size) {
    if (trace.samples.empty()) return;
    // a slope is not told flatter than this many times
    constexpr double kMostStretch = 2.0;
    PlotFrame frame;
    frame.text = text_size;
    frame.hair = std::max(0.7, text_size / 14.0);
    DepthPlotPlaces& at = frame.places;
    const double deepest_mm = deepest_shown_m(trace, {}) / kMm;
    // the first number of the axis stands half above the plot
    at.plot = {where.left + 2.2 * text_size, where.top + 0.4 * text_size,
               where.right - edge_label_width(canvas, text_size) - kLabelEm * text_size,
               where.bottom - 1.5 * text_size};
    const double per_mm = at.plot.height() / deepest_mm;
    at.along_mm = {0.0,
                   std::max({trace.samples.back().along_m / kMm + 0.5, trace.planned_m / kMm,
                             at.plot.width() / (kMostStretch * per_mm)}),
                   at.plot.left, at.plot.right};
    at.depth_mm = {0.0, deepest_mm, at.plot.top, at.plot.bottom};
    const BandEdges edges = band_edges(frame, trace);
    draw_layers(canvas, frame, trace);
    draw_band(canvas, frame, edges);
    draw_shaft(canvas, frame, trace, excursions_of(trace));
    draw_axis_left(canvas, at.plot, at.depth_mm, "", text_size, 3);
    draw_axis_below(canvas, at.plot, at.along_mm, "", text_size);
    canvas.text({at.plot.right + (kLabelEm + kAfterTickEm) * text_size, at.plot.bottom + 1.35 * text_size}, kAlongWords,
                text_size, kInk);
    std::vector<EdgeLabel> labels = layer_labels(frame, trace);
    if (!edges.top.empty()) {
        const double y = 0.5 * (edges.top.back().y + edges.bottom.back().y);
        const auto after = std::find_if(labels.begin(), labels.end(), [&](const EdgeLabel& l) { return l.y > y; });
        labels.insert(after, {"target band", y, kTargetLine});
    }
    // where there is no room for all, the deepest go without: nothing is placed there
    while (!labels.empty() && static_cast<double>(labels.size()) * 1.2 * text_size > at.plot.height() + 0.5 * text_size)
        labels.pop_back();
    draw_edge_labels(canvas, frame, labels);
}

DepthPlotPlaces draw_depth_trace(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace,
                                 const PlotStyle& style) {
    if (trace.samples.empty()) {
        canvas.text({where.left, where.top + 1.5 * style.text_size}, "No track was made.", style.text_size, kInk);
        return {};
    }
    const PlotFrame frame = frame_of(canvas, where, trace, style);
    const DepthPlotPlaces& at = frame.places;
    const std::vector<Excursion> excursions = excursions_of(trace);
    const BandEdges edges = band_edges(frame, trace);
    draw_layers(canvas, frame, trace);
    draw_band(canvas, frame, edges);
    draw_shaft(canvas, frame, trace, excursions);
    std::vector<std::vector<CanvasPoint>> lines(style.beside.size());
    for (std::size_t i = 0; i < style.beside.size(); ++i) draw_beside(canvas, frame, style.beside[i], lines[i]);

    draw_axis_left(canvas, at.plot, at.depth_mm, "Depth (mm)", frame.text, 5);
    draw_clearance(canvas, frame, trace, style);
    draw_axis_below(canvas, at.strip, at.along_mm, "", frame.text);
    canvas.text({at.strip.right + (kLabelEm + kAfterTickEm) * frame.text, at.strip.bottom + 1.35 * frame.text},
                kAlongWords, frame.text, kInk);

    PlotLabels labels(canvas, frame);
    labels.block_walls(walls_of(frame, trace, 0, trace.samples.size() - 1, 2.0 * frame.hair));
    for (const auto& line : lines) labels.block_line(line);
    const double cursor_x = at.along_mm.at(std::min(style.cursor_m.value_or(0.0) / kMm, at.along_mm.high));
    // read out first, over the cursor's line if need be
    std::optional<CanvasRect> read_out;
    std::string words;
    if (style.cursor_m && style.cursor_words) {
        words = moment_words(trace, *style.cursor_m);
        std::vector<CanvasPoint> wanted;
        for (double y = at.plot.top; y < at.plot.bottom; y += 0.5 * frame.text)
            for (const double x : {at.plot.right, at.plot.left, cursor_x}) wanted.push_back({x, y});
        read_out = labels.put(words, wanted, kInk);
    }
    if (style.cursor_m) labels.block({cursor_x - 3.0, at.plot.top, cursor_x + 3.0, at.plot.bottom});
    for (std::size_t i = 0; i < lines.size(); ++i) label_beside(frame, style.beside[i], lines[i], labels);
    label_excursions(canvas, frame, trace, excursions, labels);
    label_numbers(canvas, frame, trace, style, labels);
    const bool band_labelled = label_band(frame, edges, labels);
    std::vector<EdgeLabel> at_edge = layer_labels(frame, trace);
    if (!band_labelled) {
        const double y = 0.5 * (edges.top.back().y + edges.bottom.back().y);
        const auto after = std::find_if(at_edge.begin(), at_edge.end(), [&](const EdgeLabel& l) { return l.y > y; });
        at_edge.insert(after, {"target band", y, kTargetLine});
    }
    draw_edge_labels(canvas, frame, at_edge);

    if (style.cursor_m) draw_cursor(canvas, frame, trace, *style.cursor_m);
    if (read_out) draw_pill(canvas, *read_out, words, frame.text, kInk);
    return frame.places;
}

}  // namespace view
