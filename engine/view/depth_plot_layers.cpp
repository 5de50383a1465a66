#include <algorithm>
#include <cmath>

#include "engine/view/depth_plot_parts.hpp"

/// The ground of the depth plot: layers as tissue, each with a pattern of its own.

namespace view {

namespace {

using sim::kMm;

constexpr std::size_t kDrawn = sim::kTissueLayers + 1;  // and what lies under the muscle

struct LayerLook {
    std::string_view name;
    Colour colour;
};
// plausible tissue colours, assumed; neighbours differ in grey too
constexpr std::array<LayerLook, kDrawn> kLooks{{{"skin", {0.91, 0.76, 0.69}},
                                                {"superficial fat", {0.985, 0.93, 0.73}},
                                                {"SMAS or platysma", {0.74, 0.67, 0.68}},
                                                {"deep fat", {0.95, 0.84, 0.55}},
                                                {"muscle", {0.80, 0.55, 0.51}},
                                                {"floor", {0.90, 0.88, 0.83}}}};
constexpr Colour kPatternInk{0.36, 0.27, 0.22, 0.38};
constexpr Colour kNotMade{0.992, 0.988, 0.980, 0.62};

double bottom_mm(const DepthSample& sample, std::size_t layer) { return sample.bottom_m[layer] / kMm; }

/// Depth of every layer's bottom at a place, straight between samples.
std::array<double, sim::kTissueLayers> bottoms_mm_at(const DepthTrace& trace, double along_mm) {
    const auto& samples = trace.samples;
    const auto after = std::lower_bound(samples.begin(), samples.end(), along_mm * kMm,
                                        [](const DepthSample& s, double along_m) { return s.along_m < along_m; });
    const DepthSample& b = after == samples.end() ? samples.back() : *after;
    const DepthSample& a = after == samples.begin() ? samples.front() : *(after - 1);
    const double t =
        b.along_m > a.along_m ? std::clamp((along_mm * kMm - a.along_m) / (b.along_m - a.along_m), 0.0, 1.0) : 0.0;
    std::array<double, sim::kTissueLayers> out{};
    for (std::size_t layer = 0; layer < out.size(); ++layer)
        out[layer] = bottom_mm(a, layer) + t * (bottom_mm(b, layer) - bottom_mm(a, layer));
    return out;
}

/// A layer's bottom edge over the whole width.
std::vector<CanvasPoint> edge_of(const PlotFrame& frame, const DepthTrace& trace, std::size_t layer) {
    const DepthPlotPlaces& at = frame.places;
    const auto y = [&](const DepthSample& s) {
        return at.depth_mm.at(std::min(bottom_mm(s, layer), at.depth_mm.high));
    };
    std::vector<CanvasPoint> edge{{at.plot.left, y(trace.samples.front())}};
    for (const DepthSample& sample : trace.samples) edge.push_back({at.along_mm.at(sample.along_m / kMm), y(sample)});
    edge.push_back({at.plot.right, y(trace.samples.back())});
    return edge;
}

void draw_patterns(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace) {
    const CanvasRect& plot = frame.places.plot;
    const double step = 0.8 * frame.text, edge = 0.2 * frame.text;
    for (double x = plot.left + 0.5 * step; x < plot.right - edge; x += step) {
        const double along_mm = frame.places.along_m_at(x) / kMm;
        const auto bottoms = bottoms_mm_at(trace, along_mm);
        const bool odd = std::fmod(std::round((x - plot.left) / step - 0.5), 2.0) > 0.5;
        double top = plot.top;
        for (std::size_t layer = 0; layer < kDrawn && top < plot.bottom; ++layer) {
            const double bottom = layer < bottoms.size()
                                      ? std::clamp(frame.places.depth_mm.at(bottoms[layer]), top, plot.bottom)
                                      : plot.bottom;
            const double row = 0.55 * step;
            for (double y = top + edge + (odd ? 0.5 * row : 0.0); y < bottom - edge; y += row)
                draw_layer_mark(canvas, layer, x, y, frame.text);
            top = bottom;
        }
    }
}

}  // namespace

std::string_view layer_name(std::size_t layer) { return kLooks[layer].name; }
const Colour& layer_colour(std::size_t layer) { return kLooks[layer].colour; }

void draw_layer_mark(Canvas& canvas, std::size_t layer, double x, double y, double size) {
    const auto stroke = [&](double dx, double dy) {
        const std::array<CanvasPoint, 2> ends{{{x - dx, y - dy}, {x + dx, y + dy}}};
        canvas.line(ends, kPatternInk, 0.06 * size + 0.3);
    };
    switch (layer) {
        case 0:
            stroke(0.0, 0.15 * size);
            break;  // skin: upright strokes
        case 1:
            stroke(0.045 * size, 0.0);
            break;  // superficial fat: dots
        case 2:
            stroke(0.22 * size, 0.0);
            break;  // SMAS: level strokes
        case 3:
            stroke(0.1 * size, 0.0), stroke(0.0, 0.1 * size);
            break;  // deep fat: crosses
        case 4:
            stroke(0.16 * size, -0.16 * size);
            break;  // muscle: slanted fibres
        default:
            stroke(0.1 * size, 0.1 * size), stroke(0.1 * size, -0.1 * size);
            break;  // floor: saltires
    }
}

void draw_layers(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace) {
    const CanvasRect& plot = frame.places.plot;
    std::vector<CanvasPoint> top{{plot.left, plot.top}, {plot.right, plot.top}};
    for (std::size_t layer = 0; layer < kDrawn; ++layer) {
        std::vector<CanvasPoint> bottom =
            layer < sim::kTissueLayers ? edge_of(frame, trace, layer)
                                       : std::vector<CanvasPoint>{{plot.left, plot.bottom}, {plot.right, plot.bottom}};
        std::vector<CanvasPoint> outline = top;
        outline.insert(outline.end(), bottom.rbegin(), bottom.rend());
        canvas.fill(outline, kLooks[layer].colour);
        top = std::move(bottom);
    }
    draw_patterns(canvas, frame, trace);
    for (std::size_t layer = 0; layer < sim::kTissueLayers; ++layer) {
        const std::vector<CanvasPoint> edge = edge_of(frame, trace, layer);
        if (std::all_of(edge.begin(), edge.end(), [&](const CanvasPoint& p) { return p.y >= plot.bottom - 0.5; }))
            break;
        canvas.line(edge, kLayerBoundary,
                    layer == 1 ? 1.8 * frame.hair : frame.hair);  // the SMAS is what must not be met
    }
    const double made_x = frame.places.along_mm.at(trace.samples.back().along_m / kMm + 0.5);
    if (made_x < plot.right - 1.0) draw_box(canvas, {made_x, plot.top, plot.right, plot.bottom}, kNotMade);
}

std::vector<EdgeLabel> layer_labels(const PlotFrame& frame, const DepthTrace& trace) {
    std::vector<EdgeLabel> labels;
    const DepthSample& end = trace.samples.back();
    double top_mm = 0.0;
    for (std::size_t layer = 0; layer < kDrawn && top_mm < frame.places.depth_mm.high; ++layer) {
        const double high_mm = frame.places.depth_mm.high;
        const double low_mm = layer < sim::kTissueLayers ? std::min(bottom_mm(end, layer), high_mm) : high_mm;
        if (low_mm - top_mm > 0.05)
            labels.push_back(
                {std::string(kLooks[layer].name), frame.places.depth_mm.at(0.5 * (top_mm + low_mm)), kInk});
        top_mm = std::max(top_mm, low_mm);
    }
    return labels;
}

double edge_label_width(Canvas& canvas, double text_size, bool axis_title) {
    double width = axis_title ? canvas.text_width(kAlongWords, text_size) + kAfterTickEm * text_size : 0.0;
    for (const LayerLook& look : kLooks) width = std::max(width, canvas.text_width(look.name, text_size));
    return width;
}

void draw_edge_labels(Canvas& canvas, const PlotFrame& frame, const std::vector<EdgeLabel>& labels) {
    const CanvasRect& plot = frame.places.plot;
    std::vector<double> wanted;
    for (const EdgeLabel& label : labels) wanted.push_back(label.y);
    const double half = 0.6 * frame.text;
    const std::vector<double> y =
        spread_labels(wanted, 2.0 * half, plot.top + 0.3 * frame.text, plot.bottom - 0.2 * frame.text);
    const double x = plot.right + kLabelEm * frame.text;
    for (std::size_t i = 0; i < labels.size(); ++i) {
        const std::array<CanvasPoint, 3> leader{{{plot.right - 0.25 * frame.text, labels[i].y},
                                                 {plot.right + 0.15 * frame.text, labels[i].y},
                                                 {x - 0.15 * frame.text, y[i]}}};
        canvas.line(leader, kInk, frame.hair);
        canvas.text({x, y[i] + 0.36 * frame.text}, labels[i].words, frame.text, labels[i].ink);
    }
}

}  // namespace view
