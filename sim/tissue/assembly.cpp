#include "sim/tissue/assembly.hpp"

#include <algorithm>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

void CellMesh::hold(std::span<const char> held) {
    SIM_ASSERT(held.size() == node_m.size());
    free_index.assign(node_m.size(), -1);
    free_nodes = 0;
    for (std::size_t n = 0; n < node_m.size(); ++n)
        if (!held[n]) free_index[n] = free_nodes++;
}

Assembly::Assembly(const CellMesh& mesh) : mesh_(mesh) {
    SIM_ASSERT(mesh.free_index.size() == mesh.node_m.size());
    std::vector<std::vector<int>> neighbours(at(mesh.free_nodes));
    for (const auto& cell : mesh.cell)
        for (const int b : cell) {
            const int column = mesh.free_index[at(b)];
            if (column < 0) continue;
            for (const int a : cell) {
                const int row = mesh.free_index[at(a)];
                if (row >= 0 && row <= column) neighbours[at(column)].push_back(row);
            }
        }
    above_begin_.push_back(0);
    for (std::vector<int>& list : neighbours) {
        std::sort(list.begin(), list.end());
        list.erase(std::unique(list.begin(), list.end()), list.end());
        above_.insert(above_.end(), list.begin(), list.end());
        above_begin_.push_back(static_cast<int>(above_.size()));
    }
    make_pattern();
}

void Assembly::make_pattern() {
    // column 3 n + k holds three rows for each earlier neighbour and k + 1 rows of the node's own block
    const int unknowns = mesh_.unknowns();
    matrix_.resize(unknowns, unknowns);
    Eigen::Index entries = 0;
    for (int n = 0; n < mesh_.free_nodes; ++n) entries += 9 * (above_begin_[at(n) + 1] - above_begin_[at(n)] - 1) + 6;
    matrix_.resizeNonZeros(entries);
    int* const begin = matrix_.outerIndexPtr();
    int* const row = matrix_.innerIndexPtr();
    int next = 0;
    for (int n = 0; n < mesh_.free_nodes; ++n)
        for (int k = 0; k < 3; ++k) {
            begin[3 * n + k] = next;
            for (int i = above_begin_[at(n)]; i < above_begin_[at(n) + 1]; ++i) {
                const int rows = above_[at(i)] == n ? k + 1 : 3;
                for (int r = 0; r < rows; ++r) row[next++] = 3 * above_[at(i)] + r;
            }
        }
    begin[unknowns] = next;
    std::fill(matrix_.valuePtr(), matrix_.valuePtr() + entries, 0.0);
}

void Assembly::add(std::size_t cell, const CellMatrix& k) {
    double* const value = matrix_.valuePtr();
    const int* const begin = matrix_.outerIndexPtr();
    const auto& nodes = mesh_.cell[cell];
    for (int b = 0; b < 8; ++b) {
        const int column = mesh_.free_index[at(nodes[at(b)])];
        if (column < 0) continue;
        const auto first = above_.begin() + above_begin_[at(column)];
        const auto last = above_.begin() + above_begin_[at(column) + 1];
        for (int a = 0; a < 8; ++a) {
            const int row = mesh_.free_index[at(nodes[at(a)])];
            if (row < 0 || row > column) continue;
            const int block = static_cast<int>(std::lower_bound(first, last, row) - first);
            for (int s = 0; s < 3; ++s) {
                const int rows = row == column ? s + 1 : 3;
                double* const to = value + begin[3 * column + s] + 3 * block;
                for (int r = 0; r < rows; ++r) to[r] += k(3 * a + r, 3 * b + s);
            }
        }
    }
}

void Assembly::add_spring(int free_node, double stiffness_n_per_m) {
    SIM_ASSERT(free_node >= 0 && free_node < mesh_.free_nodes);
    for (int k = 0; k < 3; ++k)  // the diagonal is the last entry of its column
        matrix_.valuePtr()[matrix_.outerIndexPtr()[3 * free_node + k + 1] - 1] += stiffness_n_per_m;
}

SparseUpper assemble(const CellMesh& mesh, std::span<const Elastic> material, ElementForm form) {
    SIM_ASSERT(material.size() == mesh.cell.size());
    Assembly assembly(mesh);
    for (std::size_t c = 0; c < mesh.cell.size(); ++c) assembly.add(c, stiffness(mesh.nodes_of(c), material[c], form));
    return assembly.take();
}

Eigen::VectorXd times(const SparseUpper& k, const Eigen::VectorXd& x) { return k.selfadjointView<Eigen::Upper>() * x; }

}  // namespace sim::fe
