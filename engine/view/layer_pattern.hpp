#pragma once

#include <memory>

#include "engine/view/draw_list.hpp"

namespace view {

/// Textures of cut tissue, tiling: septa between small lobules, septa between large ones, fibres, soft noise.
[[nodiscard]] std::shared_ptr<const Image> layer_pattern_image();

}  // namespace view
