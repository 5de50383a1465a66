#include "engine/view/ultrasound_map.hpp"

#include <algorithm>
#include <cmath>

#include "engine/view/cut_sheet.hpp"
#include "sim/core/errors.hpp"

namespace view {

namespace {

using sim::kMm;

constexpr double kColumnMm = 0.5;      // between lines that are asked
constexpr double kAboveMm = 5.0;       // where the skin may rise over the plane through the footprint's middle
constexpr double kStrideMm = 0.4;      // along a line, before an edge is closed in on
constexpr int kHalvings = 7;           // of a stride: 0.003 mm
constexpr double kMostSqueezed = 0.6;  // of the way to the floor; assumed
constexpr double kSoftToMm = 25.0;     // what gives way where no floor is near; assumed

/// Depth under an edge of the layers: 0 the skin, then their bottoms.
double under_edge_m(const sim::Anatomy& anatomy, const Vec3& p_m, std::size_t edge) {
    const sim::LayerPoint at = anatomy.layers_at(p_m);
    return edge == 0 ? at.depth_m : at.depth_m - at.bottom_m[edge - 1];
}

/// Cosine of the angle between a beam and the normal of an edge that it meets.
double squareness(const sim::Anatomy& anatomy, const Vec3& p_m, std::size_t edge, const Vec3& beam) {
    constexpr double kStepM = 0.3 * kMm;
    Vec3 slope{};
    for (int k = 0; k < 3; ++k) {
        Vec3 step{};
        step[k] = kStepM;
        slope[k] = under_edge_m(anatomy, p_m + step, edge) - under_edge_m(anatomy, p_m - step, edge);
    }
    const double length = glm::length(slope);
    return length > 1e-9 ? glm::dot(slope, beam) / length : 1.0;
}

/// One line asked from outside inwards: where each edge lies, and how square to the beam.
LineOfSight ask_line(const sim::Anatomy& anatomy, const ProbeMap& map, double x_mm, double to_mm) {
    LineOfSight line;
    line.edge_mm.fill(ProbeMap::kBeyondMm);
    line.square.fill(1.0);
    const auto coordinate = [&](double ref_mm) {
        return static_cast<double>(layer_coordinate(anatomy.layers_at(map.place_mm(x_mm, ref_mm) * kMm)));
    };
    std::size_t edge = 0;
    double above_mm = -kAboveMm;
    while (edge < line.edge_mm.size() && coordinate(above_mm) >= static_cast<double>(edge))
        line.edge_mm[edge++] = above_mm;
    while (above_mm < to_mm && edge < line.edge_mm.size()) {
        const double below_mm = above_mm + kStrideMm, reached = coordinate(below_mm);
        for (; edge < line.edge_mm.size() && reached >= static_cast<double>(edge); ++edge) {
            double low = above_mm, high = below_mm;
            for (int i = 0; i < kHalvings; ++i) {
                const double middle = 0.5 * (low + high);
                (coordinate(middle) >= static_cast<double>(edge) ? high : low) = middle;
            }
            line.edge_mm[edge] = 0.5 * (low + high);
            line.square[edge] =
                squareness(anatomy, map.place_mm(x_mm, line.edge_mm[edge]) * kMm, edge, map.pose.inward);
        }
        above_mm = below_mm;
    }
    return line;
}

LineOfSight between(const LineOfSight& a, const LineOfSight& b, double t) {
    LineOfSight out;
    for (std::size_t e = 0; e < out.edge_mm.size(); ++e) {
        out.edge_mm[e] = glm::mix(a.edge_mm[e], b.edge_mm[e], t);
        // an edge that one side alone comes to runs on level half of the way
        const bool lost_a = !(a.edge_mm[e] < ProbeMap::kBeyondMm), lost_b = !(b.edge_mm[e] < ProbeMap::kBeyondMm);
        if (lost_a != lost_b) out.edge_mm[e] = t < 0.5 ? a.edge_mm[e] : b.edge_mm[e];
        out.square[e] = glm::mix(a.square[e], b.square[e], t);
    }
    return out;
}

/// Footprint against skin. @param plane_mm ref of the footprint, less the film of gel
void lay(LineOfSight& line, double plane_mm) {
    constexpr double kFilmMm = kGelFilmM / kMm, kBridgesMm = kGelBridgesM / kMm;
    const double skin_mm = line.edge_mm.front(), gap_mm = skin_mm - plane_mm;
    line.contact = gap_mm <= kBridgesMm;
    line.skin_mm = skin_mm;
    line.begin_mm = kFilmMm + std::max(0.0, gap_mm);
    if (!(skin_mm < ProbeMap::kBeyondMm)) return;  // past the patient: nothing there at all
    const double thick_mm = std::min(line.edge_mm.back() - skin_mm, kSoftToMm);
    const double in_mm = std::clamp(-gap_mm, 0.0, kMostSqueezed * thick_mm);
    line.squeeze = thick_mm / (thick_mm - in_mm);
    line.floor_mm = line.begin_mm + thick_mm - in_mm;
    line.shift_mm = skin_mm + thick_mm - line.floor_mm;
}

}  // namespace

ProbePose probe_on(const sim::SkinPoint& skin, double turn_rad, double press_m) {
    const Vec3 up(0, 1, 0);
    Vec3 right = glm::cross(up, skin.normal);
    right = glm::length(right) > 1e-3 ? glm::normalize(right) : Vec3(1, 0, 0);
    const Vec3 down = glm::cross(right, skin.normal);
    const Vec3 along = std::cos(turn_rad) * right + std::sin(turn_rad) * down;
    return {skin.position_m, -skin.normal, glm::normalize(along - skin.normal * glm::dot(along, skin.normal)), press_m};
}

ProbeMap::ProbeMap(const sim::Anatomy& anatomy, const ProbePose& p, const ProbeSettings& settings)
    : pose(p), grid(settings) {
    SIM_ASSERT(p.press_m >= 0.0 && p.press_m <= kMostPressM);
    const double half_mm = -grid.x_m(0) / kMm, to_mm = (settings.depth_m + kMostPressM) / kMm;
    const int gaps = std::max(1, static_cast<int>(std::ceil(2.0 * half_mm / kColumnMm)));
    std::vector<LineOfSight> asked;
    for (int i = 0; i <= gaps; ++i) asked.push_back(ask_line(anatomy, *this, half_mm * (2.0 * i / gaps - 1.0), to_mm));
    double plane_mm = kBeyondMm;
    for (const LineOfSight& line : asked) plane_mm = std::min(plane_mm, line.edge_mm.front());
    plane_mm += pose.press_m / kMm;
    for (int l = 0; l < grid.lines; ++l) {
        const double at = (grid.x_m(l) / kMm + half_mm) / (2.0 * half_mm) * gaps;
        const auto left = static_cast<std::size_t>(std::clamp(at, 0.0, static_cast<double>(gaps - 1)));
        LineOfSight line = between(asked[left], asked[left + 1], at - static_cast<double>(left));
        lay(line, plane_mm);
        lines.push_back(line);
    }
}

Vec3 ProbeMap::place_mm(double x_mm, double ref_mm) const {
    return pose.at_m / kMm + x_mm * pose.along + ref_mm * pose.inward;
}

Vec3 ProbeMap::place_m(int line, double y_m) const {
    return place_mm(grid.x_m(line) / kMm, lines[static_cast<std::size_t>(line)].ref_mm(y_m / kMm)) * kMm;
}

double ProbeMap::depth_of_m(int line, sim::Layer layer) const {
    const LineOfSight& at = lines[static_cast<std::size_t>(line)];
    return at.y_mm(at.edge_mm[static_cast<std::size_t>(layer)]) * kMm;
}

}  // namespace view
