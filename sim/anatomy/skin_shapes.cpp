#include "sim/anatomy/skin_shapes.hpp"

#include "sim/core/errors.hpp"

namespace sim::skin {
namespace {

/// Uniform Catmull-Rom between b and c.
template <class V>
V catmull_rom(const V& a, const V& b, const V& c, const V& d, float t) {
    return 0.5f * ((2.0f * b) + (c - a) * t + (2.0f * a - 5.0f * b + 4.0f * c - d) * (t * t) +
                   (3.0f * b - a - 3.0f * c + d) * (t * t * t));
}

template <class V>
std::vector<V> resampled(const std::vector<V>& points, int pieces) {
    std::vector<V> line;
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
        const V& before = points[i > 0 ? i - 1 : 0];
        const V& after = points[std::min(i + 2, points.size() - 1)];
        for (int k = 0; k < pieces; ++k) {
            const float t = static_cast<float>(k) / static_cast<float>(pieces);
            line.push_back(catmull_rom(before, points[i], points[i + 1], after, t));
        }
    }
    line.push_back(points.back());
    return line;
}

}  // namespace

Curve::Curve(std::initializer_list<glm::vec2> points) : points_(points), slope_(points.size()) {
    SIM_ASSERT(points_.size() >= 2);
    std::sort(points_.begin(), points_.end(), [](const glm::vec2& a, const glm::vec2& b) { return a.x < b.x; });
    const std::size_t last = points_.size() - 1;
    const auto rise = [&](std::size_t i) {
        return (points_[i + 1].y - points_[i].y) / (points_[i + 1].x - points_[i].x);
    };
    slope_[0] = rise(0);
    slope_[last] = rise(last - 1);
    for (std::size_t i = 1; i < last; ++i) {
        const float before = points_[i].x - points_[i - 1].x;
        const float after = points_[i + 1].x - points_[i].x;
        slope_[i] = (rise(i - 1) * after + rise(i) * before) / (before + after);
    }
}

float Curve::operator()(float x) const {
    const std::size_t last = points_.size() - 1;
    if (x <= points_[0].x) return points_[0].y + slope_[0] * (x - points_[0].x);
    if (x >= points_[last].x) return points_[last].y + slope_[last] * (x - points_[last].x);
    std::size_t i = 0;
    while (x > points_[i + 1].x) ++i;
    const float h = points_[i + 1].x - points_[i].x;
    const float t = (x - points_[i].x) / h;
    const float t2 = t * t;
    const float t3 = t2 * t;
    return (2.0f * t3 - 3.0f * t2 + 1.0f) * points_[i].y + (t3 - 2.0f * t2 + t) * h * slope_[i] +
           (-2.0f * t3 + 3.0f * t2) * points_[i + 1].y + (t3 - t2) * h * slope_[i + 1];
}

Tube::Tube(const std::vector<glm::vec3>& line_mm, const std::vector<float>& radius_mm) {
    SIM_ASSERT(line_mm.size() >= 2 && line_mm.size() == radius_mm.size());
    constexpr int kPieces = 4;
    line_ = resampled(line_mm, kPieces);
    radius_ = resampled(radius_mm, kPieces);
}

float Tube::distance(const glm::vec3& p) const {
    float least = kFarMm;
    for (std::size_t i = 0; i + 1 < line_.size(); ++i) {
        least = std::min(least, capsule(p, line_[i], line_[i + 1], radius_[i], radius_[i + 1]));
    }
    return least;
}

DrawnLine::DrawnLine(std::initializer_list<glm::vec2> points_mm) {
    SIM_ASSERT(points_mm.size() >= 2);
    constexpr int kPieces = 5;
    line_ = resampled(std::vector<glm::vec2>(points_mm), kPieces);
    run_.push_back(0.0f);
    for (std::size_t i = 1; i < line_.size(); ++i) {
        run_.push_back(run_.back() + glm::length(line_[i] - line_[i - 1]));
    }
}

DrawnLine::Place DrawnLine::place(const glm::vec2& p) const {
    Place nearest;
    float least = kFarMm;
    for (std::size_t i = 0; i + 1 < line_.size(); ++i) {
        const glm::vec2 edge = line_[i + 1] - line_[i];
        const glm::vec2 from = p - line_[i];
        const float t = clamp01(glm::dot(from, edge) / glm::dot(edge, edge));
        const glm::vec2 across = from - edge * t;
        const float distance2 = glm::dot(across, across);
        if (distance2 >= least) continue;
        least = distance2;
        const float turn = edge.x * from.y - edge.y * from.x;
        nearest.offset_mm = (turn > 0.0f ? 1.0f : -1.0f) * std::sqrt(distance2);
        nearest.fraction = (run_[i] + t * glm::length(edge)) / run_.back();
    }
    return nearest;
}

}  // namespace sim::skin
