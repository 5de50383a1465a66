#include <algorithm>
#include <cmath>
#include <numbers>

#include "engine/view/depth_plot_parts.hpp"
#include "engine/view/shapes.hpp"
#include "engine/view/slice.hpp"

/// The section along the shaft, drawn.

namespace view {

namespace {

constexpr Colour kAir{0.957, 0.941, 0.910};
constexpr Colour kWall{0.27, 0.30, 0.34}, kLumen{0.93, 0.95, 0.96}, kHalo{1.0, 1.0, 1.0, 0.9};
constexpr double kHeightMm = 19.0;  // shown, air included
constexpr double kLeastWidthMm = 22.0, kMostWidthMm = 70.0;
constexpr double kAheadShare = 0.3;  // of the width beyond the tip
constexpr double kAirMm = 2.5;
constexpr double kUnderTipMm = 2.0, kDeepStepMm = 5.0;  // kept under the tip; by which a deeper window grows

Colour colour_of(unsigned rgb) {
    const auto channel = [rgb](unsigned shift) { return static_cast<double>((rgb >> shift) & 255u) / 255.0; };
    return {channel(16), channel(8), channel(0)};
}

/// Millimetres of the section on the canvas, both axes at one scale.
struct Sheet {
    CanvasRect plot;
    double scale = 1.0;  ///< canvas units a millimetre
    SliceWindow window;

    [[nodiscard]] CanvasPoint at(const CanvasPoint& mm) const {
        return {plot.left + (mm.x - window.left_mm) * scale, plot.top + (mm.y - window.top_mm) * scale};
    }
    [[nodiscard]] CanvasPoint kept(const CanvasPoint& mm) const {
        const CanvasPoint p = at(mm);
        return {std::clamp(p.x, plot.left, plot.right), std::clamp(p.y, plot.top, plot.bottom)};
    }
};

CanvasRect plot_of(Canvas& canvas, const CanvasRect& where, double text) {
    const double labels = edge_label_width(canvas, text, false) + (kLabelEm + 0.1) * text;
    return {where.left, where.top, where.right - labels, where.bottom};
}

std::vector<CanvasPoint> edge_of(const Sheet& sheet, const Slice& slice, std::size_t edge) {
    std::vector<CanvasPoint> out;
    for (std::size_t i = 0; i < slice.edges_mm.size(); ++i)
        out.push_back(sheet.kept({slice.x_of(i), slice.edges_mm[i][edge]}));
    return out;
}

void fill_between(Canvas& canvas, const std::vector<CanvasPoint>& top, const std::vector<CanvasPoint>& bottom,
                  const Colour& colour) {
    std::vector<CanvasPoint> outline = top;
    outline.insert(outline.end(), bottom.rbegin(), bottom.rend());
    canvas.fill(outline, colour);
}

void draw_tissue(Canvas& canvas, const Sheet& sheet, const Slice& slice, double text, double hair) {
    draw_box(canvas, sheet.plot, kAir);
    const std::vector<CanvasPoint> floor{{sheet.plot.left, sheet.plot.bottom}, {sheet.plot.right, sheet.plot.bottom}};
    for (std::size_t layer = 0; layer < kSliceEdges; ++layer)
        fill_between(canvas, edge_of(sheet, slice, layer),
                     layer + 1 < kSliceEdges ? edge_of(sheet, slice, layer + 1) : floor, layer_colour(layer));
    const double step = 0.8 * text, edge = 0.2 * text;
    bool odd = false;
    for (double x = sheet.plot.left + 0.5 * step; x < sheet.plot.right - edge; x += step, odd = !odd) {
        const double x_mm = sheet.window.left_mm + (x - sheet.plot.left) / sheet.scale;
        for (double y = sheet.plot.top + edge + (odd ? 0.28 * step : 0.0); y < sheet.plot.bottom - edge;
             y += 0.55 * step) {
            // a mark keeps clear of both borders of its layer
            const auto layer_at = [&](double by) {
                return slice.layer_at(x_mm, sheet.window.top_mm + (y + by - sheet.plot.top) / sheet.scale);
            };
            const sim::Layer layer = layer_at(0.0);
            if (layer != sim::Layer::outside && layer_at(-edge) == layer && layer_at(edge) == layer)
                draw_layer_mark(canvas, static_cast<std::size_t>(layer) - 1, x, y, text);
        }
    }
    for (std::size_t e = 0; e < kSliceEdges; ++e)
        canvas.line(edge_of(sheet, slice, e), kLayerBoundary, e == 0 || e == 2 ? 1.8 * hair : hair);
}

void draw_target(Canvas& canvas, const Sheet& sheet, const Slice& slice, double text, double hair) {
    std::vector<CanvasPoint> top, bottom;
    for (std::size_t i = 0; i < slice.band_mm.size(); ++i) {
        if (!slice.band_mm[i]) continue;
        top.push_back(sheet.kept({slice.x_of(i), (*slice.band_mm[i])[0]}));
        bottom.push_back(sheet.kept({slice.x_of(i), (*slice.band_mm[i])[1]}));
    }
    if (top.size() < 2) return;
    fill_between(canvas, top, bottom, kTargetFill);
    const std::array<double, 2> dashes{0.75 * text, 0.4 * text};
    draw_dashed(canvas, top, dashes, kTargetLine, 1.8 * hair);
    draw_dashed(canvas, bottom, dashes, kTargetLine, 1.8 * hair);
}

std::vector<CanvasPoint> disc(const Sheet& sheet, const SliceSection::Disc& one, double grow) {
    constexpr int kSides = 20;
    std::vector<CanvasPoint> out;
    const CanvasPoint centre = sheet.at(one.at_mm);
    const double radius = one.radius_mm * sheet.scale + grow;
    for (int i = 0; i < kSides; ++i) {
        const double angle = 2.0 * std::numbers::pi * i / kSides;
        out.push_back({std::clamp(centre.x + radius * std::cos(angle), sheet.plot.left, sheet.plot.right),
                       std::clamp(centre.y + radius * std::sin(angle), sheet.plot.top, sheet.plot.bottom)});
    }
    return out;
}

void draw_sections(Canvas& canvas, const Sheet& sheet, const Slice& slice, double hair) {
    for (const SliceSection& section : slice.sections) {
        const Colour colour = colour_of(structure_colour(static_cast<sim::StructureKind>(section.kind)));
        // an artery's wall is thick, a vein's thin: told apart in grey too
        const double wall = (section.kind == Section::artery ? 2.2 : 1.2) * hair;
        for (const SliceSection::Disc& one : section.discs) canvas.fill(disc(sheet, one, wall), kInk);
        for (const SliceSection::Disc& one : section.discs) canvas.fill(disc(sheet, one, 0.0), colour);
    }
    for (const SliceSheet& ligament : slice.sheets)
        for (const auto& piece : ligament.pieces_mm) {
            const std::array<CanvasPoint, 2> ends{sheet.kept(piece[0]), sheet.kept(piece[1])};
            const double width = std::max(2.0 * hair, 2.0 * ligament.half_thickness_mm * sheet.scale);
            canvas.line(ends, {0.85, 0.82, 0.75, 0.8}, width);
            const std::array<double, 2> fibres{4.0 * hair, 2.0 * hair};
            draw_dashed(canvas, ends, fibres, kInk, 1.2 * hair);
        }
}

/// The part of a line inside the plot.
std::vector<CanvasPoint> inside(const Sheet& sheet, const std::vector<CanvasPoint>& line_mm) {
    std::vector<CanvasPoint> out;
    const SliceWindow& w = sheet.window;
    for (std::size_t i = 0; i + 1 < line_mm.size(); ++i) {
        const CanvasPoint &a = line_mm[i], &b = line_mm[i + 1];
        double from = 0.0, to = 1.0;
        const auto cut = [&](double start, double step, double low, double high) {
            if (std::fabs(step) < 1e-12) {
                if (start < low || start > high) to = -1.0;
                return;
            }
            const double at_low = (low - start) / step, at_high = (high - start) / step;
            from = std::max(from, std::min(at_low, at_high));
            to = std::min(to, std::max(at_low, at_high));
        };
        cut(a.x, b.x - a.x, w.left_mm, w.right_mm);
        cut(a.y, b.y - a.y, w.top_mm, w.bottom_mm);
        if (!(from < to)) continue;
        if (out.empty()) out.push_back(sheet.at({a.x + from * (b.x - a.x), a.y + from * (b.y - a.y)}));
        out.push_back(sheet.at({a.x + to * (b.x - a.x), a.y + to * (b.y - a.y)}));
    }
    return out;
}

/// At true thickness: wall, lumen, wall.
void draw_shaft(Canvas& canvas, const Sheet& sheet, const Slice& slice, double hair) {
    const std::vector<CanvasPoint> line = inside(sheet, slice.shaft_mm);
    if (line.size() < 2) return;
    const double outer = std::max(2.0 * hair, slice.outer_mm * sheet.scale), inner = slice.inner_mm * sheet.scale;
    canvas.line(line, kHalo, outer + 2.4 * hair);
    canvas.line(line, kWall, outer);
    if (inner > 1.2 * hair) canvas.line(line, kLumen, inner);
    const CanvasPoint tip_mm = slice.shaft_mm.back();
    const double r_mm = 0.5 * slice.outer_mm;
    if (!slice.bevel) canvas.fill(disc(sheet, {tip_mm, r_mm}, 0.0), kWall);
}

constexpr double kBarMm = 5.0;

CanvasRect scale_ground(Canvas& canvas, const Sheet& sheet, double text) {
    const double x = sheet.plot.left + 0.6 * text, y = sheet.plot.bottom - 0.6 * text,
                 w = std::max(kBarMm * sheet.scale, canvas.text_width("5 mm", text));
    return {x - 0.3 * text, y - 1.7 * text, x + w + 0.3 * text, y + 0.35 * text};
}

void draw_scale(Canvas& canvas, const Sheet& sheet, double text, double hair) {
    const CanvasRect ground = scale_ground(canvas, sheet, text);
    const double x = ground.left + 0.3 * text, y = ground.bottom - 0.35 * text, w = kBarMm * sheet.scale;
    // no box: what lies under it is seen
    const std::array<CanvasPoint, 2> bar{{{x, y}, {x + w, y}}};
    canvas.line(bar, kHalo, 4.0 * hair);
    canvas.line(bar, kInk, 2.0 * hair);
    for (const double end : {x, x + w}) {
        const std::array<CanvasPoint, 2> tick{{{end, y - 0.25 * text}, {end, y + 0.25 * text}}};
        canvas.line(tick, kInk, 1.6 * hair);
    }
    canvas.text({x, y - 0.5 * text}, "5 mm", text, kInk);
}

/// The target band is high enough at the right edge to hold its name; otherwise it is named beside the layers.
bool band_holds_name(const Sheet& sheet, const Slice& slice, double text) {
    if (slice.band_mm.empty() || !slice.band_mm.back()) return true;
    const auto& [top_mm, bottom_mm] = *slice.band_mm.back();
    return (bottom_mm - top_mm) * sheet.scale > pill_height(text);
}

void draw_names(Canvas& canvas, const Sheet& sheet, const Slice& slice, double text) {
    LabelPlacer placer(sheet.plot);
    const double height = pill_height(text);
    for (const CanvasPoint& p : inside(sheet, slice.shaft_mm))
        placer.block({p.x - 0.3 * text, p.y - 0.4 * text, p.x + 0.3 * text, p.y + 0.4 * text});
    placer.block(scale_ground(canvas, sheet, text));
    for (const SliceSection& section : slice.sections)
        for (const SliceSection::Disc& one : section.discs) {
            const CanvasPoint p = sheet.kept(one.at_mm);
            const double r = 0.7 * one.radius_mm * sheet.scale;
            if (r < 2.0 * text) placer.block({p.x - r, p.y - r, p.x + r, p.y + r});
        }
    const auto name = [&](const std::string& words, const CanvasPoint& at, double away) {
        const double width = pill_width(canvas, words, text), dx = away + 0.6 * width, dy = away + 0.8 * height;
        const std::array<CanvasPoint, 6> wanted{{{at.x, at.y + dy},
                                                 {at.x, at.y - dy},
                                                 {at.x + dx, at.y},
                                                 {at.x - dx, at.y},
                                                 {at.x + dx, at.y + dy},
                                                 {at.x - dx, at.y + dy}}};
        if (const auto place = placer.place(width, height, wanted)) draw_pill(canvas, *place, words, text, kInk);
    };
    for (const SliceSection& section : slice.sections) {
        const auto largest = std::max_element(section.discs.begin(), section.discs.end(),
                                              [](const auto& a, const auto& b) { return a.radius_mm < b.radius_mm; });
        name(section.name, sheet.kept(largest->at_mm), std::min(largest->radius_mm * sheet.scale, 2.0 * text));
    }
    const auto banded =
        std::find_if(slice.band_mm.begin(), slice.band_mm.end(), [](const auto& b) { return b.has_value(); });
    if (banded != slice.band_mm.end() && band_holds_name(sheet, slice, text)) {
        const double x_mm = slice.x_of(static_cast<std::size_t>(banded - slice.band_mm.begin()));
        const double width = pill_width(canvas, "target band", text);
        const CanvasPoint start = sheet.kept({x_mm, (**banded)[1]});
        const std::array<CanvasPoint, 3> wanted{{{start.x + 0.6 * width, start.y},
                                                 {sheet.plot.right - 0.6 * width, start.y},
                                                 {start.x + 0.6 * width, start.y + height}}};
        if (const auto place = placer.place(width, height, wanted))
            draw_pill(canvas, *place, "target band", text, kTargetLine);
    }
    for (const SliceSheet& ligament : slice.sheets) {
        const auto& piece = ligament.pieces_mm.front();
        name(ligament.name, sheet.kept({0.5 * (piece[0].x + piece[1].x), 0.5 * (piece[0].y + piece[1].y)}), 0.5 * text);
    }
}

std::vector<EdgeLabel> names_of_layers(const Sheet& sheet, const Slice& slice, double text) {
    std::vector<EdgeLabel> labels;
    const auto& last = slice.edges_mm.back();
    for (std::size_t layer = 0; layer < kSliceEdges; ++layer) {
        const double top = last[layer], bottom = layer + 1 < kSliceEdges ? last[layer + 1] : sheet.window.bottom_mm;
        if (bottom - top > 0.05)
            labels.push_back({std::string(layer_name(layer)), sheet.at({0.0, 0.5 * (top + bottom)}).y, kInk});
    }
    if (!band_holds_name(sheet, slice, text)) {
        const auto& [top_mm, bottom_mm] = *slice.band_mm.back();
        const double y = sheet.at({0.0, 0.5 * (top_mm + bottom_mm)}).y;
        const auto after =
            std::find_if(labels.begin(), labels.end(), [&](const EdgeLabel& label) { return label.y > y; });
        labels.insert(after, {"target band", y, kTargetLine});
    }
    // where there is no room for all, the deepest go without: nothing is placed there
    while (!labels.empty() && static_cast<double>(labels.size()) * 1.2 * text > sheet.plot.height() + 0.5 * text)
        labels.pop_back();
    return labels;
}

}  // namespace

SliceWindow slice_window(Canvas& canvas, const CanvasRect& where, double text_size, double tip_depth_mm) {
    const CanvasRect plot = plot_of(canvas, where, text_size);
    double width_mm = std::clamp(kHeightMm * plot.width() / std::max(1.0, plot.height()), kLeastWidthMm, kMostWidthMm);
    double height_mm = std::max(10.0, width_mm * plot.height() / std::max(1.0, plot.width()));
    // in steps, so that the scale rests while the tip goes on
    const double wanted_mm = kAirMm + kDeepStepMm * std::ceil((tip_depth_mm + kUnderTipMm) / kDeepStepMm);
    if (wanted_mm > height_mm) {
        width_mm *= wanted_mm / height_mm;
        height_mm = wanted_mm;
    }
    return {-(1.0 - kAheadShare) * width_mm, kAheadShare * width_mm, -kAirMm, height_mm - kAirMm};
}

void draw_slice(Canvas& canvas, const CanvasRect& where, const Slice& slice, double text_size) {
    Sheet sheet{plot_of(canvas, where, text_size), 1.0, slice.window};
    sheet.scale = std::min(sheet.plot.width() / (slice.window.right_mm - slice.window.left_mm),
                           sheet.plot.height() / (slice.window.bottom_mm - slice.window.top_mm));
    sheet.plot.right = sheet.plot.left + sheet.scale * (slice.window.right_mm - slice.window.left_mm);
    sheet.plot.bottom = sheet.plot.top + sheet.scale * (slice.window.bottom_mm - slice.window.top_mm);
    const double hair = std::max(0.7, text_size / 14.0);
    draw_tissue(canvas, sheet, slice, text_size, hair);
    draw_target(canvas, sheet, slice, text_size, hair);
    draw_sections(canvas, sheet, slice, hair);
    draw_shaft(canvas, sheet, slice, hair);
    draw_scale(canvas, sheet, text_size, hair);
    draw_names(canvas, sheet, slice, text_size);
    PlotFrame frame;
    frame.text = text_size;
    frame.hair = hair;
    frame.places.plot = sheet.plot;
    draw_edge_labels(canvas, frame, names_of_layers(sheet, slice, text_size));
}

}  // namespace view
