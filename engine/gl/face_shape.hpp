#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <glm/vec2.hpp>
#include <glm/vec3.hpp>
#include <vector>

#include "engine/gl/objects.hpp"
#include "engine/view/draw_list.hpp"

/// The triangles of a cut through the layers: flat, bent with the shaft, or fine enough for a bent box to open.

namespace gl {

struct FaceVertex {
    glm::vec3 position{}, normal{};
    glm::vec2 across{}, texture{};
};

inline constexpr std::array kFaceLayout{
    Attribute{3, offsetof(FaceVertex, position)}, Attribute{3, offsetof(FaceVertex, normal)},
    Attribute{2, offsetof(FaceVertex, across)}, Attribute{2, offsetof(FaceVertex, texture)}};

struct FaceShape {
    std::vector<FaceVertex> vertices;
    std::vector<std::uint32_t> triangles;
};

/// @param texture_columns rows of the texture that holds the face's samples, of which it may use the first alone
[[nodiscard]] FaceShape shape_of(const view::LayerFace& face, int texture_columns);

}  // namespace gl
