#pragma once

#include "engine/view/draw_list.hpp"

/// Skin for a renderer without a graphics card: what a picture of fine detail does to the light of one skin tone,
/// worked out once, so that a pixel costs two look-ups and a few products.

namespace view {

/// Fills lean_detail and, where there is a face to paint, lean_face. @param images detail must be there
void work_out_lean_images(SkinImages& images, const SkinTone& tone);

}  // namespace view
