#pragma once

#include <cstdint>
#include <vector>

#include "sim/anatomy/skin_field.hpp"

/// Small pictures of what is finer than the mesh: brows, lips, lash line, spots, fine lines, pores. For the renderer.

namespace sim {

/// Square, 8 bits a channel, four channels, first row at the lowest y.
struct TextureImage {
    int size = 0;  ///< pixels a side
    std::vector<std::uint8_t> rgba;
};

/// The part of the rest frame's frontal plane that the painted face covers, mm.
struct PaintWindow {
    static constexpr float kLowX = -70.0f, kLowY = -74.0f, kSide = 140.0f;
};

/// Changes against plain skin, laid on the face from the front by rest coordinates.
struct FacePaint {
    /// hair cover / extra blood times 0.6 / extra melanin times 2 / wetness, each 0..1 as 0..255
    TextureImage colour;
    /// slope of fine lines along x and y, 0.5 level, one unit = 1 mm/mm; then coarseness of pores; then greyness of
    /// hair
    TextureImage relief;
};
[[nodiscard]] FacePaint paint_face(const SkinField& field, int size);

/// Tiles endlessly in three planes. Slopes along the plane's two axes (0.5 level) / mottling / stubble dots.
[[nodiscard]] TextureImage skin_detail(int size);
inline constexpr float kSkinDetailTileMm = 24.0f;

}  // namespace sim
