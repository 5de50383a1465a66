#include "sim/procedure/mark_rules.hpp"

#include <algorithm>

namespace sim {

namespace {

constexpr double kPulseM = 10.0 * kMm;  // from the skin to the artery's wall; assumed
constexpr double kZoneM = 20.0 * kMm;   // below the jaw's border
constexpr double kBelowTragusM = 5.0 * kMm, kAboveBrowM = 15.0 * kMm, kBrowOverOrbitM = 10.0 * kMm;

std::optional<Vec3> landmark(const Anatomy& anatomy, std::string_view name, Side side) {
    for (const Landmark& one : anatomy.landmarks())
        if (one.name == name && one.side == side) return one.skin.position_m;
    return std::nullopt;
}

/// Nearest point of a segment.
Vec3 nearest_on(const Vec3& a, const Vec3& b, const Vec3& p) {
    const Vec3 way = b - a;
    return a + std::clamp(glm::dot(p - a, way) / glm::dot(way, way), 0.0, 1.0) * way;
}

/// What a rule is told from: two landmarks, or twice the same.
struct RuleEnds {
    Vec3 from_m{}, to_m{};
};
std::optional<RuleEnds> ends_of(const Anatomy& anatomy, MarkPoint point, Side side) {
    const auto between = [&](std::string_view a, std::string_view b) -> std::optional<RuleEnds> {
        const auto from = landmark(anatomy, a, side), to = landmark(anatomy, b, side);
        if (!from || !to) return std::nullopt;
        return RuleEnds{*from, *to};
    };
    switch (point) {
        case MarkPoint::jaw_artery:
            return between("antegonial notch", "antegonial notch");
        case MarkPoint::mandibular_branch_zone:
            return between("gonion", "mid-mandibular border");
        case MarkPoint::frontal_branch_line: {
            auto ends = between("tragion", "lateral orbit");
            if (!ends) return ends;
            ends->from_m.y -= kBelowTragusM;
            ends->to_m.y += kBrowOverOrbitM + kAboveBrowM;
            return ends;
        }
        case MarkPoint::vector_entry:
        case MarkPoint::vector_end:
            break;
    }
    return std::nullopt;
}

}  // namespace

std::optional<double> off_rule_m(const Anatomy& anatomy, MarkPoint point, const Vec3& place_m) {
    const auto ends = ends_of(anatomy, point, place_m.x >= 0.0 ? Side::left : Side::right);
    if (!ends) return std::nullopt;
    if (point == MarkPoint::jaw_artery) return glm::length(place_m - ends->from_m);
    const Vec3 near = nearest_on(ends->from_m, ends->to_m, place_m);
    if (point == MarkPoint::frontal_branch_line) {
        // along the skin: what the straight line runs under counts sideways and in height only
        Vec3 off = place_m - near;
        off.x = 0.0;
        return glm::length(off);
    }
    const double below_m = near.y - place_m.y;
    const double past_m = std::max({0.0, -below_m, below_m - kZoneM});
    return std::max(past_m, std::abs(place_m.z - near.z));
}

std::optional<Vec3> rule_place(const Anatomy& anatomy, MarkPoint point, Side side) {
    const auto ends = ends_of(anatomy, point, side);
    if (!ends) return std::nullopt;
    Vec3 middle = 0.5 * (ends->from_m + ends->to_m);
    if (point == MarkPoint::mandibular_branch_zone) middle.y -= 0.5 * kZoneM;
    return anatomy.nearest_skin(middle).position_m;
}

int pulse_under(const Anatomy& anatomy, const Vec3& place_m) {
    std::vector<Clearance> found;
    anatomy.clearances(place_m, place_m, kPulseM, found);
    int nearest = -1;
    double least_m = kPulseM;
    for (const Clearance& one : found) {
        if (anatomy.structures()[static_cast<std::size_t>(one.structure)].kind != StructureKind::artery) continue;
        if (one.distance_m < least_m) least_m = one.distance_m, nearest = one.structure;
    }
    return nearest;
}

}  // namespace sim
