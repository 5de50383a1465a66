#pragma once

#include <span>
#include <vector>

#include "engine/view/draw_list.hpp"

/// Skin for a renderer without a graphics card: what a picture of fine detail does to the light of one skin tone,
/// worked out once, so that a pixel costs two look-ups and a few products.

namespace view {

/// Fills lean_detail and, where there is a face to paint, lean_face. @param images detail must be there
void work_out_lean_images(SkinImages& images, const SkinTone& tone);

/// Where lean_face changes anything: most of a head is not painted, and need not be looked up.
class PaintedPlaces {
 public:
    /// @param images lean_face must be there
    explicit PaintedPlaces(const SkinImages& images);
    /// Whether the painting falls on any of these triangles. @param triangles of `vertices`, three indices each
    [[nodiscard]] bool fall_on(std::span<const SurfaceVertex> vertices, std::span<const std::uint32_t> triangles) const;

 private:
    static constexpr int kCells = 64;  ///< along a side
    glm::vec3 window_mm_{};
    std::vector<bool> painted_;
};

}  // namespace view
