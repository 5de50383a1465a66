#include "engine/view/head_outline.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace view {

namespace {

using sim::kMm;
using sim::Vec3;

constexpr double kFarM = 0.4;
constexpr double kRowM = 3.0 * kMm;
constexpr double kToM = 0.3 * kMm;  // how exactly an edge is found

/// The axis of sight of a view, and those to the viewer's right and up.
struct Axes {
    Vec3 sight, right, up{0, 1, 0};
};

Axes axes_of(MapView view) {
    switch (view) {
        case MapView::front:
            return {{0, 0, -1}, {1, 0, 0}};
        case MapView::left:
            return {{-1, 0, 0}, {0, 0, -1}};
        case MapView::right:
            return {{1, 0, 0}, {0, 0, 1}};
    }
    return {};
}

bool meets_skin(const sim::Anatomy& anatomy, const Axes& axes, double right_m, double up_m) {
    const Vec3 at = axes.right * right_m + axes.up * up_m;
    return anatomy.ray_to_skin(at - axes.sight * kFarM, axes.sight).has_value();
}

/// From a place that is seen, the last that is in one direction.
double edge_m(const sim::Anatomy& anatomy, const Axes& axes, double from_m, double up_m, double sign) {
    double inside = from_m, outside = from_m + sign * 0.16;
    while (std::fabs(outside - inside) > kToM) {
        const double middle = 0.5 * (inside + outside);
        (meets_skin(anatomy, axes, middle, up_m) ? inside : outside) = middle;
    }
    return inside;
}

/// Row by row from the neck up, both edges; from a side only the face's, for the skin is known no further back than the
/// ear and a little.
std::vector<std::vector<glm::dvec2>> outline_of(const sim::Anatomy& anatomy, MapView view, double low_m,
                                                double high_m) {
    const Axes axes = axes_of(view);
    std::vector<glm::dvec2> first, second;
    std::optional<double> seen;
    for (double up_m = low_m; up_m < high_m; up_m += kRowM) {
        // a place of this row that is seen: that of the row below, else one along the row
        if (!seen || !meets_skin(anatomy, axes, *seen, up_m)) {
            seen.reset();
            for (double right_m = -0.12; right_m <= 0.12 && !seen; right_m += 4.0 * kMm)
                if (meets_skin(anatomy, axes, right_m, up_m)) seen = right_m;
        }
        if (!seen) break;
        const double a = edge_m(anatomy, axes, *seen, up_m, -1.0), b = edge_m(anatomy, axes, *seen, up_m, 1.0);
        first.emplace_back(a / kMm, up_m / kMm);
        second.emplace_back(b / kMm, up_m / kMm);
        seen = 0.5 * (a + b);
    }
    if (view == MapView::left) return {std::move(first)};
    if (view == MapView::right) return {std::move(second)};
    return {std::move(first), std::move(second)};
}

std::optional<Vec3> landmark(const sim::Anatomy& anatomy, std::string_view name, sim::Side side) {
    for (const sim::Landmark& one : anatomy.landmarks())
        if (one.name == name && (one.side == side || one.side == sim::Side::midline)) return one.skin.position_m;
    return std::nullopt;
}

using Line = std::vector<Vec3>;

/// Through landmarks, laid down on the skin between them.
void add_line(std::vector<Line>& lines, const sim::Anatomy& anatomy, sim::Side side,
              std::initializer_list<std::string_view> names) {
    constexpr int kPieces = 8;
    Line line;
    for (const std::string_view name : names) {
        const std::optional<Vec3> next = landmark(anatomy, name, side);
        if (!next) return;
        if (line.empty()) {
            line.push_back(*next);
            continue;
        }
        const Vec3 from = line.back();
        for (int i = 1; i <= kPieces; ++i)
            line.push_back(anatomy.nearest_skin(glm::mix(from, *next, static_cast<double>(i) / kPieces)).position_m);
    }
    lines.push_back(std::move(line));
}

/// An almond about the middle between the rims of the orbit; its size by eye.
void add_eye(std::vector<Line>& lines, const sim::Anatomy& anatomy, sim::Side side) {
    const auto above = landmark(anatomy, "mid-supra-orbital", side),
               below = landmark(anatomy, "mid-infraorbital", side);
    if (!above || !below) return;
    const Vec3 middle = glm::mix(*below, *above, 0.45);
    constexpr double kHalfM = 13.0 * kMm, kOpenM = 4.5 * kMm;
    constexpr int kPieces = 24;
    Line line;
    for (int i = 0; i <= kPieces; ++i) {
        const double t = 2.0 * sim::kPi * i / kPieces, c = std::cos(t), s = std::sin(t);
        const Vec3 at = middle + Vec3(kHalfM * c, kOpenM * s * std::fabs(s), 0);
        line.push_back(anatomy.nearest_skin(at).position_m);
    }
    lines.push_back(std::move(line));
}

/// As the ear stands behind the tragus; its size by eye.
void add_ear(std::vector<Line>& lines, const sim::Anatomy& anatomy, sim::Side side) {
    const auto tragus = landmark(anatomy, "tragion", side);
    if (!tragus) return;
    constexpr int kPieces = 28;
    Line line;
    for (int i = 0; i <= kPieces; ++i) {
        const double t = 2.0 * sim::kPi * i / kPieces;
        line.push_back(*tragus + Vec3(0, (6.0 + 30.0 * std::cos(t)) * kMm, (-14.0 + 13.0 * std::sin(t)) * kMm));
    }
    lines.push_back(std::move(line));
}

std::vector<Line> features(const sim::Anatomy& anatomy, MapView view) {
    std::vector<Line> lines;
    for (const sim::Side side : {sim::Side::left, sim::Side::right}) {
        if (view == MapView::left && side == sim::Side::right) continue;
        if (view == MapView::right && side == sim::Side::left) continue;
        add_eye(lines, anatomy, side);
        if (view != MapView::front) add_ear(lines, anatomy, side);
        add_line(lines, anatomy, side, {"cheilion", "labrale inferius"});
        add_line(lines, anatomy, side, {"cheilion", "labrale superius"});
        add_line(lines, anatomy, side, {"alare", "subnasale"});
        add_line(lines, anatomy, side, {"gonion", "mid-mandibular border", "gnathion"});
    }
    return lines;
}

}  // namespace

std::string_view name_of(MapView view) {
    switch (view) {
        case MapView::front:
            return "From the front";
        case MapView::left:
            return "From the patient's left";
        case MapView::right:
            return "From the patient's right";
    }
    return "";
}

glm::dvec2 on_map(MapView view, const sim::Vec3& p_m) {
    const Axes axes = axes_of(view);
    return {glm::dot(p_m, axes.right) / kMm, glm::dot(p_m, axes.up) / kMm};
}

HeadOutline head_outline(const sim::Anatomy& anatomy) {
    HeadOutline out;
    if (anatomy.landmarks().empty()) return out;
    const std::optional<Vec3> chin = landmark(anatomy, "gnathion", sim::Side::midline);
    if (!chin) return out;
    constexpr double kNeckM = 60.0 * kMm, kHeadM = 170.0 * kMm;  // below the chin; above the ears, where nothing is met
    for (int k = 0; k < kMapViews; ++k) {
        const auto view = static_cast<MapView>(k);
        HeadOutline::View& to = out.views[static_cast<std::size_t>(k)];
        to.outline_mm = outline_of(anatomy, view, chin->y - kNeckM, kHeadM);
        for (const Line& line : features(anatomy, view)) {
            std::vector<glm::dvec2> flat;
            for (const Vec3& p_m : line) flat.push_back(on_map(view, p_m));
            to.features_mm.push_back(std::move(flat));
        }
    }
    return out;
}

}  // namespace view
