#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "engine/view/canvas.hpp"
#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"
#include "sim/scenario.hpp"
#include "sim/scoring/bands.hpp"
#include "sim/state.hpp"

/// A flat section through the tissue along the shaft: the plane holds the chord from the entry to the tip and the
/// skin's normal over the tip. One code for the screen and for paper.

namespace view {

using sim::Vec3;

struct SlicePlane {
    Vec3 origin_m{};                   ///< skin over the tip
    Vec3 along{}, inward{}, across{};  ///< unit; along: from the entry to the tip

    [[nodiscard]] Vec3 place_m(double x_mm, double y_mm) const {
        return origin_m + sim::kMm * (x_mm * along + y_mm * inward);
    }
    [[nodiscard]] CanvasPoint at_mm(const Vec3& p_m) const {
        return {glm::dot(p_m - origin_m, along) / sim::kMm, glm::dot(p_m - origin_m, inward) / sim::kMm};
    }
};

/// What is shown of the plane: x along, y inwards from the skin over the tip.
struct SliceWindow {
    double left_mm = -30.0, right_mm = 14.0, top_mm = -3.0, bottom_mm = 16.0;
};

/// A vessel, nerve, duct or gland where the plane goes through it: discs that overlap.
struct SliceSection {
    struct Disc {
        CanvasPoint at_mm;
        double radius_mm = 0.0;
    };
    std::string name;
    Section kind = Section::artery;
    std::vector<Disc> discs;
};

/// A ligament's sheet where the plane goes through it.
struct SliceSheet {
    std::string name;
    std::vector<std::array<CanvasPoint, 2>> pieces_mm;
    double half_thickness_mm = 0.0;
};

inline constexpr std::size_t kSliceEdges = sim::kTissueLayers + 1;  ///< the skin's top, then five bottoms

struct Slice {
    SlicePlane plane;
    SliceWindow window;
    /// For each of evenly spaced columns from left to right: where y reaches each edge; the window's bottom where it
    /// does not.
    std::vector<std::array<double, kSliceEdges>> edges_mm;
    /// Walls' limits of the target band, by column; empty before the band begins.
    std::vector<std::optional<std::array<double, 2>>> band_mm;
    std::vector<CanvasPoint> shaft_mm;  ///< axis, from the hub's side to the tip
    double outer_mm = 0.0, inner_mm = 0.0;
    bool bevel = false;
    std::vector<SliceSection> sections;
    std::vector<SliceSheet> sheets;
    double tip_depth_mm = 0.0;

    [[nodiscard]] double x_of(std::size_t column) const;
    /// As it is drawn.
    [[nodiscard]] sim::Layer layer_at(double x_mm, double y_mm) const;
};

struct SliceAsk {
    std::span<const Vec3> shaft_m;  ///< from the hub to the tip
    double inserted_m = 0.0;
    int gauge = 21;
    bool bevel = false;
    SliceWindow window;
};

/// @return nothing while less than a millimetre of the shaft lies under the skin
[[nodiscard]] std::optional<Slice> slice_along(const sim::Anatomy& anatomy, const sim::Bands& bands,
                                               const SliceAsk& ask);

/// The same for an instrument in the skin, with the tissue at rest, where depth is measured and scored: nothing while
/// it is outside. Beyond the skin the shaft goes on straight.
[[nodiscard]] std::optional<Slice> slice_of(const sim::Anatomy& anatomy, const sim::Bands& bands,
                                            const sim::State& state, const sim::InstrumentSpec& instrument,
                                            const SliceWindow& window);

/// The window that fills a rectangle at one scale for both axes. @param tip_depth_mm a deep tip is kept in it
[[nodiscard]] SliceWindow slice_window(Canvas& canvas, const CanvasRect& where, double text_size,
                                       double tip_depth_mm = 0.0);

/// Layers with their patterns, structures and ligaments by name, band, shaft at its true thickness, and a bar of scale.
void draw_slice(Canvas& canvas, const CanvasRect& where, const Slice& slice, double text_size);

}  // namespace view
