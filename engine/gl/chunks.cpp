#include "engine/gl/chunks.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <glm/geometric.hpp>
#include <limits>
#include <numeric>

namespace gl {

namespace {

/// Bits of three coordinates in turn: places with near codes are near each other (Morton 1966).
std::uint32_t place_code(const glm::vec3& share) {
    std::uint32_t code = 0;
    for (int axis = 0; axis < 3; ++axis) {
        const auto at = static_cast<std::uint32_t>(std::clamp(share[axis], 0.0f, 1.0f) * 1023.0f);
        for (std::uint32_t bit = 0; bit < 10; ++bit)
            code |= (at >> bit & 1u) << (3 * bit + static_cast<unsigned>(axis));
    }
    return code;
}

Chunk chunk_of(std::span<const view::SurfaceVertex> vertices, std::span<const std::uint32_t> triangles,
               std::uint32_t first) {
    Chunk chunk;
    chunk.first = first;
    chunk.count = static_cast<std::uint32_t>(triangles.size());
    glm::vec3 low(std::numeric_limits<float>::max()), high(-low), mean(0.0f);
    for (const std::uint32_t i : triangles) {
        low = glm::min(low, vertices[i].position_mm);
        high = glm::max(high, vertices[i].position_mm);
    }
    chunk.centre = 0.5f * (low + high);
    std::vector<glm::vec3> normals;
    for (std::size_t t = 0; t + 2 < triangles.size(); t += 3) {
        const glm::vec3 a = vertices[triangles[t]].position_mm, b = vertices[triangles[t + 1]].position_mm,
                        c = vertices[triangles[t + 2]].position_mm;
        const glm::vec3 n = glm::cross(b - a, c - a);
        if (!(glm::length(n) > 1e-12f)) continue;
        normals.push_back(glm::normalize(n));
        mean += normals.back();
    }
    for (const std::uint32_t i : triangles)
        chunk.radius = std::max(chunk.radius, glm::length(vertices[i].position_mm - chunk.centre));
    if (!(glm::length(mean) > 1e-6f)) return chunk;
    chunk.facing = glm::normalize(mean);
    float least = 1.0f;
    for (const glm::vec3& n : normals) least = std::min(least, glm::dot(n, chunk.facing));
    chunk.spread_sin = least > 0.0f ? std::sqrt(std::max(0.0f, 1.0f - least * least)) : 1.0f;
    return chunk;
}

}  // namespace

std::vector<Chunk> make_chunks(std::span<const view::SurfaceVertex> vertices, std::vector<std::uint32_t>& triangles) {
    std::vector<Chunk> chunks;
    if (triangles.empty()) return chunks;
    glm::vec3 low(std::numeric_limits<float>::max()), high(-low);
    for (const view::SurfaceVertex& v : vertices) {
        low = glm::min(low, v.position_mm);
        high = glm::max(high, v.position_mm);
    }
    const glm::vec3 size = glm::max(high - low, glm::vec3(1e-6f));
    std::vector<std::pair<std::uint32_t, std::array<std::uint32_t, 3>>> sorted;
    for (std::size_t t = 0; t + 2 < triangles.size(); t += 3) {
        const std::array<std::uint32_t, 3> corners{triangles[t], triangles[t + 1], triangles[t + 2]};
        const glm::vec3 middle =
            (vertices[corners[0]].position_mm + vertices[corners[1]].position_mm + vertices[corners[2]].position_mm) /
            3.0f;
        sorted.push_back({place_code((middle - low) / size), corners});
    }
    std::stable_sort(sorted.begin(), sorted.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    for (std::size_t t = 0; t < sorted.size(); ++t)
        std::copy(sorted[t].second.begin(), sorted[t].second.end(), &triangles[3 * t]);
    for (std::size_t first = 0; first < sorted.size(); first += kChunkTriangles) {
        const std::size_t count = std::min(kChunkTriangles, sorted.size() - first);
        chunks.push_back(chunk_of(vertices, std::span(triangles).subspan(3 * first, 3 * count),
                                  static_cast<std::uint32_t>(3 * first)));
    }
    return chunks;
}

bool may_show(const Chunk& chunk, const glm::mat4& m, const glm::vec3& eye_mm, float slack_mm) {
    const float radius = chunk.radius + slack_mm;
    // the picture's four sides as planes of clip space, brought back (Gribb and Hartmann 2001)
    const auto row = [&m](int i) { return glm::vec4(m[0][i], m[1][i], m[2][i], m[3][i]); };
    for (int axis = 0; axis < 2; ++axis)
        for (const float sign : {-1.0f, 1.0f}) {
            const glm::vec4 plane = row(3) + sign * row(axis);
            const float away = glm::dot(glm::vec3(plane), chunk.centre) + plane.w;
            if (away < -radius * glm::length(glm::vec3(plane))) return false;
        }
    // all turned away: the eye is behind every triangle, wherever in the ball it lies. The widest normal stands
    // `spread` from the mean and the farthest place asin(radius / distance) from the centre; sin(a + b) <= sin a + sin
    // b
    const glm::vec3 to_eye = eye_mm - chunk.centre;
    return chunk.spread_sin >= 1.0f ||
           glm::dot(to_eye, chunk.facing) > -chunk.spread_sin * glm::length(to_eye) - radius;
}

bool may_be_cut(const Chunk& chunk, const view::CutBox& cut, float slack_mm) {
    const glm::vec3 at = glm::transpose(cut.axes) * (chunk.centre - cut.centre_mm);
    const float reach = chunk.radius + slack_mm + cut.bend_mm();
    for (int k = 0; k < 3; ++k)
        if (std::fabs(at[k]) > cut.half_mm[k] + reach) return false;
    return true;
}

bool may_be_raised(const Chunk& chunk, const view::Tent& tent, float slack_mm) {
    constexpr float kReachWidths = 1.6f;  // exp(-4 ln 2 * 1.6^2) is under a thousandth
    return std::fabs(tent.height_mm) > 0.0f &&
           glm::length(chunk.centre - tent.centre_mm) < chunk.radius + slack_mm + kReachWidths * tent.width_mm;
}

glm::vec4 plane_of(const glm::vec3& a_mm, const glm::vec3& b_mm, const glm::vec3& c_mm) {
    const glm::vec3 across = glm::cross(b_mm - a_mm, c_mm - a_mm);
    const float length = glm::length(across);
    // a triangle without an area is seen from everywhere and from nowhere
    const glm::vec3 n = length > 1e-12f ? across / length : glm::vec3(0.0f);
    return {n, glm::dot(n, a_mm)};
}

std::vector<glm::vec4> planes_of(std::span<const view::SurfaceVertex> vertices,
                                 std::span<const std::uint32_t> triangles) {
    std::vector<glm::vec4> planes;
    planes.reserve(triangles.size() / 3);
    for (std::size_t t = 0; t + 2 < triangles.size(); t += 3) {
        const auto at = [&](std::size_t corner) { return vertices[triangles[t + corner]].position_mm; };
        planes.push_back(plane_of(at(0), at(1), at(2)));
    }
    return planes;
}

Corners corners_of(std::size_t vertices, std::span<const std::uint32_t> triangles) {
    Corners out;
    out.first.assign(vertices + 1, 0);
    for (const std::uint32_t v : triangles) ++out.first[v + 1];
    for (std::size_t v = 0; v < vertices; ++v) out.first[v + 1] += out.first[v];
    out.of.resize(triangles.size());
    std::vector<std::uint32_t> next(out.first.begin(), out.first.end() - 1);
    for (std::size_t k = 0; k < triangles.size(); ++k) out.of[next[triangles[k]]++] = static_cast<std::uint32_t>(k / 3);
    return out;
}

void pick_facing(std::span<const std::uint32_t> triangles, std::span<const glm::vec4> planes, const glm::vec3& eye_mm,
                 std::vector<std::uint32_t>& picked) {
    constexpr float kEdgeOnMm = 0.01f;  // left to the card, which rounds otherwise
    std::size_t plane = 0;
    for (std::size_t t = 0; t + 2 < triangles.size(); t += 3, ++plane) {
        const glm::vec4& p = planes[plane];
        if (glm::dot(glm::vec3(p), eye_mm) < p.w - kEdgeOnMm) continue;
        picked.insert(picked.end(), {triangles[t], triangles[t + 1], triangles[t + 2]});
    }
}

}  // namespace gl
