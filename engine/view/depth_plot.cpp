#include "engine/view/depth_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/view/plot_axes.hpp"

namespace view {

namespace {

using sim::kMm;

struct LayerLook {
    std::string_view name;
    Colour colour;
};
// plausible tissue colours, assumed
constexpr std::array<LayerLook, sim::kTissueLayers> kLooks{{{"skin", {0.93, 0.80, 0.73}},
                                                            {"superficial fat", {0.98, 0.92, 0.70}},
                                                            {"SMAS / platysma", {0.80, 0.74, 0.76}},
                                                            {"deep fat", {0.95, 0.86, 0.60}},
                                                            {"muscle", {0.82, 0.58, 0.53}}}};
constexpr Colour kPatternInk{0.45, 0.36, 0.30, 0.55};
constexpr Colour kShaft{0.30, 0.32, 0.35};

struct Frame {
    CanvasRect plot, strip;
    Scale x, depth, clearance;
    double text = 14.0;
};

double deepest_shown_m(const DepthTrace& trace) {
    double deepest_m = 0.0;
    for (const DepthSample& sample : trace.samples)
        deepest_m =
            std::max({deepest_m, sample.bottom_m[2] + 2.0 * kMm, sample.deepest_m + trace.shaft_radius_m + 1.0 * kMm});
    return deepest_m;
}

Frame frame_of(const CanvasRect& where, const DepthTrace& trace, double text) {
    constexpr double kClearanceShownMm = 6.0;
    Frame frame;
    frame.text = text;
    const double left = where.left + 3.6 * text, right = where.right - 8.6 * text;
    const double strip_height = 3.6 * text;
    const double strip_bottom = where.bottom - 3.0 * text;
    frame.strip = {left, strip_bottom - strip_height, right, strip_bottom};
    frame.plot = {left, where.top + 1.6 * text, right, frame.strip.top - 1.0 * text};
    const double length_mm = std::max(trace.samples.back().along_m + 0.5 * kMm, trace.planned_m) / kMm;
    frame.x = {0.0, length_mm, left, right};
    frame.depth = {0.0, deepest_shown_m(trace) / kMm, frame.plot.top, frame.plot.bottom};
    frame.clearance = {0.0, kClearanceShownMm, frame.strip.bottom, frame.strip.top};
    return frame;
}

double bottom_mm(const DepthSample& sample, std::size_t layer) { return sample.bottom_m[layer] / kMm; }

/// Depth of a layer's bottom at a place, straight between samples.
double bottom_mm_at(const DepthTrace& trace, std::size_t layer, double along_mm) {
    const auto after = std::find_if(trace.samples.begin(), trace.samples.end(),
                                    [&](const DepthSample& s) { return s.along_m / kMm >= along_mm; });
    if (after == trace.samples.begin()) return bottom_mm(trace.samples.front(), layer);
    if (after == trace.samples.end()) return bottom_mm(trace.samples.back(), layer);
    const DepthSample &a = *(after - 1), &b = *after;
    const double t = (along_mm - a.along_m / kMm) / ((b.along_m - a.along_m) / kMm);
    return bottom_mm(a, layer) + t * (bottom_mm(b, layer) - bottom_mm(a, layer));
}

void fill_layer(Canvas& canvas, const Frame& frame, const DepthTrace& trace, std::size_t layer) {
    const double floor_mm = frame.depth.high;
    const auto point = [&](double along_mm, double depth_mm) {
        return CanvasPoint{frame.x.at(along_mm), frame.depth.at(std::min(depth_mm, floor_mm))};
    };
    const auto quad = [&](double from_mm, double to_mm, const DepthSample& a, const DepthSample& b) {
        const auto top = [&](const DepthSample& s) { return layer == 0 ? 0.0 : bottom_mm(s, layer - 1); };
        const std::array<CanvasPoint, 4> corners{{point(from_mm, top(a)), point(to_mm, top(b)),
                                                  point(to_mm, bottom_mm(b, layer)),
                                                  point(from_mm, bottom_mm(a, layer))}};
        canvas.fill(corners, kLooks[layer].colour);
    };
    const auto& samples = trace.samples;
    quad(0.0, samples.front().along_m / kMm, samples.front(), samples.front());
    for (std::size_t i = 1; i < samples.size(); ++i)
        quad(samples[i - 1].along_m / kMm, samples[i].along_m / kMm, samples[i - 1], samples[i]);
    quad(samples.back().along_m / kMm, frame.x.high, samples.back(), samples.back());
}

/// A mark of the layer's own pattern, so that layers can be told apart in grey.
void draw_mark(Canvas& canvas, std::size_t layer, double x, double y, double size) {
    const auto stroke = [&](double dx, double dy) {
        const std::array<CanvasPoint, 2> ends{{{x - dx, y - dy}, {x + dx, y + dy}}};
        canvas.line(ends, kPatternInk, 0.07 * size + 0.4);
    };
    switch (layer) {
        case 0:
            stroke(0.0, 0.14 * size);
            break;  // skin: upright dashes
        case 1:
            stroke(0.05 * size, 0.0);
            break;  // superficial fat: dots
        case 2:
            stroke(0.16 * size, -0.16 * size);
            break;  // SMAS: slanted strokes
        case 3:
            stroke(0.1 * size, 0.0), stroke(0.0, 0.1 * size);
            break;  // deep fat: crosses
        default:
            stroke(0.35 * size, 0.0);
            break;  // muscle: long fibres
    }
}

void draw_patterns(Canvas& canvas, const Frame& frame, const DepthTrace& trace) {
    const double step = 0.62 * frame.text, edge = 0.18 * frame.text;
    bool odd = false;
    for (double y = frame.plot.top + 0.5 * step; y < frame.plot.bottom; y += 0.62 * step, odd = !odd)
        for (double x = frame.plot.left + (odd ? 1.0 : 0.5) * step; x < frame.plot.right - edge; x += step) {
            const double along_mm = (x - frame.x.at_low) / (frame.x.at_high - frame.x.at_low) * frame.x.high;
            double top = frame.plot.top;
            for (std::size_t layer = 0; layer < sim::kTissueLayers; ++layer) {
                const double bottom = std::min(frame.depth.at(bottom_mm_at(trace, layer, along_mm)), frame.plot.bottom);
                if (y > top + edge && y < bottom - edge) draw_mark(canvas, layer, x, y, frame.text);
                top = bottom;
            }
        }
}

void draw_layers(Canvas& canvas, const Frame& frame, const DepthTrace& trace) {
    for (std::size_t layer = 0; layer < sim::kTissueLayers; ++layer) fill_layer(canvas, frame, trace, layer);
    draw_patterns(canvas, frame, trace);
    double last_y = frame.plot.top - 2.0 * frame.text;
    for (std::size_t layer = 0; layer < sim::kTissueLayers; ++layer) {
        const DepthSample& end = trace.samples.back();
        const double top_mm = layer == 0 ? 0.0 : bottom_mm(end, layer - 1);
        if (top_mm >= frame.depth.high) break;
        const double middle = frame.depth.at(0.5 * (top_mm + std::min(bottom_mm(end, layer), frame.depth.high)));
        const double y = std::max(middle + 0.35 * frame.text, last_y + 1.1 * frame.text);
        canvas.text({frame.plot.right + 0.5 * frame.text, y}, kLooks[layer].name, frame.text, kInk);
        last_y = y;
    }
}

void draw_band(Canvas& canvas, const Frame& frame, const DepthTrace& trace) {
    std::vector<CanvasPoint> top, bottom;
    for (const DepthSample& sample : trace.samples) {
        if (sample.along_m < trace.ramp_m) continue;
        const double x = frame.x.at(sample.along_m / kMm);
        // limits of the wall, not of the axis: what is drawn is the shaft at its true thickness
        top.push_back({x, frame.depth.at((sample.band.top_m - trace.shaft_radius_m) / kMm)});
        bottom.push_back({x, frame.depth.at((sample.band.bottom_m + trace.shaft_radius_m) / kMm)});
    }
    if (top.size() < 2) return;
    std::vector<CanvasPoint> outline = top;
    outline.insert(outline.end(), bottom.rbegin(), bottom.rend());
    canvas.fill(outline, {1.0, 1.0, 1.0, 0.45});
    canvas.line(top, kBlue, 1.6);
    canvas.line(bottom, kBlue, 1.6);
    canvas.text({top.front().x + 0.3 * frame.text, top.front().y + 1.05 * frame.text}, "target band", frame.text,
                kBlue);
}

/// The shaft at true thickness; out of band in vermilion with white slashes, so that grey shows it too.
void draw_shaft(Canvas& canvas, const Frame& frame, const DepthTrace& trace) {
    const auto& samples = trace.samples;
    const double radius_mm = trace.shaft_radius_m / kMm;
    const auto top = [&](const DepthSample& s) {
        return std::max(frame.plot.top, frame.depth.at(s.shallowest_m / kMm - radius_mm));
    };
    const auto bottom = [&](const DepthSample& s) {
        return std::min(frame.plot.bottom, frame.depth.at(s.deepest_m / kMm + radius_mm));
    };
    const auto is_out = [&](const DepthSample& s) { return s.along_m > trace.ramp_m && std::abs(s.excess_m()) > 1e-9; };
    for (std::size_t i = 0; i + 1 < samples.size(); ++i) {
        const DepthSample &a = samples[i], &b = samples[i + 1];
        // a hair of overlap, so that no seam shows between neighbours
        const double left = frame.x.at(a.along_m / kMm), right = frame.x.at(b.along_m / kMm) + 0.2;
        const bool out = is_out(a) && is_out(b);
        const std::array<CanvasPoint, 4> corners{
            {{left, top(a)}, {right, top(b)}, {right, bottom(b)}, {left, bottom(a)}}};
        canvas.fill(corners, out ? kVermilion : kShaft);
        if (!out) continue;
        const std::array<CanvasPoint, 2> slash{{{left, bottom(a)}, {right, top(b)}}};
        canvas.line(slash, {1.0, 1.0, 1.0, 0.9}, 0.8);
    }
}

void draw_excursion_labels(Canvas& canvas, const Frame& frame, const DepthTrace& trace) {
    const auto& samples = trace.samples;
    double free_from = frame.plot.left;
    for (std::size_t i = 0; i < samples.size();) {
        const double excess_m = samples[i].along_m > trace.ramp_m ? samples[i].excess_m() : 0.0;
        if (std::abs(excess_m) <= 1e-9) {
            ++i;
            continue;
        }
        std::size_t end = i;
        double worst_m = 0.0;
        while (end < samples.size() && samples[end].excess_m() * excess_m > 0.0) {
            worst_m = std::max(worst_m, std::abs(samples[end].excess_m()));
            ++end;
        }
        const double x = 0.5 * (frame.x.at(samples[i].along_m / kMm) + frame.x.at(samples[end - 1].along_m / kMm));
        const std::string words = fmt::format("{:.1f} mm too {}", worst_m / kMm, excess_m < 0.0 ? "shallow" : "deep");
        const double half = 0.5 * canvas.text_width(words, frame.text);
        const double centre = std::clamp(x, frame.plot.left + half, frame.plot.right - half);
        if (centre - half >= free_from) {
            canvas.text({centre, frame.plot.top - 0.4 * frame.text}, words, frame.text, kVermilion, TextAlign::centre);
            free_from = centre + half + 0.5 * frame.text;
        }
        i = end;
    }
}

void draw_clearance(Canvas& canvas, const Frame& frame, const DepthTrace& trace) {
    draw_box(canvas, frame.strip, kPaper);
    for (const auto& [limit_mm, words] : {std::pair{3.0, "3 mm"}, std::pair{1.0, "1 mm"}}) {
        const double y = frame.clearance.at(limit_mm);
        const std::array<CanvasPoint, 2> rule{{{frame.strip.left, y}, {frame.strip.right, y}}};
        canvas.line(rule, kGrid, 1.0);
        canvas.text({frame.strip.left - 0.5 * frame.text, y + 0.35 * frame.text}, words, frame.text, kInk,
                    TextAlign::right);
    }
    std::vector<CanvasPoint> run;
    const DepthSample* least = nullptr;
    const auto flush = [&] {
        if (run.size() > 1) canvas.line(run, kGreen, 2.2);
        run.clear();
    };
    for (const DepthSample& sample : trace.samples) {
        if (!sample.clearance_m || *sample.clearance_m / kMm > frame.clearance.high) {
            flush();
            continue;
        }
        run.push_back({frame.x.at(sample.along_m / kMm), frame.clearance.at(std::max(0.0, *sample.clearance_m / kMm))});
        if (least == nullptr || *sample.clearance_m < *least->clearance_m) least = &sample;
    }
    flush();
    canvas.text({frame.strip.right + 0.5 * frame.text, frame.strip.top + 1.2 * frame.text}, "clearance", frame.text,
                kGreen);
    const std::string words = least == nullptr
                                  ? "nothing within 6 mm"
                                  : fmt::format("{}: {:.1f} mm", least->structure, *least->clearance_m / kMm);
    const double at_x = least == nullptr ? frame.strip.left : frame.x.at(least->along_m / kMm);
    const double width = canvas.text_width(words, frame.text);
    const double x = std::clamp(at_x - 0.5 * width, frame.strip.left + 3.0, frame.strip.right - width - 3.0);
    canvas.text({x, frame.strip.top + 1.1 * frame.text}, words, frame.text, kInk);
}

}  // namespace

void draw_depth_trace(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace, const PlotStyle& style) {
    if (trace.samples.empty()) {
        canvas.text({where.left, where.top + 1.5 * style.text_size}, "No track was made.", style.text_size, kInk);
        return;
    }
    const Frame frame = frame_of(where, trace, style.text_size);
    draw_layers(canvas, frame, trace);
    draw_band(canvas, frame, trace);
    draw_shaft(canvas, frame, trace);
    draw_excursion_labels(canvas, frame, trace);
    draw_axis_left(canvas, frame.plot, frame.depth, "Depth (mm)", frame.text, 5);
    draw_clearance(canvas, frame, trace);
    draw_axis_below(canvas, frame.strip, frame.x, "Distance from the entry along the track (mm)", frame.text);
    if (!style.cursor_m) return;
    const double x = frame.x.at(*style.cursor_m / kMm);
    const std::array<CanvasPoint, 2> cursor{{{x, frame.plot.top}, {x, frame.strip.bottom}}};
    canvas.line(cursor, kInk, 1.2);
    canvas.text({where.left + 3.6 * frame.text, where.top + frame.text}, moment_words(trace, *style.cursor_m),
                frame.text, kInk);
}

void draw_force_curve(Canvas& canvas, const CanvasRect& where, const ForceCurve& curve, const PlotStyle& style) {
    const double text = style.text_size;
    if (curve.samples.size() < 2) {
        canvas.text({where.left, where.top + 1.5 * text}, "No force was recorded.", text, kInk);
        return;
    }
    const CanvasRect plot{where.left + 3.6 * text, where.top + 0.6 * text, where.right - 8.6 * text,
                          where.bottom - 3.0 * text};
    double most_n = 1.0;
    for (const auto& sample : curve.samples) most_n = std::max(most_n, 1.1 * sample.hand_n);
    const Scale x{0.0, curve.samples.back().along_m / kMm, plot.left, plot.right};
    const Scale y{0.0, most_n, plot.bottom, plot.top};
    draw_box(canvas, plot, kPaper);
    const auto draw = [&](double ForceCurve::Sample::*part, const Colour& colour, double width) {
        std::vector<CanvasPoint> points;
        for (const auto& sample : curve.samples)
            points.push_back({x.at(sample.along_m / kMm), y.at(std::clamp(sample.*part, 0.0, most_n))});
        canvas.line(points, colour, width);
    };
    draw(&ForceCurve::Sample::tip_n, kBlue, 1.2);
    draw(&ForceCurve::Sample::hand_n, kInk, 2.2);
    const auto& end = curve.samples.back();
    const double hand_y = y.at(end.hand_n) + 0.35 * text;
    const double tip_y = std::max(y.at(std::max(0.0, end.tip_n)) + 0.35 * text, hand_y + 1.1 * text);
    canvas.text({plot.right + 0.5 * text, hand_y}, "hand", text, kInk);
    canvas.text({plot.right + 0.5 * text, tip_y}, "tip", text, kBlue);
    draw_axis_left(canvas, plot, y, "Force (N)", text, 4);
    draw_axis_below(canvas, plot, x, "Distance from the entry along the track (mm)", text);
}

}  // namespace view
