#pragma once

#include <vector>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/skin_field.hpp"
#include "sim/core/grid.hpp"

/// What HeadTissue stores. For its own sources only.

namespace sim {

/// What the point query needs of a node, side by side so that a cell is eight short reads. Metres.
struct alignas(32) LayerNode {
    float depth_m;   ///< below the skin, negative outside
    float floor_m;   ///< to the floor, negative inside it
    float fascia_m;  ///< to the deep fascia, which covers muscle or floor
    float skin_m, fat_m, smas_m;  ///< thickness that each would have with room enough
    float kind;      ///< FloorKind of the nearest floor
    float spare;
};

/// What is asked less often.
struct alignas(32) DeepNode {
    float bone_m, lining_m, fascia_m;            ///< distance to each part of the floor
    float parotid, masseter, premasseter;        ///< windows, 0 .. 1
    float spare[2];
};

struct HeadGrids {
    GridBox box;
    std::vector<LayerNode> layers;
    std::vector<DeepNode> deep;
    BonyPoints bony;
    SkinField skin, young;

    explicit HeadGrids(const HeadParameters& parameters) : skin(parameters), young(sim::young_reference(parameters)) {}
};

class FloorField;

/// Walks over the bone field to where the published courses are measured from.
[[nodiscard]] BonyPoints find_bony_points(const FloorField& floor);

}  // namespace sim
