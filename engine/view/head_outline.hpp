#pragma once

#include <array>
#include <glm/vec2.hpp>
#include <string_view>
#include <vector>

#include "sim/anatomy/anatomy.hpp"

/// A head as a few lines, for paper: what of it stands out against the ground from the front and from both sides, and
/// features by their landmarks.

namespace view {

enum class MapView : std::uint8_t { front, left, right };
inline constexpr int kMapViews = 3;
[[nodiscard]] std::string_view name_of(MapView view);  ///< "From the patient's left"

struct HeadOutline {
    struct View {
        std::vector<std::vector<glm::dvec2>> outline_mm;   ///< lines, drawn strongly
        std::vector<std::vector<glm::dvec2>> features_mm;  ///< eyes, nose, mouth, jaw, ear: drawn lightly
    };
    std::array<View, kMapViews> views;
};

/// A place as that view shows it, mm: to the viewer's right, up.
[[nodiscard]] glm::dvec2 on_map(MapView view, const sim::Vec3& p_m);

/// From the skin and its landmarks; a second of rays at most. Views are empty where there are no landmarks (the slab).
[[nodiscard]] HeadOutline head_outline(const sim::Anatomy& anatomy);

}  // namespace view
