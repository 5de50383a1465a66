#pragma once

#include <vector>

#include "sim/tissue/hex_mesh.hpp"
#include "sim/tissue/material.hpp"

/// The stiffness and weight of a patient's layers: which cell is made of what, where SMAS glides and where it is bound.

namespace sim {
struct HeadTissue;
}

namespace sim::fe {

/// What the mesh of one patient is made of.
struct LayeredBody {
    std::vector<Elastic> material;          ///< one a cell
    std::vector<double> density_kg_per_m3;  ///< one a cell
    std::vector<double> tension_pa;         ///< one a cell; 0 but in the skin
    std::vector<double> mobility;           ///< one a column: 1 where SMAS glides, 0 where it is bound down
    std::vector<double> edge_n_per_m;       ///< one a node that moves: spring to the ground at the mesh's rim
};

[[nodiscard]] LayeredBody make_body(const HexMesh& mesh, const HeadTissue& tissue, const TissueParameters& parameters);

/// @param form mean_dilatation for everything but decks for other programs @param tension false leaves it out
[[nodiscard]] SparseUpper stiffness_of(const HexMesh& mesh, const LayeredBody& body, ElementForm form, bool tension);

/// Body load for a gravity of 1 m/s2 along each axis, N: three columns, x, y, z.
[[nodiscard]] Eigen::MatrixXd unit_gravity_loads(const HexMesh& mesh, const LayeredBody& body);

/// Elimination order of the mesh's unknowns.
[[nodiscard]] std::vector<int> elimination_order(const HexMesh& mesh);

}  // namespace sim::fe
