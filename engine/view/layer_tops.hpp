#pragma once

#include <array>
#include <functional>
#include <memory>
#include <span>

#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"

/// The layers under the skin as surfaces: each skin vertex carried inwards to where a layer begins.

namespace view {

inline constexpr std::size_t kShownLayers = sim::kTissueLayers + 1;  ///< skin to floor
inline constexpr std::array<const char*, kShownLayers> kShownLayerNames{
    "Skin", "Superficial fat", "SMAS or platysma", "Deep fat", "Muscle", "Floor"};

/// Tops of superficial fat, SMAS, deep fat, muscle, floor.
using LayerTops = std::array<std::shared_ptr<const ObjectMesh>, sim::kTissueLayers>;

/// About a second for a head. @param progress told the fraction done, 0 to 1; may be empty
[[nodiscard]] LayerTops build_layer_tops(const sim::Anatomy& anatomy,
                                         std::span<const std::shared_ptr<const Surface>> surfaces,
                                         const std::function<void(double)>& progress);

}  // namespace view
