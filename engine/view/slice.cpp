#include "engine/view/slice.hpp"

#include <algorithm>
#include <cmath>

#include "engine/view/cutaway.hpp"
#include "engine/view/shaft_look.hpp"
#include "sim/instruments/gauge.hpp"

/// What a section along the shaft shows. How it is drawn is in slice_plot.cpp.

namespace view {

namespace {

using sim::kMm;

constexpr double kColumnMm = 0.75;  // between columns
constexpr double kStrideMm = 0.4;   // along a column, before an edge is closed in on
constexpr int kHalvings = 5;        // of a stride: 0.0125 mm
constexpr double kLeastM = 1.0 * kMm;
constexpr double kStructureStepM = 0.25 * kMm;

std::optional<SlicePlane> plane_of(const sim::Anatomy& anatomy, std::span<const Vec3> under_skin) {
    const sim::SkinPoint skin = anatomy.nearest_skin(under_skin.back());
    const Vec3 chord = under_skin.back() - under_skin.front();
    const Vec3 flat = chord - skin.normal * glm::dot(chord, skin.normal);
    // straight in: any plane with the normal holds the shaft
    const Vec3 other = std::fabs(skin.normal.y) < 0.9 ? Vec3(0, 1, 0) : Vec3(1, 0, 0);
    const Vec3 along = glm::length(flat) > 1e-6 ? glm::normalize(flat) : glm::normalize(glm::cross(other, skin.normal));
    return SlicePlane{skin.position_m, along, -skin.normal, glm::cross(along, -skin.normal)};
}

/// One column of the section: the anatomy asked from the top down.
class Column {
 public:
    Column(const sim::Anatomy& anatomy, const sim::Bands& bands, const Slice& slice, double x_mm, double radius_m)
        : anatomy_(anatomy), bands_(bands), slice_(slice), x_mm_(x_mm), radius_m_(radius_m) {}

    void run(std::array<double, kSliceEdges>& edges, std::array<double, 2>& band) {
        const SliceWindow& window = slice_.window;
        edges.fill(window.bottom_mm);
        band.fill(window.bottom_mm);
        std::size_t edge = 0, limit = 0;
        double y = window.top_mm;
        Values above = values(y);
        while (edge < kSliceEdges && above.coordinate >= static_cast<double>(edge)) edges[edge++] = y;
        while (y < window.bottom_mm && (edge < kSliceEdges || limit < 2)) {
            const double next = std::min(y + kStrideMm, window.bottom_mm);
            const Values below = values(next);
            while (edge < kSliceEdges && below.coordinate >= static_cast<double>(edge)) {
                const auto met = [edge](const Values& v) { return v.coordinate >= static_cast<double>(edge); };
                edges[edge] = close_in(y, next, met);
                ++edge;
            }
            while (limit < 2 && below.past_band[limit] >= 0.0) {
                const auto met = [limit](const Values& v) { return v.past_band[limit] >= 0.0; };
                band[limit] = close_in(y, next, met);
                ++limit;
            }
            y = next;
            above = below;
        }
    }

 private:
    struct Values {
        double coordinate = 0.0;
        std::array<double, 2> past_band{};  ///< depth below the band's upper and lower limit for a wall
    };

    [[nodiscard]] Values values(double y_mm) const {
        const sim::LayerPoint at = anatomy_.layers_at(slice_.plane.place_m(x_mm_, y_mm));
        const sim::AxisBand band = sim::target_band(at.bottom_m, radius_m_, bands_);
        return {static_cast<double>(layer_coordinate(at)),
                {at.depth_m - (band.top_m - radius_m_), at.depth_m - (band.bottom_m + radius_m_)}};
    }

    template <typename Met>
    [[nodiscard]] double close_in(double low, double high, Met met) const {
        for (int i = 0; i < kHalvings; ++i) {
            const double middle = 0.5 * (low + high);
            (met(values(middle)) ? high : low) = middle;
        }
        return 0.5 * (low + high);
    }

    const sim::Anatomy& anatomy_;
    const sim::Bands& bands_;
    const Slice& slice_;
    double x_mm_, radius_m_;
};

void fill_columns(Slice& slice, const sim::Anatomy& anatomy, const sim::Bands& bands, double entry_x_mm) {
    const SliceWindow& window = slice.window;
    const auto count = static_cast<std::size_t>(std::ceil((window.right_mm - window.left_mm) / kColumnMm)) + 1;
    slice.edges_mm.resize(count);
    slice.band_mm.resize(count);
    for (std::size_t i = 0; i < count; ++i) {
        std::array<double, 2> band{};
        Column(anatomy, bands, slice, slice.x_of(i), 0.5 * slice.outer_mm * kMm).run(slice.edges_mm[i], band);
        if (slice.x_of(i) > entry_x_mm + bands.ramp_m.value / kMm) slice.band_mm[i] = band;
    }
}

void add_sections(Slice& slice, const sim::Anatomy& anatomy) {
    const SliceWindow& window = slice.window;
    for (const sim::Structure& structure : anatomy.structures()) {
        SliceSection section{structure.name, static_cast<Section>(structure.kind), {}};
        for (std::size_t k = 0; k + 1 < structure.line.size(); ++k) {
            const sim::StructureNode &a = structure.line[k], &b = structure.line[k + 1];
            const double length_m = glm::length(b.position_m - a.position_m);
            // far from the plane with both ends on one side: nothing of this piece is cut
            const double da = glm::dot(a.position_m - slice.plane.origin_m, slice.plane.across),
                         db = glm::dot(b.position_m - slice.plane.origin_m, slice.plane.across);
            if (da * db > 0.0 && std::min(std::fabs(da), std::fabs(db)) > std::max(a.radius_m, b.radius_m)) continue;
            const int steps = std::max(1, static_cast<int>(std::ceil(length_m / kStructureStepM)));
            for (int i = 0; i <= steps; ++i) {
                const double t = static_cast<double>(i) / steps, off_m = da + t * (db - da),
                             radius_m = a.radius_m + t * (b.radius_m - a.radius_m);
                if (!(std::fabs(off_m) < radius_m)) continue;
                const double cut_mm = std::sqrt(radius_m * radius_m - off_m * off_m) / kMm;
                const CanvasPoint at = slice.plane.at_mm(glm::mix(a.position_m, b.position_m, t));
                if (at.x + cut_mm > window.left_mm && at.x - cut_mm < window.right_mm &&
                    at.y + cut_mm > window.top_mm && at.y - cut_mm < window.bottom_mm)
                    section.discs.push_back({at, cut_mm});
            }
        }
        if (!section.discs.empty()) slice.sections.push_back(std::move(section));
    }
}

/// Where the plane crosses the way from a to b.
std::optional<Vec3> crossing(const SlicePlane& plane, const Vec3& a, const Vec3& b) {
    const double da = glm::dot(a - plane.origin_m, plane.across), db = glm::dot(b - plane.origin_m, plane.across);
    if (!(da * db <= 0.0) || da == db) return std::nullopt;
    return glm::mix(a, b, da / (da - db));
}

void add_sheets(Slice& slice, const sim::Anatomy& anatomy) {
    const SliceWindow& window = slice.window;
    for (const sim::Ligament& ligament : anatomy.ligaments()) {
        SliceSheet sheet{ligament.name, {}, ligament.half_thickness_m / kMm};
        for (std::size_t i = 0; i + 1 < ligament.deep_m.size(); ++i) {
            const Vec3 corners[4] = {ligament.deep_m[i], ligament.deep_m[i + 1], ligament.superficial_m[i + 1],
                                     ligament.superficial_m[i]};
            std::vector<CanvasPoint> met;
            for (std::size_t k = 0; k < 4 && met.size() < 2; ++k)
                if (const auto p = crossing(slice.plane, corners[k], corners[(k + 1) % 4]))
                    met.push_back(slice.plane.at_mm(*p));
            if (met.size() < 2) continue;
            const auto [low, high] = std::minmax(met[0].x, met[1].x);
            if (high < window.left_mm || low > window.right_mm || std::min(met[0].y, met[1].y) > window.bottom_mm)
                continue;
            sheet.pieces_mm.push_back({met[0], met[1]});
        }
        if (!sheet.pieces_mm.empty()) slice.sheets.push_back(std::move(sheet));
    }
}

/// The way of the shaft among the layers, from beyond the skin to the tip.
std::vector<Vec3> way_of(const sim::State& state) {
    constexpr double kShownOutsideM = 60.0 * sim::kMm, kOneM = 1e-9;
    std::vector<Vec3> way;
    if (state.track)
        for (const sim::TrackNode& node : state.track->nodes)
            if (node.arc_m < state.inserted_m - 0.1 * sim::kMm) way.push_back(node.centre_m);
    if (way.empty()) way.push_back(state.hands.entry.position_m);
    way.push_back(state.tip_m);
    const Vec3 back = way[0] - way[1];
    if (glm::length(back) > kOneM) way.insert(way.begin(), way[0] + glm::normalize(back) * kShownOutsideM);
    return way;
}

double length_under_skin(const std::vector<Vec3>& way) {
    double length_m = 0.0;
    for (std::size_t i = 1; i + 1 < way.size(); ++i) length_m += glm::length(way[i + 1] - way[i]);
    return length_m;
}

}  // namespace

std::optional<Slice> slice_of(const sim::Anatomy& anatomy, const sim::Bands& bands, const sim::State& state,
                              const sim::InstrumentSpec& instrument, const SliceWindow& window) {
    if (!(state.inserted_m > 0.0)) return std::nullopt;
    const std::vector<Vec3> way = way_of(state);
    return slice_along(anatomy, bands,
                       {way, length_under_skin(way), instrument.gauge, instrument.tip == sim::TipShape::bevel, window});
}

double Slice::x_of(std::size_t column) const {
    const double share =
        static_cast<double>(column) / static_cast<double>(std::max<std::size_t>(1, edges_mm.size() - 1));
    return window.left_mm + share * (window.right_mm - window.left_mm);
}

sim::Layer Slice::layer_at(double x_mm, double y_mm) const {
    const double place =
        (x_mm - window.left_mm) / (window.right_mm - window.left_mm) * static_cast<double>(edges_mm.size() - 1);
    const auto left = static_cast<std::size_t>(std::clamp(place, 0.0, static_cast<double>(edges_mm.size() - 2)));
    const double t = place - static_cast<double>(left);
    int passed = 0;
    for (std::size_t e = 0; e < kSliceEdges; ++e)
        if (y_mm >= edges_mm[left][e] + t * (edges_mm[left + 1][e] - edges_mm[left][e])) ++passed;
    return static_cast<sim::Layer>(passed);
}

std::optional<Slice> slice_along(const sim::Anatomy& anatomy, const sim::Bands& bands, const SliceAsk& ask) {
    if (!(ask.inserted_m > kLeastM)) return std::nullopt;
    const std::vector<Vec3> under = part_under_skin(ask.shaft_m, ask.inserted_m);
    if (under.size() < 2) return std::nullopt;
    const auto plane = plane_of(anatomy, under);
    if (!plane) return std::nullopt;
    Slice slice;
    slice.plane = *plane;
    slice.window = ask.window;
    slice.outer_mm = sim::gauge(ask.gauge).outer_m / kMm;
    slice.inner_mm = sim::gauge(ask.gauge).inner_m / kMm;
    slice.bevel = ask.bevel;
    slice.tip_depth_mm = anatomy.layers_at(under.back()).depth_m / kMm;
    for (const Vec3& p : ask.shaft_m) slice.shaft_mm.push_back(plane->at_mm(p));
    fill_columns(slice, anatomy, bands, plane->at_mm(under.front()).x);
    add_sections(slice, anatomy);
    add_sheets(slice, anatomy);
    return slice;
}

}  // namespace view
