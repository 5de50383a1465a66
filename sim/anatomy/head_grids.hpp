#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/skin_field.hpp"
#include "sim/core/grid.hpp"

/// What HeadTissue stores. For its own sources only.

namespace sim {

/// Eight values a node, side by side, so that a cell is eight short reads and the compiler adds them four at a time.
template <class Name>
struct alignas(32) GridNode {
    std::array<float, 8> value{};

    [[nodiscard]] float operator[](Name name) const { return value[static_cast<std::size_t>(name)]; }
    float& operator[](Name name) { return value[static_cast<std::size_t>(name)]; }
};

/// What the point query needs. Metres, but for the last.
enum class LayerValue : std::uint8_t {
    depth,   ///< below the skin, negative outside
    floor,   ///< distance to the floor, negative inside it
    fascia,  ///< distance to the deep fascia, which covers muscle or floor
    skin,
    fat,
    smas,  ///< thickness that each would have with room enough
    kind,  ///< FloorKind of the nearest floor
    spare
};
using LayerNode = GridNode<LayerValue>;

/// What is asked less often: distance to each part of the floor in metres, and windows, 0 .. 1.
enum class DeepValue : std::uint8_t { bone, lining, fascia, parotid, masseter, premasseter, spare, spare_too };
using DeepNode = GridNode<DeepValue>;

struct HeadGrids {
    GridBox box;
    std::vector<LayerNode> layers;
    std::vector<DeepNode> deep;
    BonyPoints bony;
    double vertex_depth_m = 0.0;  ///< to bone at the one landmark outside the box
    SkinField skin, young;

    explicit HeadGrids(const HeadParameters& parameters) : skin(parameters), young(sim::young_reference(parameters)) {}
};

class FloorField;

/// Walks over the bone field to where the published courses are measured from.
[[nodiscard]] BonyPoints find_bony_points(const FloorField& floor);

}  // namespace sim
