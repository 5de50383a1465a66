#include "sim/instruments/wall_law.hpp"

#include <algorithm>
#include <span>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

struct Measured {
    double outer_m, mean_n, sd_n;
};

// Pavicic 2019, thinnest first; diameters of the needle gauge chart
constexpr std::array<Measured, 4> kBevel{
    {{0.413 * kMm, 0.70, 0.29}, {0.514 * kMm, 0.69, 0.24}, {0.718 * kMm, 1.08, 0.25}, {0.908 * kMm, 1.12, 0.29}}};
constexpr std::array<Measured, 3> kBlunt{
    {{0.413 * kMm, 0.78, 0.35}, {0.514 * kMm, 1.04, 0.36}, {0.718 * kMm, 1.50, 0.31}}};
// slopes of the straight lines fitted to the rows above, N per m of diameter
constexpr double kBevelSlope = 1.00e3;
constexpr double kBluntSlope = 2.35e3;

WallForce outside(const Measured& end, double slope, double outer_m) {
    return {end.mean_n + slope * (outer_m - end.outer_m), end.sd_n, true};
}

}  // namespace

WallForce artery_wall(const ShaftKind& shaft) {
    const bool bevel = shaft.tip == TipShape::bevel;
    const std::span<const Measured> rows =
        bevel ? std::span<const Measured>(kBevel) : std::span<const Measured>(kBlunt);
    const double slope = bevel ? kBevelSlope : kBluntSlope;
    if (shaft.outer_m < rows.front().outer_m) return outside(rows.front(), slope, shaft.outer_m);
    if (shaft.outer_m > rows.back().outer_m) return outside(rows.back(), slope, shaft.outer_m);
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        if (shaft.outer_m > rows[i + 1].outer_m) continue;
        const double t = (shaft.outer_m - rows[i].outer_m) / (rows[i + 1].outer_m - rows[i].outer_m);
        return {rows[i].mean_n + t * (rows[i + 1].mean_n - rows[i].mean_n),
                rows[i].sd_n + t * (rows[i + 1].sd_n - rows[i].sd_n), false};
    }
    return {rows.back().mean_n, rows.back().sd_n, false};
}

std::optional<WallForce> wall_of(const ForceParameters& p, const ShaftKind& shaft, const Structure& structure) {
    WallForce wall = artery_wall(shaft);
    const auto scaled = [&wall](double share) { return WallForce{wall.mean_n * share, 0.0, true}; };
    if (structure.kind == StructureKind::nerve) return std::nullopt;
    const double reference_n = artery_wall({}).mean_n;
    if (structure.wall_force_n > 0.0) return scaled(structure.wall_force_n / reference_n);
    switch (structure.kind) {
        case StructureKind::artery:
            return wall;
        case StructureKind::vein:
            return scaled(p.vein_share);
        case StructureKind::duct:
            return scaled(p.duct_share);
        case StructureKind::gland:
            return scaled(p.capsule_n / reference_n);
        case StructureKind::nerve:
            break;
    }
    return std::nullopt;
}

WallLoad wall_load(const ForceParameters& p, const WallForce& wall, double overlap_m, double radii_m) {
    SIM_ASSERT(radii_m > 0.0);
    if (!(overlap_m > 0.0)) return {};
    const double breach_m = std::min(p.wall_press_share * radii_m, p.wall_press_limit_m);
    if (overlap_m >= breach_m) return {0.0, 0.0, true};
    const double slope = wall.mean_n / breach_m;
    return {slope * overlap_m, slope, false};
}

}  // namespace sim
