#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "sim/tissue/assembly.hpp"
#include "sim/tissue/neck_turn.hpp"

/// What a turn of the head does to the cells of a mesh: each node goes round with its height, and a cell is looked at
/// turned back by the mean of its nodes' shares. What is left of its nodes' way strains it.

namespace sim::fe {

class CellsGoneRound {
 public:
    struct Cell {
        std::array<Vec3, 8> way_m;           ///< of its nodes, as the cell has it
        std::array<double, 8> cosine, sine;  ///< from the frame that goes round with each node to the cell's

        [[nodiscard]] Vec3 to_cell(std::size_t node, const Vec3& v) const {
            return {cosine[node] * v.x + sine[node] * v.z, v.y, cosine[node] * v.z - sine[node] * v.x};
        }
        [[nodiscard]] Vec3 to_node(std::size_t node, const Vec3& v) const {
            return {cosine[node] * v.x - sine[node] * v.z, v.y, cosine[node] * v.z + sine[node] * v.x};
        }
    };

    /// @param turn_rad of the head, > 0 to the patient's left
    CellsGoneRound(const CellMesh& mesh, const TurningNeck& neck, double turn_rad);

    /// Null where a cell goes round whole, or not at all.
    [[nodiscard]] const Cell* of(std::size_t cell) const {
        return index_[cell] < 0 ? nullptr : &cells_[static_cast<std::size_t>(index_[cell])];
    }

 private:
    std::vector<int> index_;
    std::vector<Cell> cells_;
};

}  // namespace sim::fe
