#pragma once

#include <array>
#include <optional>

#include "sim/anatomy/head.hpp"
#include "sim/tissue/chart.hpp"
#include "sim/tissue/material.hpp"

/// How much of an answer is the mesh's: the same loads on finer and finer cells.

namespace sim::fe {

/// What three meshes say together about a figure that goes like limit + c h^order.
struct Extrapolated {
    double order = 0.0;
    double limit = 0.0;  ///< at h = 0, Richardson's estimate
};

/// @param h cell sizes, falling @param value the figure on each
/// @return nothing when the differences do not shrink as any order between 0.1 and 8 would have them
[[nodiscard]] std::optional<Extrapolated> extrapolate(const std::array<double, 3>& h,
                                                      const std::array<double, 3>& value);

/// Answers of the tissue alone, without strings, along the same lifting thread of the patient's left cheek, in the
/// middle of the superficial fat, whatever the mesh. Loads are 1 N in patches of 2 mm; m/N. What a single patch does
/// hangs on where it lies among the nodes, so those figures are means over the thread's 25 barbs.
struct MeshFigures {
    int unknowns = 0;
    double factor_bytes = 0.0;
    double barb_along = 0.0;    ///< motion of a barb under a load on itself along the thread ...
    double barb_outward = 0.0;  ///< ... and out of the skin
    double skin_along = 0.0;    ///< most that the skin moves under the first of these ...
    double skin_outward = 0.0;  ///< ... and under the second
    double skin_thread = 0.0;   ///< most that it moves when the newton is shared evenly by all barbs
    double skin_lying = 0.0;    ///< most that it moves from upright to lying, had it no strings; m
};

/// Mesh, factor and 52 solves. @throws InputError, FactorError
[[nodiscard]] MeshFigures mesh_figures(const Head& head, const ChartSettings& settings,
                                       const TissueParameters& parameters);

}  // namespace sim::fe
