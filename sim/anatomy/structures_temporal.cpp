#include <algorithm>
#include <array>
#include <cmath>

#include "sim/anatomy/structures_side.hpp"

/// Superficial temporal artery with its branches, transverse facial artery.

namespace sim {

namespace {

// Superficial temporal artery. Pinar & Govsa 2006, Surg Radiol Anat 28:248-53: 16.68 +- 0.35 in front of the tragus,
// diameter at the arch 2.73. Division above the arch 16.8 +- 16.0, diameters 0.97 and 0.96: Koziej 2019, Aesthet Surg
// J 39.
constexpr double kTemporalBeforeTragusM = 16.68e-3, kTemporalRadiusM = 1.365e-3;
constexpr MeanSd kDivisionHeight{16.8e-3, 16.0e-3};
constexpr double kFrontalArteryRadiusM = 0.485e-3, kParietalArteryRadiusM = 0.48e-3;
// Frontal branch take-off from the tragion, and where it reaches frontalis. Surg Radiol Anat 2015;37:61-8.
constexpr MeanSd kTakeOffUp{36.9e-3, 14.2e-3}, kTakeOffForward{17.2e-3, 8.2e-3};
constexpr double kFrontalisAboveBrowM = 14.8e-3, kFrontalisFromCanthusM = 15.8e-3;
constexpr double kLeastForwardM = 4.0e-3;  // assumed: clear of the ear
constexpr double kFollowedUpM = 62.0e-3;   // from the tragion: the tissue is modelled a little above the brow

// Transverse facial artery: an 8.8 mm band that starts 17.0 below the lower border of the arch (secondary clinical
// page).
constexpr double kTransverseBandStartM = 17.0e-3, kTransverseBandWidthM = 8.8e-3;
constexpr double kTransverseRadiusM = 0.7e-3;  // assumed

void place_transverse_facial(const SideWork& work, const Vec3& from_m, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    const TemporalArteryVariant& variant = work.variants.temporal;
    for (int i = 0; i < variant.transverse_facial_arteries; ++i) {
        // the first where the seed put it, the others spread over the band
        const double down =
            kTransverseBandStartM +
            std::fmod(variant.transverse_below_band_m + i * kTransverseBandWidthM / variant.transverse_facial_arteries,
                      kTransverseBandWidthM);
        const DepthRule rule = in_layer(Layer::deep_fat, 0.55);
        std::vector<CoursePoint> points{
            {"origin", from_m, at_depth(work.tissue.layers_at(from_m).depth_m), kTransverseRadiusM}};
        for (const double ahead_m : {18.0e-3, 28.0e-3, 38.0e-3, 48.0e-3}) {
            const double z = p.tragus.z + ahead_m;
            const double arch_y = arch_height_m(p, z);
            // it comes down from its origin to the band, then runs along it
            const double share = ahead_m < 20.0e-3 ? 0.75 : 1.0;
            const SkinPoint skin = skin_from_side(work.tissue, arch_y - share * down, z);
            points.push_back({ahead_m < 20.0e-3
                                  ? ""
                                  : (ahead_m < 30.0e-3 ? "over the masseter" : (ahead_m > 40.0e-3 ? "cheek" : "")),
                              skin.position_m, rule, kTransverseRadiusM * (ahead_m < 40.0e-3 ? 1.0 : 0.7)});
        }
        const std::string number = std::to_string(i + 1) + " of " + std::to_string(variant.transverse_facial_arteries);
        out.push_back(artery("transverse facial artery", number, lay_course(work.tissue, points),
                             "band below the arch: secondary clinical page; number: Yang, Gil, Lee 2010, Clin Anat"));
    }
}

}  // namespace

void place_temporal_vessels(const SideWork& work, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    const TemporalArteryVariant& variant = work.variants.temporal;
    const DepthRule outer = in_layer(Layer::smas, 0.1);  // outer face of the temporoparietal fascia (anatomy page)
    const double r = kTemporalRadiusM;

    const double arch_y = arch_height_m(p, p.tragus.z + kTemporalBeforeTragusM);
    const double at_y = std::max(arch_y, p.tragus.y);
    SkinPoint at_arch = before_tragus(work, kTemporalBeforeTragusM, at_y);
    double division_y = arch_y + kDivisionHeight.at(variant.height_score);
    // clear of the place at the arch, where the course was measured: no piece of artery is that short (assumed)
    constexpr double kOffArchM = 4.0e-3;
    const double over_arch_m = division_y - at_arch.position_m.y;
    if (std::abs(over_arch_m) < kOffArchM) division_y += std::copysign(kOffArchM, over_arch_m) - over_arch_m;
    const double top_y = p.tragion.y + kFollowedUpM;
    const double take_off_y = std::min(top_y - 8.0 * kMm, p.tragion.y + kTakeOffUp.at(variant.height_score));
    const double take_off_z = p.tragion.z + std::max(kLeastForwardM, kTakeOffForward.at(variant.forward_score));
    // the trunk leans from the place at the arch towards the take-off of its frontal branch
    const auto trunk_z = [&](double y) {
        const double share =
            std::clamp((y - at_arch.position_m.y) / std::max(take_off_y - at_arch.position_m.y, 10.0 * kMm), 0.0, 1.0);
        return at_arch.position_m.z +
               share * (std::min(take_off_z, at_arch.position_m.z + 4.0 * kMm) - at_arch.position_m.z);
    };
    const Vec3 in_gland = skin_from_side(work.tissue, arch_y - 17.0 * kMm, at_arch.position_m.z - 6.0 * kMm).position_m;
    const Vec3 division =
        skin_from_side(work.tissue, std::max(division_y, arch_y - 14.0 * kMm), trunk_z(division_y)).position_m;
    const bool divides_low = division_y < at_arch.position_m.y;

    const auto lay_trunk = [&] {
        std::vector<CoursePoint> trunk{{"in the parotid", in_gland, in_layer(Layer::deep_fat, 0.6), r}};
        if (divides_low) {
            trunk.push_back({"division", division, in_layer(Layer::deep_fat, 0.1), r});
        } else {
            trunk.push_back({"over the arch", at_arch.position_m, outer, r});
            trunk.push_back({"division", division, outer, 0.8 * r});
        }
        return lay_course(work.tissue, trunk);
    };
    Course trunk = lay_trunk();
    constexpr int kTries = 3;
    double aimed_m = kTemporalBeforeTragusM;
    for (int i = 0; i < kTries && !divides_low; ++i) {
        // the distance is that of the skin over the finished, softened line
        const Vec3 over = work.tissue.nearest_skin(station_of(trunk, "over the arch").position_m).position_m;
        aimed_m += kTemporalBeforeTragusM - glm::length(over - p.tragus);
        at_arch = before_tragus(work, aimed_m, at_y);
        trunk = lay_trunk();
    }
    const std::string course(name_of(variant.division));
    out.push_back(artery("superficial temporal artery", course, std::move(trunk),
                         "Pinar & Govsa 2006; Koziej 2019, Aesthet Surg J 39:815-23"));
    const Vec3 divides = out.back().line.back().position_m;
    const Vec3 gland = out.back().line.front().position_m;

    const Vec3 take_off = skin_from_side(work.tissue, take_off_y, take_off_z).position_m;
    const double frontalis_y = p.brow_top.y + kFrontalisAboveBrowM;
    const SkinPoint aside = work.tissue.nearest_skin(
        p.exocanthion + Vec3(0.6 * kFrontalisFromCanthusM, frontalis_y - p.exocanthion.y, 0.0));
    const Vec3 frontalis =
        search_skin(work.tissue, aside, [&](const SkinPoint& s) {
            const Vec3 d = s.position_m - p.exocanthion;
            return std::array{std::hypot(d.x, d.z) - kFrontalisFromCanthusM, s.position_m.y - frontalis_y};
        }).skin.position_m;
    const DepthRule start = at_depth(work.tissue.layers_at(divides).depth_m);
    std::vector<CoursePoint> frontal{{"division", divides, start, 0.7 * r}};
    if (divides_low) frontal.push_back({"over the arch", at_arch.position_m, outer, kFrontalArteryRadiusM});
    frontal.push_back({"frontal take-off", take_off, outer, kFrontalArteryRadiusM});
    frontal.push_back({"temple", skin_near(work, 0.5 * (take_off + frontalis) + Vec3(4.0, 1.0, 0.0) * kMm), outer,
                       kFrontalArteryRadiusM});
    frontal.push_back({"frontalis", frontalis, outer, 0.8 * kFrontalArteryRadiusM});
    out.push_back(artery("superficial temporal artery, frontal branch", course, lay_course(work.tissue, frontal),
                         "Surg Radiol Anat 2015;37:61-8"));

    std::vector<CoursePoint> parietal{{"division", divides, start, 0.7 * r}};
    const double from_y = std::max(divides.y, p.tragion.y + 8.0 * kMm);
    const double up_m = std::min(36.0 * kMm, top_y - from_y);
    for (const double share : {0.5, 1.0}) {
        const Vec3 skin =
            skin_from_side(work.tissue, from_y + share * up_m, divides.z - 0.35 * share * up_m).position_m;
        parietal.push_back({share < 1.0 ? "" : "parietal", skin, outer, kParietalArteryRadiusM});
    }
    out.push_back(artery("superficial temporal artery, parietal branch", course, lay_course(work.tissue, parietal),
                         "calibre: Koziej 2019; course from memory"));

    place_transverse_facial(
        work, variant.transverse_from_temporal ? gland : gland + work.tissue.inward_at(gland) * (2.0 * kMm), out);
}

}  // namespace sim
