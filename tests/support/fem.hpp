#pragma once

#include <map>

#include <Eigen/SparseCholesky>

#include "sim/tissue/assembly.hpp"

/// Small finite-element problems with single freedoms held or moved, for checks against closed forms.

namespace support {

/// Freedom 3 * node + axis -> displacement that is prescribed there.
using Prescribed = std::map<int, double>;

/// Every node may move; supports are prescribed freedom by freedom.
inline void free_all(sim::fe::CellMesh& mesh) { mesh.hold(std::vector<char>(mesh.node_m.size(), 0)); }

/// Displacements under loads with some freedoms prescribed: the rest is solved by an independent sparse factor.
inline Eigen::VectorXd solve_prescribed(const sim::fe::SparseUpper& upper, const Eigen::VectorXd& load,
                                        const Prescribed& prescribed) {
    const Eigen::SparseMatrix<double> k = upper.selfadjointView<Eigen::Upper>();
    Eigen::VectorXd u = Eigen::VectorXd::Zero(k.rows());
    std::vector<int> place(static_cast<std::size_t>(k.rows()), -1);
    int unknown = 0;
    for (int i = 0; i < k.rows(); ++i) {
        const auto found = prescribed.find(i);
        if (found == prescribed.end())
            place[static_cast<std::size_t>(i)] = unknown++;
        else
            u[i] = found->second;
    }
    const Eigen::VectorXd rest = load - k * u;
    Eigen::VectorXd b(unknown);
    std::vector<Eigen::Triplet<double>> entries;
    for (int j = 0; j < k.cols(); ++j) {
        const int column = place[static_cast<std::size_t>(j)];
        if (column < 0) continue;
        b[column] = rest[j];
        for (Eigen::SparseMatrix<double>::InnerIterator it(k, j); it; ++it) {
            const int row = place[static_cast<std::size_t>(it.row())];
            if (row >= 0) entries.emplace_back(row, column, it.value());
        }
    }
    Eigen::SparseMatrix<double> reduced(unknown, unknown);
    reduced.setFromTriplets(entries.begin(), entries.end());
    const Eigen::VectorXd x = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>(reduced).solve(b);
    for (int i = 0; i < k.rows(); ++i)
        if (place[static_cast<std::size_t>(i)] >= 0) u[i] = x[place[static_cast<std::size_t>(i)]];
    return u;
}

/// A block of cells whose node (i, j, k) lies at place(i, j, k); node index (k * (ny + 1) + j) * (nx + 1) + i.
template <class Place>
sim::fe::CellMesh block(int nx, int ny, int nz, const Place& place) {
    sim::fe::CellMesh mesh;
    for (int k = 0; k <= nz; ++k)
        for (int j = 0; j <= ny; ++j)
            for (int i = 0; i <= nx; ++i) mesh.node_m.push_back(place(i, j, k));
    const auto node = [&](int i, int j, int k) { return (k * (ny + 1) + j) * (nx + 1) + i; };
    for (int k = 0; k < nz; ++k)
        for (int j = 0; j < ny; ++j)
            for (int i = 0; i < nx; ++i)
                mesh.cell.push_back({node(i, j, k), node(i + 1, j, k), node(i + 1, j + 1, k), node(i, j + 1, k),
                                     node(i, j, k + 1), node(i + 1, j, k + 1), node(i + 1, j + 1, k + 1),
                                     node(i, j + 1, k + 1)});
    free_all(mesh);
    return mesh;
}

}  // namespace support
