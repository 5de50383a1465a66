#pragma once

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <vector>

#include <glm/common.hpp>
#include <glm/geometric.hpp>
#include <glm/vec2.hpp>
#include <glm/vec3.hpp>

/// Building blocks of the skin field: profiles, smooth joins, rounded bodies and drawn curves. Millimetres, single
/// precision; a field value is about a distance, negative inside. Bodies and joins after Quilez's published
/// distance-function notes (from memory): the ellipsoid bound k0 (k0 - 1) / k1 and the polynomial smooth minimum.

namespace sim::skin {

inline constexpr float kFarMm = 1e9f;

inline float square(float v) { return v * v; }
inline float clamp01(float v) { return std::clamp(v, 0.0f, 1.0f); }

/// 0 at `from`, 1 at `to`, smooth between; `from` may be the greater.
inline float ramp(float from, float to, float v) {
    const float t = clamp01((v - from) / (to - from));
    return t * t * (3.0f - 2.0f * t);
}

/// exp(-v) for v >= 0, cut to 0 where it is below float resolution of a millimetre: underflow is slow.
inline float faded(float v) { return v < 30.0f ? std::exp(-v) : 0.0f; }

/// Gaussian of unit height.
inline float bell(float v, float sigma) { return faded(0.5f * square(v / sigma)); }

/// Gaussian of unit height, given by its 1/e half width.
inline float bump(float v, float half_width) { return faded(square(v / half_width)); }

/// Smooth minimum (union); the surfaces begin to join where they are `reach` apart, by reach / 4 where they meet.
inline float join(float a, float b, float reach) {
    const float h = std::max(reach - std::fabs(a - b), 0.0f) / reach;
    return std::min(a, b) - h * h * reach * 0.25f;
}

/// Smooth maximum (intersection).
inline float meet(float a, float b, float reach) { return -join(-a, -b, reach); }

/// Takes the body `hole` out of `a`.
inline float carve(float a, float hole, float reach) { return meet(a, -hole, reach); }

/// Like join, with a continuous second derivative: for joins that light would draw as a line.
inline float join_soft(float a, float b, float reach) {
    const float h = std::max(reach - std::fabs(a - b), 0.0f) / reach;
    return std::min(a, b) - h * h * h * reach * (1.0f / 6.0f);
}

inline float ellipsoid(const glm::vec3& p, const glm::vec3& centre, const glm::vec3& radius) {
    const glm::vec3 q = (p - centre) / radius;
    const float k0 = glm::length(q);
    const float k1 = glm::length(q / radius);
    return k1 < 1e-6f ? -std::min({radius.x, radius.y, radius.z}) : k0 * (k0 - 1.0f) / k1;
}

/// The same in the plane.
inline float ellipse(const glm::vec2& p, const glm::vec2& radius) {
    const float k0 = glm::length(p / radius);
    const float k1 = glm::length(p / (radius * radius));
    return k1 < 1e-6f ? -std::min(radius.x, radius.y) : k0 * (k0 - 1.0f) / k1;
}

/// Ellipsoid turned about x by `angle_rad`.
inline float tilted_ellipsoid(const glm::vec3& p, const glm::vec3& centre, const glm::vec3& radius, float angle_rad) {
    const glm::vec3 d = p - centre;
    const float c = std::cos(angle_rad);
    const float s = std::sin(angle_rad);
    return ellipsoid({d.x, c * d.y - s * d.z, s * d.y + c * d.z}, glm::vec3(0.0f), radius);
}

/// Capsule whose radius runs linearly from `radius_a` to `radius_b`.
inline float capsule(const glm::vec3& p, const glm::vec3& a, const glm::vec3& b, float radius_a, float radius_b) {
    const glm::vec3 pa = p - a;
    const glm::vec3 ba = b - a;
    const float t = clamp01(glm::dot(pa, ba) / glm::dot(ba, ba));
    return glm::length(pa - ba * t) - glm::mix(radius_a, radius_b, t);
}

/// Smooth function through given points: cubic Hermite with weighted three-point slopes, straight beyond its ends.
class Curve {
 public:
    Curve(std::initializer_list<glm::vec2> points);
    [[nodiscard]] float operator()(float x) const;

 private:
    std::vector<glm::vec2> points_;  ///< x ascending
    std::vector<float> slope_;
};

/// A tube of varying radius along a smooth line.
class Tube {
 public:
    /// Both lists have the same length, at least two.
    Tube(const std::vector<glm::vec3>& line_mm, const std::vector<float>& radius_mm);
    [[nodiscard]] float distance(const glm::vec3& p) const;

 private:
    std::vector<glm::vec3> line_;
    std::vector<float> radius_;
};

/// A smooth line drawn on the frontal plane.
class DrawnLine {
 public:
    struct Place {
        float offset_mm = 1e3f;  ///< > 0 to the left of the line's direction: lateral when the line runs down on +x
        float fraction = 0.0f;   ///< along the line, 0..1
    };
    DrawnLine(std::initializer_list<glm::vec2> points_mm);
    [[nodiscard]] Place place(const glm::vec2& p) const;

 private:
    std::vector<glm::vec2> line_;
    std::vector<float> run_;  ///< length up to each vertex
};

}  // namespace sim::skin
