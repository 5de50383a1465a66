#pragma once

#include <array>

#include "sim/anatomy/anatomy.hpp"

/// Every constant of the force on the hand, in one place. Few of these are published for the living face: what is not
/// sourced is `assumed`, with the range in which a user may set it. Values by layer are for a 21 G blunt cannula and
/// scale with outside diameter.

namespace sim {

inline constexpr double kReferenceDiameterM = 0.819 * kMm;  ///< 21 G, the cannula that Hong 2025 measured with

/// One value for each Layer: outside, skin, superficial fat, SMAS or platysma, deep fat, muscle, floor.
using ByLayer = std::array<double, 7>;
[[nodiscard]] constexpr double of_layer(const ByLayer& values, Layer layer) {
    return values[static_cast<std::size_t>(layer)];
}

struct ForceParameters {
    // -- closed skin, before puncture: F = a z + b z^2, the form of Okamura, Simone, O'Leary 2004, IEEE TBME 51:1707
    double skin_linear_n_per_m = 331.0;  ///< skin of Gerovich 2004, Comput Aided Surg 9(6), from memory
    double skin_quadratic_n_per_m2 =
        5.0e5;  ///< assumed, 1e5 to 6e5: an 18 G bevel goes in at about 2 mm of indentation
    /// Force at which a bevel goes through the skin, per outside diameter. Assumed, 1.5e3 to 3.2e3: gives 3.0 N at
    /// 18 G, 1.9 N at 21 G, 1.2 N at 25 G, inside the working ranges 2 to 4, 1 to 2.5 and 0.5 to 1.5 N (from memory).
    double bevel_puncture_n_per_m = 2.36e3;
    double blunt_refused_n = 12.0;  ///< a blunt tip on closed skin is given up at this force; assumed, 8 to 25
    double opening_grip = 0.15;     ///< share of skin spreading that an opening as wide as the shaft keeps; assumed

    // -- tip in the tissue
    /// Blunt tip parting the layer. Assumed, a factor of 2 either way; superficial fat such that a 21 G cannula runs at
    /// 0.3 to 1.0 N over 10 to 60 mm, common practice, no source; skin from inside is far above all others.
    ByLayer spreading_n{0.0, 7.0, 0.20, 1.10, 0.18, 0.80, 0.0};
    double bevel_share = 0.35;  ///< of the blunt tip's force that a bevel needs in the same layer; assumed, 0.2 to 0.6
    /// More than spreading, just before the tip passes into this layer: a fascia. Assumed, 0.5 to 4 N; the only
    /// published analogue is the far denser ligamentum flavum.
    ByLayer pass_through_n{0.0, 0.0, 0.0, 1.30, 0.0, 0.70, 0.0};
    double pass_through_rise_m = 0.6 * kMm;  ///< travel over which that builds up; assumed, 0.3 to 1.5 mm

    // -- friction along the shaft, per length inserted
    /// Sliding inwards. Fat: 10.6 N/m in liver (Simone 2002, modified Karnopp, from memory) rounded up; others assumed.
    ByLayer friction_n_per_m{0.0, 40.0, 12.0, 30.0, 12.0, 20.0, 20.0};
    double withdrawal_ratio = 11.96 / 10.57;     ///< sliding outwards / inwards; the same
    double breakaway_ratio_in = 18.23 / 10.57;   ///< static / sliding, inwards; the same
    double breakaway_ratio_out = 18.45 / 11.96;  ///< outwards; the same

    // -- ligaments
    double ligament_exponent = 1.5;      ///< of load over stretch, > 1: collagen's toe; assumed, 1 to 3
    double ligament_bevel_share = 0.35;  ///< of the blunt tip's strength at which a bevel cuts through; assumed

    // -- walls and floor
    /// Indentation at breach as a share of wall-to-axis distance of tip and vessel together: a tip that passes the
    /// axis farther out pushes the vessel aside. Assumed, 0.4 to 0.9.
    double wall_press_share = 0.6;
    double wall_press_limit_m = 2.0 * kMm;  ///< that indentation at most (a gland's capsule); assumed
    double vein_share = 0.5;                ///< vein wall / artery wall; assumed, 0.3 to 0.8
    double duct_share = 0.6;                ///< duct wall / artery wall; assumed
    double capsule_n = 1.6;                 ///< parotid capsule, 21 G blunt; assumed, 1 to 3
    double bone_n_per_m = 20e3;             ///< bone under the tip, so stiff that a hand stops; assumed
    double lining_n_per_m = 1.5e3;          ///< cheek lining and deep fascia; assumed
    double lining_breach_n = 4.0;           ///< 21 G blunt through the cheek's lining; assumed, 2 to 8

    // -- hand and shaft
    double needle_grip =
        3.0;  ///< a needle is short and held near the skin: its hand is stiffer by this; assumed, 1 to 5
    double entry_stiffness_n_per_m = 600.0;  ///< lateral, of the skin around the entry; assumed, 200 to 2000
    double turn_length_m = 10.0 * kMm;       ///< tissue ahead of the tip is displaced with it over this length; assumed
};

}  // namespace sim
