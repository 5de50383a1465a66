#include "engine/view/shaft_look.hpp"

#include <algorithm>
#include <cmath>

#include "sim/instruments/track.hpp"

namespace view {

namespace {

constexpr double kBendM = 6.0 * sim::kMm;  // before and behind the entry over which the drawn shaft turns
constexpr int kBendPieces = 6;
constexpr double kInsideStepM = 2.0 * sim::kMm;
constexpr double kHubM = 30.0 * sim::kMm;        // length of hub and holder beyond the shaft's end that must keep clear
constexpr double kHubRadiusM = 5.0 * sim::kMm;   // of the widest part held there; assumed
constexpr double kShaftClearM = 0.8 * sim::kMm;  // of the bare shaft's axis over the skin
constexpr double kSwingStepRad = 0.02, kMostSwingRad = 1.2;

Vec3 turned_about(const Vec3& v, const Vec3& axis, double angle_rad) {
    return v * std::cos(angle_rad) + glm::cross(axis, v) * std::sin(angle_rad) +
           axis * glm::dot(axis, v) * (1.0 - std::cos(angle_rad));
}

double height_m(const sim::Anatomy& anatomy, const Vec3& p_m) {
    const sim::SkinPoint skin = anatomy.nearest_skin(p_m);
    return glm::dot(p_m - skin.position_m, skin.normal);
}

/// Whether hub and outer shaft lie over the skin when they leave the entry this way.
bool clear_of_skin(const sim::Anatomy& anatomy, const Vec3& entry_m, const Vec3& outward, double outside_m) {
    constexpr int kPlaces = 6;
    for (int i = 1; i <= kPlaces; ++i) {
        const double s_m = outside_m * i / kPlaces;
        // the shaft comes out of the skin at its own angle: close to the entry it may lie on it
        if (s_m > kBendM && height_m(anatomy, entry_m + outward * s_m) < kShaftClearM) return false;
    }
    for (const double beyond_m : {0.0, 0.5 * kHubM, kHubM})
        if (height_m(anatomy, entry_m + outward * (outside_m + beyond_m)) < kHubRadiusM) return false;
    return true;
}

/// The way from the entry to the hub, swung away from the skin by no more than it takes.
Vec3 outward_over_skin(const sim::Anatomy& anatomy, const Vec3& entry_m, const Vec3& normal, const Vec3& wanted,
                       double outside_m) {
    const Vec3 axis = glm::cross(wanted, normal);
    if (!(glm::length(axis) > 1e-6)) return wanted;
    Vec3 outward = wanted;
    for (double angle_rad = 0.0; angle_rad < kMostSwingRad; angle_rad += kSwingStepRad) {
        outward = turned_about(wanted, glm::normalize(axis), angle_rad);
        if (clear_of_skin(anatomy, entry_m, outward, outside_m)) break;
    }
    return outward;
}

}  // namespace

std::vector<Vec3> part_under_skin(std::span<const Vec3> shaft_m, double inserted_m) {
    std::vector<Vec3> part;
    if (shaft_m.size() < 2 || !(inserted_m > 0.0)) return part;
    double left_m = inserted_m;
    part.push_back(shaft_m.back());
    for (std::size_t i = shaft_m.size() - 1; i > 0 && left_m > 1e-9; --i) {
        const Vec3 back = shaft_m[i - 1] - shaft_m[i];
        const double length_m = glm::length(back);
        if (!(length_m > 1e-9)) continue;
        part.push_back(shaft_m[i] + back * std::min(1.0, left_m / length_m));
        left_m -= length_m;
    }
    std::reverse(part.begin(), part.end());
    return part;
}

std::vector<Vec3> shaft_among_layers(const sim::State& state, const sim::Anatomy& anatomy) {
    const std::vector<Vec3>& in_space = state.shaft_m;
    if (!state.track || state.track->nodes.empty() || in_space.size() < 2 || !(state.inserted_m > 0.0)) return in_space;
    const sim::Track& track = *state.track;
    const auto inside_at = [&](double arc_m) {
        return arc_m >= state.inserted_m ? state.tip_m : sim::way_at(track, arc_m);
    };
    const Vec3 entry_m = inside_at(0.0), hub_m = in_space.front();
    const double outside_m = glm::length(hub_m - entry_m);
    if (!(outside_m > 1e-6)) return in_space;
    const Vec3 outward =
        outward_over_skin(anatomy, entry_m, state.hands.entry.normal, (hub_m - entry_m) / outside_m, outside_m);

    // the bend is a parabola whose handles lie along the two ways (Bezier's of the second degree)
    const double before_m = std::min(kBendM, 0.5 * outside_m), behind_m = std::min(kBendM, 0.5 * state.inserted_m);
    const Vec3 from_m = entry_m + outward * before_m, to_m = inside_at(behind_m);
    std::vector<Vec3> drawn{entry_m + outward * outside_m};
    for (int i = 0; i <= kBendPieces; ++i) {
        const double t = static_cast<double>(i) / kBendPieces;
        drawn.push_back(from_m * ((1 - t) * (1 - t)) + entry_m * (2 * t * (1 - t)) + to_m * (t * t));
    }
    for (double arc_m = behind_m + kInsideStepM; arc_m < state.inserted_m - 0.25 * kInsideStepM; arc_m += kInsideStepM)
        drawn.push_back(inside_at(arc_m));
    drawn.push_back(state.tip_m);
    return drawn;
}

}  // namespace view
