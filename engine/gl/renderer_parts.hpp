#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "engine/gl/objects.hpp"
#include "engine/view/draw_list.hpp"

/// What the renderer's parts share: units of textures, and what a draw list tells a program.

namespace gl {

inline constexpr int kDetailUnit = 0, kFaceUnit = 1, kReliefUnit = 2, kLayerUnit = 3, kPatternUnit = 4;

template <typename T>
std::span<const std::byte> bytes_of(const std::vector<T>& values) {
    return std::as_bytes(std::span(values));
}

void set_cut(const Program& program, const view::DrawList& list);
/// How a live tip moves the walls of the cut.
void set_lift(const Program& program, const view::DrawList& list);
void set_camera(const Program& program, const view::DrawList& list);
void enable(GLenum what, bool on);

/// Of the picture, at a place. 0 behind the eye.
[[nodiscard]] float pixels_per_mm(const view::DrawList& list, const glm::vec3& at_mm);

}  // namespace gl
