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

/// What the point query needs. Lengths, but for the last.
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

/// Lengths in whole steps of 1.5 micrometres, which reach 49 mm: a query at a random place waits for memory more than
/// for arithmetic, and 16 bytes a node let the grid of a head lie in half the cache. Rounding is a hundredth of what
/// the grid leaves open.
struct alignas(16) LayerNode {
    static constexpr double kStepM = 1.5e-6;

    std::array<std::int16_t, 8> steps{};

    [[nodiscard]] std::int16_t operator[](LayerValue name) const { return steps[static_cast<std::size_t>(name)]; }
    void set_m(LayerValue name, double length_m);  ///< asserts that it fits
    void set_kind(FloorKind kind) {
        steps[static_cast<std::size_t>(LayerValue::kind)] = static_cast<std::int16_t>(kind);
    }
    [[nodiscard]] FloorKind kind() const { return static_cast<FloorKind>((*this)[LayerValue::kind]); }
};

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
