#include <algorithm>
#include <cmath>

#include <glm/vec2.hpp>

#include "sim/anatomy/floor_field.hpp"
#include "sim/anatomy/head_grids.hpp"

namespace sim {
namespace {

using glm::vec3;

constexpr float kStepMm = 0.25f;

/// First bone from a place in the table frame towards a direction, skipping bone that the place may lie in.
std::optional<vec3> first_bone(const FloorField& floor, const vec3& from_table, bool left, vec3 direction,
                               float reach_mm) {
    vec3 p = floor.from_table_mm(from_table, left);
    if (!left) direction.x = -direction.x;
    bool free = false;
    for (float t = 0.0f; t < reach_mm; t += kStepMm) {
        const vec3 q = p + direction * t;
        const bool bone = floor.bone_mm(q) < 0.0f;
        if (!bone) free = true;
        if (bone && free) {
            float low = t - kStepMm;
            float high = t;
            for (int i = 0; i < 12; ++i) {
                const float middle = 0.5f * (low + high);
                (floor.bone_mm(p + direction * middle) < 0.0f ? high : low) = middle;
            }
            return p + direction * high;
        }
    }
    return std::nullopt;
}

Vec3 metres(const vec3& p_mm) { return Vec3(p_mm) * kMm; }

/// Lowest bone over a few places beside each other.
std::optional<vec3> lowest_bone(const FloorField& floor, const vec3& below, const vec3& sideways, bool left,
                                float reach_mm) {
    std::optional<vec3> best;
    for (int k = -4; k <= 4; ++k) {
        const vec3 from = below + sideways * static_cast<float>(k);
        const auto hit = first_bone(floor, {std::max(from.x, 0.0f), from.y, from.z}, left, {0, 1, 0}, reach_mm);
        if (hit && (!best || hit->y < best->y)) best = hit;
    }
    return best;
}

/// Ends held. The lowest bone jumps from one edge of the flat underside of the chin to the other; the border does not.
std::vector<vec3> smoothed(std::vector<vec3> line, int passes) {
    std::vector<vec3> next = line;
    for (int pass = 0; pass < passes; ++pass) {
        for (std::size_t i = 1; i + 1 < line.size(); ++i)
            next[i] = 0.25f * (line[i - 1] + 2.0f * line[i] + line[i + 1]);
        line.swap(next);
    }
    return line;
}

/// The vertices about 2 mm apart along the line.
std::vector<Vec3> evenly(const std::vector<vec3>& line) {
    constexpr float kApartMm = 2.0f;
    std::vector<Vec3> out;
    if (line.empty()) return out;
    out.push_back(metres(line.front()));
    float run = 0.0f;
    for (std::size_t i = 1; i < line.size(); ++i) {
        run += glm::distance(line[i], line[i - 1]);
        if (run >= kApartMm || i + 1 == line.size()) {
            out.push_back(metres(line[i]));
            run = 0.0f;
        }
    }
    return out;
}

/// Lower border of the mandible in plan: from the angle to the midline, table frame (x, z).
constexpr glm::vec2 kBorderPlan[] = {{41.5f, 15.0f}, {41.0f, 22.0f}, {38.0f, 30.0f}, {33.2f, 38.0f}, {27.5f, 46.0f},
                                     {21.0f, 56.5f}, {13.0f, 66.5f}, {6.0f, 70.0f},  {0.0f, 70.5f}};

std::vector<vec3> lower_border(const FloorField& floor, bool left) {
    constexpr float kBelowMm = -106.0f, kReachMm = 75.0f, kPlanStep = 0.15f;
    std::vector<vec3> line;
    const std::size_t pieces = std::size(kBorderPlan) - 1;
    for (float s = 0.0f; s <= static_cast<float>(pieces); s += kPlanStep) {
        const auto i = std::min(static_cast<std::size_t>(s), pieces - 1);
        const glm::vec2 c = glm::mix(kBorderPlan[i], kBorderPlan[i + 1], s - static_cast<float>(i));
        const glm::vec2 along = glm::normalize(kBorderPlan[i + 1] - kBorderPlan[i]);
        const auto hit = lowest_bone(floor, {c.x, kBelowMm, c.y}, {along.y, 0.0f, -along.x}, left, kReachMm);
        if (hit) line.push_back(*hit);
    }
    constexpr int kPasses = 10;
    return smoothed(std::move(line), kPasses);
}

std::vector<vec3> ramus_back(const FloorField& floor, bool left) {
    std::vector<vec3> line;
    for (float y = -55.0f; y <= -6.0f; y += 1.0f) {
        std::optional<vec3> best;
        for (float x = 36.0f; x <= 52.0f; x += 1.0f) {
            const auto hit = first_bone(floor, {x, y, -1.0f}, left, {0, 0, 1}, 26.0f);
            if (hit && (!best || hit->z < best->z)) best = hit;
        }
        if (best) line.push_back(*best);
    }
    return line;
}

std::vector<vec3> arch_lower_border(const FloorField& floor, bool left) {
    std::vector<vec3> line;
    for (float z = 4.0f; z <= 46.0f; z += 1.0f) {
        std::optional<vec3> best;
        for (float x = 52.0f; x <= 59.0f; x += 0.5f) {
            const auto hit = first_bone(floor, {x, -20.0f, z}, left, {0, 1, 0}, 26.0f);
            if (hit && (!best || hit->y < best->y)) best = hit;
        }
        if (best) line.push_back(*best);
    }
    return line;
}

double slope_between(const std::vector<Vec3>& line, std::size_t from, std::size_t to) {
    const Vec3 d = line[to] - line[from];
    return std::atan2(d.y, d.z);
}

BonySide find_side(const FloorField& floor, bool left) {
    BonySide side;
    side.lower_border_m = evenly(lower_border(floor, left));
    side.ramus_back_m = evenly(ramus_back(floor, left));
    side.arch_lower_border_m = evenly(arch_lower_border(floor, left));
    SIM_ASSERT(side.lower_border_m.size() > 20 && side.ramus_back_m.size() > 12 && side.arch_lower_border_m.size() > 8);

    // gonion: where a line at half the angle between ramus and border touches, from the side
    const auto& border = side.lower_border_m;
    const auto& back = side.ramus_back_m;
    const double up = slope_between(back, back.size() / 4, 3 * back.size() / 4);
    const double ahead = slope_between(border, 5, 15);
    side.mandible_angle_rad = up - ahead;
    const double bisector = 0.5 * (up + ahead) + kPi;  // points down and back
    const Vec3 outward(0.0, std::sin(bisector), std::cos(bisector));
    double most = -1.0;
    const auto consider = [&](const Vec3& p) {
        if (glm::dot(p, outward) > most) {
            most = glm::dot(p, outward);
            side.gonion_m = p;
        }
    };
    for (std::size_t i = 0; i < 8; ++i) consider(border[i]);
    for (std::size_t i = 0; i < 8; ++i) consider(back[i]);

    // antegonial notch: furthest above the chord from the angle to the body's lowest point
    constexpr std::size_t kSearch = 18;
    const Vec3 a = side.gonion_m;
    const Vec3 b = border[std::min(border.size() - 1, kSearch + 4)];
    double highest = -1.0;
    side.antegonial_notch_m = border[8];
    for (std::size_t i = 4; i < std::min(kSearch, border.size()); ++i) {
        const Vec3 p = border[i];
        const double chord_y = a.y + (b.y - a.y) * (p.z - a.z) / (b.z - a.z);
        if (p.y - chord_y > highest) {
            highest = p.y - chord_y;
            side.antegonial_notch_m = p;
        }
    }
    const vec3 canal_table(66.0f, -1.0f, -4.0f);  // behind and below the arch's root (assumed)
    const auto canal = first_bone(floor, canal_table, left, {-1, 0, 0}, 30.0f);
    side.ear_canal_m = metres(canal.value_or(floor.from_table_mm({52.0f, -1.0f, -4.0f}, left)));
    return side;
}

}  // namespace

BonyPoints find_bony_points(const FloorField& floor) {
    BonyPoints points;
    points.left = find_side(floor, true);
    points.right = find_side(floor, false);
    points.menton_m = points.left.lower_border_m.back();
    return points;
}

}  // namespace sim
