#include "sim/anatomy/skin_light.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <glm/common.hpp>
#include <glm/geometric.hpp>

namespace sim {
namespace {

using glm::ivec3;
using glm::vec3;

constexpr float kLiftMm = 1.2f;    ///< rays start this far off the skin, above what the coarse grid gets wrong
constexpr float kSoftness = 4.0f;  ///< of shadow edges: clearance per way, as a cone of about 14 degrees
constexpr float kSkyReachMm = 60.0f;
constexpr float kShadowReachMm = 110.0f;
constexpr int kSkyRays = 20;

/// Cosine-weighted directions about +z by the golden-angle spiral.
std::array<vec3, kSkyRays> sky_directions() {
    constexpr float kGoldenAngle = 2.39996323f;
    std::array<vec3, kSkyRays> out{};
    for (int i = 0; i < kSkyRays; ++i) {
        const float share = (static_cast<float>(i) + 0.5f) / static_cast<float>(kSkyRays);
        const float radius = std::sqrt(share);
        const float turn = kGoldenAngle * static_cast<float>(i);
        out[static_cast<std::size_t>(i)] = {radius * std::cos(turn), radius * std::sin(turn), std::sqrt(1.0f - share)};
    }
    return out;
}

}  // namespace

OcclusionGrid::OcclusionGrid(const FieldMm& scene, const vec3& low_mm, const vec3& high_mm, float cell_mm,
                             const ParallelFor& parallel)
    : size_(ivec3(glm::ceil((high_mm - low_mm) / cell_mm)) + 1), low_(low_mm), cell_(cell_mm) {
    value_.resize(static_cast<std::size_t>(size_.x) * static_cast<std::size_t>(size_.y) *
                  static_cast<std::size_t>(size_.z));
    parallel(size_.z * size_.y, [&](int row) {
        const std::size_t first = static_cast<std::size_t>(row) * static_cast<std::size_t>(size_.x);
        for (int x = 0; x < size_.x; ++x) {
            value_[first + static_cast<std::size_t>(x)] = scene(low_ + cell_ * vec3(x, row % size_.y, row / size_.y));
        }
    });
}

float OcclusionGrid::value_mm(const vec3& p_mm) const {
    const vec3 at = (p_mm - low_) / cell_;
    const vec3 held = glm::clamp(at, vec3(0.0f), vec3(size_ - 1) - 1e-3f);
    const ivec3 i(held);
    const vec3 t = held - vec3(i);
    const std::size_t row = static_cast<std::size_t>(size_.x);
    const std::size_t layer = row * static_cast<std::size_t>(size_.y);
    const float* v = &value_[static_cast<std::size_t>(i.z) * layer + static_cast<std::size_t>(i.y) * row +
                             static_cast<std::size_t>(i.x)];
    const auto along_x = [&](const float* f) { return glm::mix(f[0], f[1], t.x); };
    const float near = glm::mix(along_x(v), along_x(v + row), t.y);
    const float far = glm::mix(along_x(v + layer), along_x(v + layer + row), t.y);
    return glm::mix(near, far, t.z) + glm::distance(at, held) * cell_;
}

float OcclusionGrid::clearance(const vec3& from_mm, const vec3& direction, float reach_mm) const {
    constexpr float kStartMm = 1.5f;
    constexpr float kLeastStepMm = 1.2f;
    constexpr float kMostStepMm = 14.0f;
    constexpr float kGrace = 0.2f;  // grazing rays along a convex cheek are not shadowed
    float least = 1.0f;
    for (float way = kStartMm; way < reach_mm;) {
        const float d = value_mm(from_mm + direction * way);
        least = std::min(least, kSoftness * d / way + kGrace);
        if (least < 0.0f) return 0.0f;
        way += std::clamp(d, kLeastStepMm, kMostStepMm);
    }
    return least * least * (3.0f - 2.0f * least);
}

Visibility visibility(const OcclusionGrid& scene, const vec3& p_mm, const vec3& normal) {
    static const std::array<vec3, kSkyRays> kDirections = sky_directions();
    const vec3 helper = std::fabs(normal.y) < 0.9f ? vec3(0, 1, 0) : vec3(1, 0, 0);
    const vec3 s = glm::normalize(glm::cross(helper, normal));
    const vec3 t = glm::cross(normal, s);
    const vec3 from = p_mm + normal * kLiftMm;
    float open = 0.0f;
    vec3 mean = normal * 1e-3f;
    for (const vec3& local : kDirections) {
        const vec3 direction = s * local.x + t * local.y + normal * local.z;
        const float clear = scene.clearance(from, direction, kSkyReachMm);
        open += clear;
        mean += direction * clear;
    }
    return {open / static_cast<float>(kSkyRays), glm::normalize(mean)};
}

std::vector<float> soft_shadow(const OcclusionGrid& scene, const std::vector<vec3>& position_mm,
                               const std::vector<vec3>& normal, const vec3& to_light, const ParallelFor& parallel) {
    std::vector<float> lit(position_mm.size(), 1.0f);
    parallel_ranges(parallel, position_mm.size(), [&](std::size_t i) {
        lit[i] = scene.clearance(position_mm[i] + normal[i] * kLiftMm, to_light, kShadowReachMm);
    });
    return lit;
}

}  // namespace sim
