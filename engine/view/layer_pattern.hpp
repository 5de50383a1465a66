#pragma once

#include <memory>

#include "engine/view/draw_list.hpp"

namespace view {

/// Textures of cut tissue, tiling: septa between small lobules, septa between large ones, fibres, soft noise.
/// One tile is kLayerPatternMm wide.
[[nodiscard]] std::shared_ptr<const Image> layer_pattern_image();
inline constexpr float kLayerPatternMm = 24.0f;

}  // namespace view
