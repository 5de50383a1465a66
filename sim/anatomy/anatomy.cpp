#include "sim/anatomy/anatomy.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"

namespace sim {

std::string_view name_of(Layer layer) {
    static constexpr std::array<std::string_view, 7> names{
        "outside", "skin", "superficial fat", "SMAS or platysma", "deep fat", "muscle", "floor"};
    return names[static_cast<std::size_t>(layer)];
}

std::string_view name_of(FloorKind kind) {
    static constexpr std::array<std::string_view, 3> names{"bone", "lining of the mouth", "deep cervical fascia"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(Side side) {
    static constexpr std::array<std::string_view, 3> names{"left", "right", "midline"};
    return names[static_cast<std::size_t>(side)];
}

std::string_view name_of(StructureKind kind) {
    static constexpr std::array<std::string_view, 5> names{"artery", "vein", "nerve", "duct", "gland"};
    return names[static_cast<std::size_t>(kind)];
}

Vec3 walk_in(const Anatomy& anatomy, const SkinPoint& from, double depth_m) {
    // a few corrected steps: the gradient turns slowly, and the last correction leaves less than a micrometre
    constexpr int kSteps = 8;
    Vec3 p = from.position_m;
    for (int i = 1; i <= kSteps; ++i) {
        const double wanted_m = depth_m * i / kSteps;
        for (int correction = 0; correction < 2; ++correction) {
            const double missing_m = wanted_m - anatomy.layers_at(p).depth_m;
            p += anatomy.inward_at(p) * missing_m;
        }
    }
    return p;
}

SegmentPair closest_between(const Vec3& a0, const Vec3& a1, const Vec3& b0, const Vec3& b1) {
    const Vec3 d1 = a1 - a0;
    const Vec3 d2 = b1 - b0;
    const Vec3 r = a0 - b0;
    const double a = glm::dot(d1, d1);
    const double e = glm::dot(d2, d2);
    const double f = glm::dot(d2, r);
    const double c = glm::dot(d1, r);
    double s = 0.0;
    double t = 0.0;
    if (a > 0.0 && e > 0.0) {
        const double b = glm::dot(d1, d2);
        const double denominator = a * e - b * b;
        // parallel pieces have a whole range of closest pairs: any s will do, take the start
        if (denominator > 1e-14 * a * e) s = std::clamp((b * f - c * e) / denominator, 0.0, 1.0);
        t = (b * s + f) / e;
        if (t < 0.0) {
            t = 0.0;
            s = std::clamp(-c / a, 0.0, 1.0);
        } else if (t > 1.0) {
            t = 1.0;
            s = std::clamp((b - c) / a, 0.0, 1.0);
        }
    } else if (a > 0.0) {
        s = std::clamp(-c / a, 0.0, 1.0);
    } else if (e > 0.0) {
        t = std::clamp(f / e, 0.0, 1.0);
    }
    return {glm::length(a0 + s * d1 - b0 - t * d2), s, t};
}

void Anatomy::index_structures() {
    const Box empty{Vec3(std::numeric_limits<double>::infinity()), Vec3(-std::numeric_limits<double>::infinity())};
    const auto grow = [](Box& box, const Vec3& low, const Vec3& high) {
        box.low = glm::min(box.low, low);
        box.high = glm::max(box.high, high);
    };
    structure_boxes_.clear();
    for (const Structure& structure : structures_) {
        SIM_ASSERT(structure.line.size() >= 2);
        StructureBoxes boxes{empty, {}};
        const std::size_t pieces = structure.line.size() - 1;
        for (std::size_t first = 0; first < pieces; first += kBoxedPieces) {
            Box box = empty;
            for (std::size_t k = first; k <= std::min(first + kBoxedPieces, pieces); ++k) {
                const StructureNode& node = structure.line[k];
                grow(box, node.position_m - node.radius_m, node.position_m + node.radius_m);
            }
            grow(boxes.whole, box.low, box.high);
            boxes.pieces.push_back(box);
        }
        structure_boxes_.push_back(std::move(boxes));
    }
}

void Anatomy::clearances(const Vec3& a_m, const Vec3& b_m, double reach_m, std::vector<Clearance>& out) const {
    SIM_ASSERT(structure_boxes_.size() == structures_.size());
    constexpr double kRoundingM = 1e-12;  // so that what is skipped is farther whatever the rounding
    const Vec3 low = glm::min(a_m, b_m);
    const Vec3 high = glm::max(a_m, b_m);
    const auto beyond = [&](const Box& box, double distance_m) {
        const Vec3 gap = glm::max(glm::max(box.low - high, low - box.high), Vec3(0.0));
        const double limit_m = std::max(0.0, distance_m) + kRoundingM;
        return glm::dot(gap, gap) > limit_m * limit_m;
    };
    for (std::size_t i = 0; i < structures_.size(); ++i) {
        const StructureBoxes& boxes = structure_boxes_[i];
        if (beyond(boxes.whole, reach_m)) continue;
        Clearance best;
        const auto& line = structures_[i].line;
        for (std::size_t k = 0; k + 1 < line.size(); ++k) {
            if (k % kBoxedPieces == 0 && beyond(boxes.pieces[k / kBoxedPieces], std::min(best.distance_m, reach_m))) {
                k += kBoxedPieces - 1;
                continue;
            }
            const SegmentPair pair = closest_between(a_m, b_m, line[k].position_m, line[k + 1].position_m);
            // radius at the nearest point of the centre line: exact for a cylinder, close for a gentle taper
            const double radius_m = line[k].radius_m + pair.t * (line[k + 1].radius_m - line[k].radius_m);
            if (pair.distance_m - radius_m < best.distance_m)
                best = {static_cast<int>(i), pair.distance_m - radius_m, a_m + pair.s * (b_m - a_m)};
        }
        if (best.distance_m <= reach_m) out.push_back(best);
    }
}

namespace {

// Moeller & Trumbore 1997, "Fast, minimum storage ray/triangle intersection", for a bounded piece.
std::optional<double> triangle_crossing(const Vec3& a, const Vec3& b, const Vec3& v0, const Vec3& v1, const Vec3& v2) {
    const Vec3 d = b - a;
    const Vec3 e1 = v1 - v0;
    const Vec3 e2 = v2 - v0;
    const Vec3 h = glm::cross(d, e2);
    const double det = glm::dot(e1, h);
    if (det == 0.0) return std::nullopt;
    const Vec3 s = a - v0;
    const double u = glm::dot(s, h) / det;
    if (!(u >= 0.0 && u <= 1.0)) return std::nullopt;
    const Vec3 q = glm::cross(s, e1);
    const double v = glm::dot(d, q) / det;
    if (!(v >= 0.0 && u + v <= 1.0)) return std::nullopt;
    const double t = glm::dot(e2, q) / det;
    if (!(t >= 0.0 && t <= 1.0)) return std::nullopt;
    return t;
}

}  // namespace

std::optional<double> crossing(const Ligament& ligament, const Vec3& a_m, const Vec3& b_m) {
    SIM_ASSERT(ligament.deep_m.size() == ligament.superficial_m.size());
    std::optional<double> first;
    for (std::size_t k = 0; k + 1 < ligament.deep_m.size(); ++k) {
        const Vec3& d0 = ligament.deep_m[k];
        const Vec3& d1 = ligament.deep_m[k + 1];
        const Vec3& s0 = ligament.superficial_m[k];
        const Vec3& s1 = ligament.superficial_m[k + 1];
        for (const auto& hit : {triangle_crossing(a_m, b_m, d0, d1, s1), triangle_crossing(a_m, b_m, d0, s1, s0)})
            if (hit && (!first || *hit < *first)) first = hit;
    }
    return first;
}

double distance_to(const Ligament& ligament, const Vec3& p_m) {
    double best_m = std::numeric_limits<double>::infinity();
    const auto take = [&](const Vec3& a, const Vec3& b) {
        best_m = std::min(best_m, closest_between(p_m, p_m, a, b).distance_m);
    };
    for (std::size_t k = 0; k < ligament.deep_m.size(); ++k) {
        take(ligament.deep_m[k], ligament.superficial_m[k]);
        if (k + 1 == ligament.deep_m.size()) break;
        take(ligament.deep_m[k], ligament.deep_m[k + 1]);
        take(ligament.superficial_m[k], ligament.superficial_m[k + 1]);
    }
    return best_m;
}

}  // namespace sim
