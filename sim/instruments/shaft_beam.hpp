#pragma once

#include <array>
#include <span>

/// A shaft that bends: Euler-Bernoulli beam, clamped where the hand holds it, on springs towards where the tissue wants
/// it. One lateral direction at a time; the other is the same problem.
///
///   minimise 1/2 EI int w''^2 dx + 1/2 sum_i k_i (w_i - c_i)^2 - sum_i f_i w_i
///
/// Cubic Hermite elements: exact at the nodes for loads at nodes, second order in the spacing for spread support.
/// Trusted for slopes up to about 0.3 against the clamp's direction.

namespace sim {

inline constexpr int kBeamNodes = 260;  ///< at most: 120 mm at 0.5 mm and some to spare

struct BeamNode {
    double along_m = 0.0;         ///< from the clamp, growing; the first node is the clamp
    double spring_n_per_m = 0.0;  ///< >= 0
    double target_m = 0.0;        ///< where that spring pulls to, from the clamp's axis
    double load_n = 0.0;
};

struct BeamShape {
    std::array<double, kBeamNodes> offset_m{};  ///< from the clamp's axis
    std::array<double, kBeamNodes> slope{};
    double hand_force_n = 0.0;  ///< that the hand exerts on the clamp, laterally
    double hand_moment_n_m = 0.0;
};

/// @param stiffness_n_m2 EI, > 0
/// @param nodes          2 to kBeamNodes
/// @return false when the solution is not finite; the shape is then unusable
[[nodiscard]] bool solve_beam(double stiffness_n_m2, std::span<const BeamNode> nodes, BeamShape& shape);

}  // namespace sim
