#pragma once

#include <array>
#include <span>
#include <vector>

#include <Eigen/SparseCore>

#include "sim/core/vec.hpp"
#include "sim/tissue/element.hpp"

/// From cells to one sparse stiffness matrix.

namespace sim::fe {

/// A mesh as the assembly sees it: nodes, cells, and which nodes are held.
struct CellMesh {
    std::vector<Vec3> node_m;
    std::vector<std::array<int, 8>> cell;  ///< indices into node_m, in the order of element.hpp
    std::vector<int> free_index;           ///< of each node: its place among the nodes that move, -1 for one held
    int free_nodes = 0;

    [[nodiscard]] int unknowns() const { return 3 * free_nodes; }
    [[nodiscard]] CellNodes nodes_of(std::size_t which) const {
        CellNodes out;
        for (std::size_t a = 0; a < 8; ++a) out[a] = node_m[static_cast<std::size_t>(cell[which][a])];
        return out;
    }
    /// Number the nodes that move in order of node index. @param held one flag a node
    void hold(std::span<const char> held);
};

/// Upper triangle of a symmetric matrix, compressed columns, rows in order.
using SparseUpper = Eigen::SparseMatrix<double, Eigen::ColMajor, int>;

/// The sparse matrix of a mesh: its pattern is worked out once, values are added cell by cell.
class Assembly {
 public:
    explicit Assembly(const CellMesh& mesh);

    /// Add a cell's matrix. Rows and columns of nodes that are held are dropped.
    void add(std::size_t cell, const CellMatrix& k);
    /// Add a spring between a moving node and the ground, N/m, the same along all three axes.
    void add_spring(int free_node, double stiffness_n_per_m);

    [[nodiscard]] const SparseUpper& matrix() const { return matrix_; }
    [[nodiscard]] SparseUpper take() { return std::move(matrix_); }

 private:
    void make_pattern();

    const CellMesh& mesh_;
    std::vector<int> above_;        ///< for each free node the free nodes up to itself that share a cell, in order ...
    std::vector<int> above_begin_;  ///< ... from above_begin_[n] to above_begin_[n + 1]
    SparseUpper matrix_;
};

/// Linear stiffness of a whole mesh. @param material one a cell
[[nodiscard]] SparseUpper assemble(const CellMesh& mesh, std::span<const Elastic> material, ElementForm form);

/// K x for a matrix of which only the upper triangle is stored.
[[nodiscard]] Eigen::VectorXd times(const SparseUpper& k, const Eigen::VectorXd& x);

}  // namespace sim::fe
