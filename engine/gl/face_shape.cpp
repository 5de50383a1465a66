#include "engine/gl/face_shape.hpp"

#include <algorithm>
#include <glm/geometric.hpp>

namespace gl {

namespace {

constexpr int kBentCells = 48;  // of a block's side that the bent box may open, along each edge

/// Texture coordinates that put the first and the last sample on the edges. A column of samples is a row of the
/// texture, which may have room for more of them.
FaceVertex point_of(const view::LayerFace& face, int texture_columns, float u, float v) {
    const float column = u * static_cast<float>(face.columns - 1), row = v * static_cast<float>(face.rows - 1);
    return {face.origin_mm + u * face.edge_u_mm + v * face.edge_v_mm,
            face.normal,
            {u * glm::length(face.edge_u_mm), v * glm::length(face.edge_v_mm)},
            {(row + 0.5f) / static_cast<float>(face.rows), (column + 0.5f) / static_cast<float>(texture_columns)}};
}

}  // namespace

FaceShape shape_of(const view::LayerFace& face, int texture_columns) {
    const bool bent = !face.rise_mm.empty();
    const int along = bent ? face.columns - 1 : face.cut_by_box ? kBentCells : 1;
    const int up = face.cut_by_box ? kBentCells : 1;
    FaceShape shape;
    for (int j = 0; j <= up; ++j)
        for (int i = 0; i <= along; ++i) {
            const float u = static_cast<float>(i) / static_cast<float>(along);
            FaceVertex vertex = point_of(face, texture_columns, u, static_cast<float>(j) / static_cast<float>(up));
            if (bent) {
                const auto rise = [&face](int column) {
                    return face.rise_mm[static_cast<std::size_t>(std::clamp(column, 0, face.columns - 1))];
                };
                vertex.position += face.normal * rise(i);
                const float step = glm::length(face.edge_u_mm) / static_cast<float>(along);
                const float slope = 0.5f * (rise(i + 1) - rise(i - 1)) / step;
                vertex.normal = glm::normalize(face.normal - slope * glm::normalize(face.edge_u_mm));
            }
            shape.vertices.push_back(vertex);
        }
    // the edges may turn either way about the side from which the face is seen
    const bool turned = glm::dot(glm::cross(face.edge_u_mm, face.edge_v_mm), face.normal) < 0.0f;
    const auto row = static_cast<std::uint32_t>(along + 1);
    for (std::uint32_t j = 0; j < static_cast<std::uint32_t>(up); ++j)
        for (std::uint32_t i = 0; i + 1 < row; ++i) {
            const std::uint32_t a = j * row + i, b = a + 1, c = b + row, d = a + row;
            const std::array<std::uint32_t, 6> one_way{a, b, c, a, c, d}, other_way{a, c, b, a, d, c};
            for (const std::uint32_t k : turned ? other_way : one_way) shape.triangles.push_back(k);
        }
    return shape;
}

}  // namespace gl
