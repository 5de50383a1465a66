#pragma once

#include <array>
#include <cstdint>

#include <Eigen/Core>

#include "sim/core/vec.hpp"
#include "sim/tissue/material.hpp"

/// The eight-node hexahedron: shape functions, stiffness, and what else is integrated over one cell.
///
/// Node order of every cell: 0 to 3 go round one face, 4 to 7 round the opposite one, 4 next to 0; seen from 4..7 both
/// run counter-clockwise. Freedoms of a cell: 3 * node + axis.

namespace sim::fe {

using CellNodes = std::array<Vec3, 8>;
using CellMatrix = Eigen::Matrix<double, 24, 24>;

/// How volume change is integrated.
enum class ElementForm : std::uint8_t {
    mean_dilatation,  ///< one dilatation a cell (Hughes 1980, Int J Numer Methods Eng 15:1413): no locking
    full              ///< 2 x 2 x 2 points throughout: what other programs call the full brick; locks near 0.5
};

/// One of the 2 x 2 x 2 integration points.
struct CellPoint {
    double volume_m3 = 0.0;            ///< its share of the cell; <= 0 in an inverted cell
    std::array<double, 8> shape{};     ///< values of the shape functions
    std::array<Vec3, 8> gradient_1_m;  ///< their slopes in space
};

/// The eight integration points of a cell. Gradients mean nothing where volume_m3 is not positive.
[[nodiscard]] std::array<CellPoint, 8> integration_points(const CellNodes& nodes_m);

/// Linear stiffness, N/m, symmetric. @pre the cell is not inverted (see scaled_jacobian)
[[nodiscard]] CellMatrix stiffness(const CellNodes& nodes_m, const Elastic& material, ElementForm form);

/// What an equal in-plane tension adds to the stiffness of a sheet, N/m: sigma (grad N_a . grad N_b) in the plane of
/// the cell's layer, the same along all three axes. The layer's normal leads from face 0..3 to face 4..7.
[[nodiscard]] CellMatrix tension_stiffness(const CellNodes& nodes_m, double tension_pa);

/// Each node's share of the cell's volume, m3: times density and gravity it is the body load.
[[nodiscard]] std::array<double, 8> nodal_volumes_m3(const CellNodes& nodes_m);

/// Least over the eight corners of the volume spanned by the unit edges there: 1 for a brick, 0 flat, < 0 inverted.
/// Knupp 2000, Int J Numer Methods Eng 48:1165. Thinness alone does not lower it; shear does.
[[nodiscard]] double scaled_jacobian(const CellNodes& nodes_m);

}  // namespace sim::fe
