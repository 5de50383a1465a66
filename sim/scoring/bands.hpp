#pragma once

#include <array>
#include <span>
#include <string_view>

#include "sim/anatomy/anatomy.hpp"

/// Where the shaft should lie and what counts as near: the thresholds that turn a record into figures.
///
/// All of them are expert opinion (assumed) and part of the rubric, so that a school can change them.

namespace sim {

/// A threshold and the half-width of the range within which it might as well have been set.
struct Threshold {
    double value = 0.0;
    double spread = 0.0;  ///< same unit; 0 when sourced
};

/// Thresholds of measuring, as opposed to those of points. Assumed throughout.
struct Bands {
    Threshold ramp_m{10.0 * kMm, 2.0 * kMm};         ///< first stretch of a track, left out of plane figures
    Threshold below_dermis_m{1.0 * kMm, 0.2 * kMm};  ///< least distance of the shaft's wall below the dermis
    Threshold above_smas_m{0.5 * kMm, 0.1 * kMm};    ///< least distance of its wall above the SMAS or platysma
    Threshold thin_fat_m{3.0 * kMm, 0.3 * kMm};      ///< fat thinner than this asks for thin_gap_m each way instead
    Threshold thin_gap_m{0.5 * kMm, 0.1 * kMm};
    Threshold thinnest_fat_m{2.2 * kMm, 0.2 * kMm};  ///< thinner still: the axis keeps to the middle of the fat
    Threshold middle_half_m{0.25 * kMm, 0.05 * kMm};
    Threshold clearance_cap_m{5.0 * kMm, 0.0};  ///< clearance beyond this is not told apart
    Threshold straightness{0.85,
                           0.05};  ///< chord of a full track over that of its plan; less is wandering. Shallower
                                   ///< is longer: 7 mm down on a cheek of 70 mm radius a chord is 0.9 of the skin's
};

/// One band as files and people know it.
struct BandField {
    std::string_view key;  ///< in rubric files: "ramp_mm"
    std::string_view meaning;
    Threshold Bands::*field;
    double unit = 1.0;             ///< SI value of one unit of the file
    double low = 0.0, high = 0.0;  ///< accepted values in the file's unit
};
[[nodiscard]] std::span<const BandField> band_fields();

/// Depths between which the shaft's axis keeps its wall within the target band.
struct AxisBand {
    double top_m = 0.0, bottom_m = 0.0;  ///< top_m <= bottom_m
    [[nodiscard]] double middle_m() const { return 0.5 * (top_m + bottom_m); }
    /// How far a depth lies outside: < 0 too shallow, > 0 too deep, 0 within.
    [[nodiscard]] double excess_m(double depth_m) const {
        return depth_m < top_m ? depth_m - top_m : depth_m > bottom_m ? depth_m - bottom_m : 0.0;
    }
};

/// The target band in superficial fat for a shaft of a radius.
///
/// Where the wall rule leaves no room (a thick shaft in thin fat) the rule of the thinnest fat applies.
[[nodiscard]] AxisBand target_band(const std::array<double, kTissueLayers>& bottom_m, double shaft_radius_m,
                                   const Bands& bands);

}  // namespace sim
