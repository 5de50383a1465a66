#pragma once

#include "sim/anatomy/anatomy.hpp"

/// How much an instrument hurts, on the scale from 0 to 10 that patients are asked for. All of it assumed; only the
/// order is common practice: a thick needle through skin hurts most, the fat little, fascia and periosteum more.

namespace sim {

/// Of a needle of this outer diameter that goes through skin which feels all.
[[nodiscard]] double jab_pain(double outer_m);

/// Per metre that a tip moves on in a layer which feels all; it dies away with kPainFadesS.
[[nodiscard]] double travel_pain_per_m(Layer layer);

inline constexpr double kPainFadesS = 4.0;
inline constexpr double kPainPerMl = 10.0;  ///< of fluid that stretches tissue which feels all
inline constexpr double kNervePain = 6.0;   ///< of a nerve that is touched, numb skin or not

}  // namespace sim
