#include "sim/scoring/bands.hpp"

namespace sim {

std::span<const BandField> band_fields() {
    static constexpr std::array<BandField, 9> fields{{
        {"ramp_mm", "first stretch of a track that plane figures leave out", &Bands::ramp_m, kMm, 0.0, 30.0},
        {"below_dermis_mm", "least distance of the shaft's wall below the dermis", &Bands::below_dermis_m, kMm, 0.0,
         5.0},
        {"above_smas_mm", "least distance of the shaft's wall above the SMAS or platysma", &Bands::above_smas_m, kMm,
         0.0, 5.0},
        {"thin_fat_mm", "fat thinner than this asks for thin_gap_mm each way", &Bands::thin_fat_m, kMm, 0.0, 10.0},
        {"thin_gap_mm", "least distance of the shaft's wall each way in thin fat", &Bands::thin_gap_m, kMm, 0.0, 5.0},
        {"thinnest_fat_mm", "fat thinner than this asks for the axis in its middle", &Bands::thinnest_fat_m, kMm, 0.0,
         10.0},
        {"middle_half_mm", "distance that the axis may keep from the middle of the thinnest fat", &Bands::middle_half_m,
         kMm, 0.0, 2.0},
        {"clearance_cap_mm", "clearance beyond this is not told apart", &Bands::clearance_cap_m, kMm, 0.1, 20.0},
        {"straightness", "chord of a full track over that of its plan", &Bands::straightness, 1.0, 0.5, 1.0},
    }};
    return fields;
}

AxisBand target_band(const std::array<double, kTissueLayers>& bottom_m, double shaft_radius_m, const Bands& bands) {
    const double fat_top_m = bottom_m[0], fat_bottom_m = bottom_m[1];
    const double fat_m = fat_bottom_m - fat_top_m;
    if (fat_m >= bands.thinnest_fat_m.value) {
        const bool thin = fat_m < bands.thin_fat_m.value;
        const double above_m = thin ? bands.thin_gap_m.value : bands.below_dermis_m.value;
        const double below_m = thin ? bands.thin_gap_m.value : bands.above_smas_m.value;
        const AxisBand band{fat_top_m + above_m + shaft_radius_m, fat_bottom_m - below_m - shaft_radius_m};
        if (band.top_m <= band.bottom_m) return band;
    }
    const double middle_m = 0.5 * (fat_top_m + fat_bottom_m);
    return {middle_m - bands.middle_half_m.value, middle_m + bands.middle_half_m.value};
}

}  // namespace sim
