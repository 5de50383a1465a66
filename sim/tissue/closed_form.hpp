#pragma once

#include "sim/core/vec.hpp"

/// Closed elastic solutions that stand in for the finite-element tissue, and check it later.
///
/// G shear modulus, nu Poisson's ratio, small strains, homogeneous isotropic body. Depths are measured from the free
/// surface, positive inwards; a displacement towards the inside is positive when the load points inwards.

namespace sim {

/// The face's soft tissue as one body, E 15 kPa: Chabanas, Luboz, Payan 2003, Med Image Anal, from memory.
inline constexpr double kLumpedShearPa = 5e3;
inline constexpr double kLumpedPoisson = 0.45;  ///< assumed, 0.40 to 0.49
/// A tip or a barb acts on the tissue through about this much of it; assumed.
inline constexpr double kCouplingM = 2.0 * kMm;

/// Displacement along a point load inside an infinite body at an offset from it. Kelvin 1848.
/// @param along_m   offset along the load @param across_m offset across it; not both 0
[[nodiscard]] double kelvin_along(double load_n, double shear_pa, double poisson, double along_m, double across_m);

/// Displacement across the load, in the plane of load and offset.
[[nodiscard]] double kelvin_across(double load_n, double shear_pa, double poisson, double along_m, double across_m);

/// Normal displacement in a half-space under a normal point load on its surface. Boussinesq 1885.
[[nodiscard]] double boussinesq_normal(double load_n, double shear_pa, double poisson, double depth_m, double radius_m);

/// Normal displacement in a half-space under a normal point load at a depth. Mindlin 1936, Physics 7:195.
[[nodiscard]] double mindlin_normal(double load_n, double shear_pa, double poisson, double load_depth_m, double depth_m,
                                    double radius_m);

/// Full width at half height of the surface's rise over a buried normal load. By reciprocity the rise has Boussinesq's
/// form, 2 (1 - nu) / R + c^2 / R^3, so that the width is a fixed multiple of the depth.
[[nodiscard]] double tent_width_m(double poisson, double load_depth_m);

}  // namespace sim
