#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/view/depth_plot_parts.hpp"

/// The strip under the depth plot: how far the nearest wall was.

namespace view {

namespace {

using sim::kMm;

constexpr Colour kSkyBlue{0.337, 0.706, 0.914};  // Okabe and Ito 2008
constexpr Colour kOrange{0.902, 0.624, 0.0};

/// A column of the strip: plain when far, hatched within the margin, cross-hatched where walls overlap.
void draw_column(Canvas& canvas, const PlotFrame& frame, const CanvasRect& column, const DepthSample& sample) {
    const double wall_m = *sample.clearance_m;
    const bool inside = wall_m < sample.margin_m, met = wall_m <= 0.0;
    draw_box(canvas, column, met ? kVermilion : inside ? kOrange : kSkyBlue);
    if (!inside) return;
    const double step = (met ? 0.3 : 0.5) * frame.text;
    for (double y = column.bottom; y > column.top + 1.0; y -= step) {
        const double rise = std::min(column.width(), y - column.top);
        const std::array<CanvasPoint, 2> slash{{{column.left, y}, {column.left + rise, y - rise}}};
        canvas.line(slash, kInk, 0.8 * frame.hair);
    }
}

struct Nearest {
    const DepthSample* least = nullptr;
    std::vector<CanvasPoint> margin;
};

Nearest draw_columns(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace) {
    const CanvasRect& strip = frame.places.strip;
    Nearest out;
    double last_mm = 0.0;
    for (std::size_t i = 0; i < trace.samples.size(); ++i) {
        const DepthSample& sample = trace.samples[i];
        const double to_mm = i + 1 < trace.samples.size()
                                 ? 0.5 * (sample.along_m + trace.samples[i + 1].along_m) / kMm
                                 : std::min(2.0 * sample.along_m / kMm - last_mm, frame.places.along_mm.high);
        const double left = frame.places.along_mm.at(last_mm), right = frame.places.along_mm.at(to_mm);
        last_mm = to_mm;
        if (!sample.clearance_m || *sample.clearance_m / kMm > kClearanceShownMm) continue;
        // a wall that is met still shows as a foot
        const double height_mm = std::max(0.35, *sample.clearance_m / kMm);
        draw_column(canvas, frame, {left, frame.places.clearance_mm.at(height_mm), right, strip.bottom}, sample);
        const double margin_y = frame.places.clearance_mm.at(std::min(kClearanceShownMm, sample.margin_m / kMm));
        out.margin.push_back({left, margin_y});
        out.margin.push_back({right, margin_y});
        if (out.least == nullptr || *sample.clearance_m < *out.least->clearance_m) out.least = &sample;
    }
    return out;
}

void draw_beside(Canvas& canvas, const PlotFrame& frame, const BesideTrace& beside) {
    const BesideLook& look = look_of(beside.look);
    std::vector<double> pattern;
    for (const double em : look.pattern_em) pattern.push_back(em * frame.text);
    std::vector<CanvasPoint> run;
    const auto flush = [&] {
        if (run.size() > 1) draw_dashed(canvas, run, pattern, look.colour, 1.6 * frame.hair);
        run.clear();
    };
    for (const DepthSample& sample : beside.trace.samples) {
        if (!sample.clearance_m || *sample.clearance_m / kMm > kClearanceShownMm ||
            sample.along_m / kMm > frame.places.along_mm.high) {
            flush();
            continue;
        }
        run.push_back({frame.places.along_mm.at(sample.along_m / kMm),
                       frame.places.clearance_mm.at(std::max(0.0, *sample.clearance_m / kMm))});
    }
    flush();
}

}  // namespace

void draw_clearance(Canvas& canvas, const PlotFrame& frame, const DepthTrace& trace, const PlotStyle& style) {
    const CanvasRect& strip = frame.places.strip;
    draw_box(canvas, strip, kPaper);
    const Nearest nearest = draw_columns(canvas, frame, trace);
    for (const BesideTrace& beside : style.beside) draw_beside(canvas, frame, beside);
    const std::array<double, 2> dashes{0.45 * frame.text, 0.3 * frame.text};
    if (!nearest.margin.empty()) draw_dashed(canvas, nearest.margin, dashes, kInk, 1.2 * frame.hair);
    const std::array<CanvasPoint, 5> box{{{strip.left, strip.top},
                                          {strip.right, strip.top},
                                          {strip.right, strip.bottom},
                                          {strip.left, strip.bottom},
                                          {strip.left, strip.top}}};
    canvas.line(box, kQuiet, frame.hair);
    draw_axis_left(canvas, strip, frame.places.clearance_mm, "", frame.text, 2);
    canvas.text({strip.right + kLabelEm * frame.text, 0.5 * (strip.top + strip.bottom) + 0.36 * frame.text},
                "clearance (mm)", frame.text, kInk);

    const std::string words =
        nearest.least == nullptr             ? "no vessel, nerve or gland within 6 mm"
        : *nearest.least->clearance_m <= 0.0 ? fmt::format("{}: met", nearest.least->structure)
        : *nearest.least->clearance_m < 0.05 * kMm
            ? fmt::format("{}: under 0.1 mm, wants {:.1f}", nearest.least->structure, nearest.least->margin_m / kMm)
            : fmt::format("{}: {:.1f} mm, wants {:.1f}", nearest.least->structure, *nearest.least->clearance_m / kMm,
                          nearest.least->margin_m / kMm);
    const double width = pill_width(canvas, words, frame.text), height = pill_height(frame.text);
    const double at_x = nearest.least == nullptr ? 0.5 * (strip.left + strip.right)
                                                 : frame.places.along_mm.at(nearest.least->along_m / kMm);
    LabelPlacer placer({strip.left + 2.0, strip.top + 2.0, strip.right - 2.0, strip.bottom - 1.0});
    // beside the lowest place rather than on it
    const double beside = 0.5 * width + 1.5 * frame.text;
    const double cursor_x = style.cursor_m ? frame.places.along_mm.at(*style.cursor_m / kMm) : strip.left - 1e6;
    const auto fits = [&](double x) {
        return x - 0.5 * width > strip.left && x + 0.5 * width < strip.right &&
               std::abs(x - cursor_x) > 0.5 * width + 4.0 * frame.hair;
    };
    double x = at_x + beside;
    for (const double candidate : {at_x + beside, at_x - beside, cursor_x + beside, cursor_x - beside})
        if (fits(candidate)) {
            x = candidate;
            break;
        }
    const CanvasRect rect = placer.insist(width, height, {nearest.least == nullptr ? at_x : x, strip.top});
    if (nearest.least != nullptr) {
        const double foot_y = frame.places.clearance_mm.at(std::max(0.35, *nearest.least->clearance_m / kMm));
        const std::array<CanvasPoint, 2> leader{
            {{std::clamp(at_x, rect.left, rect.right), 0.5 * (rect.top + rect.bottom)}, {at_x, foot_y}}};
        canvas.line(leader, kInk, frame.hair);
    }
    draw_pill(canvas, rect, words, frame.text, kInk);
}

}  // namespace view
