#pragma once

#include <cstdint>
#include <glm/mat4x4.hpp>
#include <glm/vec3.hpp>
#include <span>
#include <vector>

#include "engine/view/draw_list.hpp"

/// A large surface in pieces of neighbouring triangles, so that what is out of the picture, turned away or not touched
/// by the cut costs nothing.

namespace gl {

/// Triangles that lie together. Positions in mm.
struct Chunk {
    std::uint32_t first = 0, count = 0;  ///< into the index array
    glm::vec3 centre{};
    float radius = 0.0f;
    glm::vec3 facing{0, 0, 1};  ///< unit, mean of the normals
    float spread_sin = 1.0f;    ///< sine of the widest angle of a normal from it; 1 when it reaches 90 degrees
};

inline constexpr std::size_t kChunkTriangles = 192;

/// Sort triangles by place. @param triangles of `vertices`, three indices each; reordered
[[nodiscard]] std::vector<Chunk> make_chunks(std::span<const view::SurfaceVertex> vertices,
                                             std::vector<std::uint32_t>& triangles);

/// Whether any of it may be seen. @param slack_mm how far vertices may have been moved
[[nodiscard]] bool may_show(const Chunk& chunk, const glm::mat4& view_projection, const glm::vec3& eye_mm,
                            float slack_mm);

/// Whether the cut may take any of it away.
[[nodiscard]] bool may_be_cut(const Chunk& chunk, const view::CutBox& cut, float slack_mm);

/// Whether the tent may raise any of it by more than a thousandth of its height. @param slack_mm as above
[[nodiscard]] bool may_be_raised(const Chunk& chunk, const view::Tent& tent, float slack_mm);

/// A triangle's unit normal and how far along it the triangle lies, mm.
[[nodiscard]] glm::vec4 plane_of(const glm::vec3& a_mm, const glm::vec3& b_mm, const glm::vec3& c_mm);
/// Of each triangle.
[[nodiscard]] std::vector<glm::vec4> planes_of(std::span<const view::SurfaceVertex> vertices,
                                               std::span<const std::uint32_t> triangles);

/// Which triangles each vertex is a corner of: those of vertex v are of[first[v]] to of[first[v + 1] - 1].
struct Corners {
    std::vector<std::uint32_t> first, of;
};
[[nodiscard]] Corners corners_of(std::size_t vertices, std::span<const std::uint32_t> triangles);

/// Adds the triangles that the eye sees from in front to `picked`. @param planes of these triangles, first to first
void pick_facing(std::span<const std::uint32_t> triangles, std::span<const glm::vec4> planes, const glm::vec3& eye_mm,
                 std::vector<std::uint32_t>& picked);

}  // namespace gl
