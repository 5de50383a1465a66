#pragma once

#include <cstdint>
#include <optional>

#include "sim/instruments/force_parameters.hpp"
#include "sim/scenario.hpp"

/// Axial force on a needle or cannula: stiffness before puncture, tip in its layer, fascia, friction per length.
///
/// Pure functions of parameters. The sum of parts follows Okamura, Simone, O'Leary 2004; friction that sticks until a
/// breakaway force follows the modified Karnopp law there, without its viscous part. Quasi-static: published work
/// disagrees even about the sign of the effect of speed.

namespace sim {

struct ShaftKind {
    TipShape tip = TipShape::blunt;
    double outer_m = kReferenceDiameterM;
};

/// Force of closed skin against a tip that has pressed it in. @param press_m >= 0
[[nodiscard]] double skin_indentation_n(const ForceParameters& p, double press_m);

/// How far the skin gives under a force: the inverse of the above. @param force_n >= 0
[[nodiscard]] double skin_indentation_m(const ForceParameters& p, double force_n);

/// Force at which a bevel goes through closed skin. Nothing for a blunt tip, which never does.
[[nodiscard]] std::optional<double> skin_puncture_n(const ForceParameters& p, const ShaftKind& shaft);

/// Force on the tip while it parts the layer.
[[nodiscard]] double spreading_n(const ForceParameters& p, const ShaftKind& shaft, Layer layer);

/// Extra force on the tip just before it passes from one layer into another: builds up over the last
/// pass_through_rise_m of the way and is gone behind the border. @param ahead_m way still to go to the border, >= 0
[[nodiscard]] double pass_through_n(const ForceParameters& p, const ShaftKind& shaft, Layer into, double ahead_m);

enum class Motion : std::uint8_t { inwards, outwards };

struct FrictionPerLength {
    double sliding_n_per_m = 0.0;
    double breakaway_n_per_m = 0.0;
};
[[nodiscard]] FrictionPerLength friction_per_length(const ForceParameters& p, const ShaftKind& shaft, Layer layer,
                                                    Motion motion);

}  // namespace sim
