#include "sim/anatomy/ligaments.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/anatomy/structures_side.hpp"

namespace sim {

namespace {

// Force to push a blunt 21 G cannula through. Hong et al. 2025, Aesthetic Plast Surg; 10.1007/s00266-025-05060-y.
constexpr double kZygomaticStrengthN = 9.16;   // +- 0.63
constexpr double kMandibularStrengthN = 3.64;  // +- 0.81
constexpr double kTemporalStrengthN = 3.16;    // +- 0.52
// Assumed, nothing published: weaker than the mandibular ligament, the lower masseteric part and the thin
// platysma-auricular sheet weakest.
constexpr double kUpperMassetericStrengthN = 3.0, kLowerMassetericStrengthN = 2.5, kPlatysmaAuricularStrengthN = 2.0;
constexpr double kStretchM = 3.0e-3;        // assumed
constexpr double kHalfThicknessM = 1.0e-3;  // assumed

// Zygomatic ligament from the tragus: 44.9 +- 9.7. PRS 2013 (PMID 23358020). At the lower border of the zygoma (Furnas
// 1989, PRS 83:11-16). Extents along its border: assumed.
constexpr double kZygomaticFromTragusM = 44.9e-3;
constexpr double kZygomaticBelowBorderM = 1.0e-3;  // assumed
constexpr double kZygomaticHalfWidthM = 7.0e-3;

// Mandibular ligament: 51.1 +- 4.5 lateral to the midline, 9.1 +- 3.1 above the border. Kang et al. 2016, J
// Craniomaxillofac Surg 44:1126-30; the distance is read as lying along the skin.
constexpr double kMandibularLateralM = 51.1e-3, kMandibularAboveM = 9.1e-3;
constexpr double kMandibularHalfWidthM = 5.0e-3;  // assumed

// Masseteric ligaments: along the anterior border of the masseter (Furnas 1989; Mendelson 2008), from below the zygoma
// to above the jaw; where one ends and the other begins is assumed.
constexpr std::array<double, 3> kUpperMassetericShares{0.12, 0.28, 0.44};  // of the way from arch to jaw border
constexpr std::array<double, 3> kLowerMassetericShares{0.52, 0.63, 0.74};

// Platysma-auricular: from the upper back border of platysma to the skin about the ear (Furnas 1989), to about 25-30
// before the ear (from memory).
constexpr double kPlatysmaAuricularReachM = 27.0e-3;

// Temporal adhesion: on the temporal line above the lateral end of the brow (from memory).
constexpr double kTemporalAboveBrowM = 9.0e-3, kTemporalLengthM = 20.0e-3;

struct Edge {
    DepthRule deep, superficial;
};
const Edge kFloorToSkin{above_floor(0.2e-3), in_layer(Layer::skin, 0.9)};
const Edge kFloorToSmas{above_floor(0.2e-3), in_layer(Layer::smas, 0.5)};
const Edge kDeepFasciaToSmas{in_layer(Layer::muscle, 0.02), in_layer(Layer::smas, 0.5)};
const Edge kParotidFasciaToSkin{below_smas(1.0e-3), in_layer(Layer::skin, 0.9)};

Ligament sheet(const SideWork& work, std::string_view name, std::span<const Vec3> skin_m, const Edge& edge,
               double strength_n, std::string_view source) {
    Ligament out;
    out.name = name;
    out.strength_n = strength_n;
    out.stretch_m = kStretchM;
    out.half_thickness_m = kHalfThicknessM;
    out.source = source;
    for (const Vec3& p : skin_m) {
        out.deep_m.push_back(brought_to(work.tissue, p, edge.deep));
        out.superficial_m.push_back(brought_to(work.tissue, p, edge.superficial));
    }
    return out;
}

Ligament zygomatic(const SideWork& work) {
    const SidePoints& p = work.points;
    const auto solve = [&](double from_tragus_m) {
        const double z = p.tragus.z + 0.85 * from_tragus_m;
        const SkinPoint start = skin_from_side(work.tissue, arch_height_m(p, z), z);
        return search_skin(work.tissue, start,
                           [&](const SkinPoint& s) {
                               return std::array{
                                   glm::length(s.position_m - p.tragus) - from_tragus_m,
                                   s.position_m.y - arch_height_m(p, s.position_m.z) + kZygomaticBelowBorderM};
                           })
            .skin.position_m;
    };
    const std::array<Vec3, 3> skin{solve(kZygomaticFromTragusM - kZygomaticHalfWidthM), solve(kZygomaticFromTragusM),
                                   solve(kZygomaticFromTragusM + kZygomaticHalfWidthM)};
    return sheet(
        work, "zygomatic ligament", skin, kFloorToSkin, kZygomaticStrengthN,
        "PRS 2013 (PMID 23358020); Furnas 1989, PRS 83:11-16; strength Hong 2025; width, thickness, stretch assumed");
}

Ligament masseteric(const SideWork& work, std::string_view name, std::span<const double> shares, double strength_n) {
    const SidePoints& p = work.points;
    const double high_y = arch_height_m(p, p.tragus.z + 42.0 * kMm);
    const double low_y = p.border.at(artery_along_border_m(p, {})).y;
    std::vector<Vec3> skin;
    constexpr double kStrayM = 5.0e-3;  // a border that jumps more is the muscle thinning out, not its border
    for (const double share : shares) {
        const double y = high_y + share * (low_y - high_y);
        SkinPoint front = masseter_front(work, y);
        if (!skin.empty() && std::abs(front.position_m.z - skin.back().z) > kStrayM)
            front = skin_from_side(work.tissue, y, skin.back().z);
        skin.push_back(front.position_m);
    }
    return sheet(
        work, name, skin, kDeepFasciaToSmas, strength_n,
        "anterior border of the masseter: Furnas 1989, Mendelson 2008; extent, strength, thickness, stretch assumed");
}

Ligament mandibular(const SideWork& work, bool reaches_skin) {
    const SidePoints& p = work.points;
    const DepthRule in_smas = in_layer(Layer::smas, 0.5);
    const SkinPoint start = work.tissue.nearest_skin(p.border.at(0.55 * p.border.length_m()) + Vec3(8, 9, 6) * kMm);
    const Vec3 centre = search_skin(work.tissue, start, [&](const SkinPoint& s) {
                            const Vec3 deep = brought_to(work.tissue, s.position_m, in_smas);
                            return std::array{arc_from_midline_m(work, s.position_m) - kMandibularLateralM,
                                              p.border.height_of_m(deep) - kMandibularAboveM};
                        }).skin.position_m;
    // along the border to both sides
    const double along = p.border.nearest_in_plan(centre).along_m;
    const Vec3 ahead = p.border.at(along + kMandibularHalfWidthM) - p.border.at(along);
    const Vec3 behind = p.border.at(along - kMandibularHalfWidthM) - p.border.at(along);
    const std::array<Vec3, 3> skin{work.tissue.nearest_skin(centre + behind).position_m, centre,
                                   work.tissue.nearest_skin(centre + ahead).position_m};
    return sheet(
        work, "mandibular ligament", skin, reaches_skin ? kFloorToSkin : kFloorToSmas, kMandibularStrengthN,
        "Kang 2016, J Craniomaxillofac Surg 44:1126-30; strength Hong 2025; plane Minelli 2023; width, thickness, "
        "stretch assumed");
}

Ligament platysma_auricular(const SideWork& work) {
    const Vec3 lobule = work.points.otobasion_inferius;
    std::vector<Vec3> skin;
    for (const double share : {0.15, 0.45, 0.75, 1.0}) {
        const double ahead = share * kPlatysmaAuricularReachM;
        // falls along the upper back border of platysma
        skin.push_back(
            skin_from_side(work.tissue, lobule.y - 4.0 * kMm - 0.45 * ahead, lobule.z + 5.0 * kMm + 0.9 * ahead)
                .position_m);
    }
    return sheet(work, "platysma-auricular ligament", skin, kParotidFasciaToSkin, kPlatysmaAuricularStrengthN,
                 "Furnas 1989, PRS 83:11-16; extent from memory; strength, thickness, stretch assumed");
}

Ligament temporal_adhesion(const SideWork& work) {
    const Vec3 start = work.points.brow_lateral + Vec3(-3.0e-3, kTemporalAboveBrowM, 0.0);
    std::vector<Vec3> skin;
    for (const double share : {0.0, 0.5, 1.0}) {
        const Vec3 along = Vec3(0.10, 0.75, -0.65) * (share * kTemporalLengthM);
        skin.push_back(work.tissue.nearest_skin(start + along).position_m);
    }
    return sheet(work, "temporal adhesion", skin, kFloorToSmas, kTemporalStrengthN,
                 "site from memory; strength Hong 2025; width, thickness, stretch assumed");
}

}  // namespace

double arc_from_midline_m(const SideWork& work, const Vec3& skin_m) {
    // rays towards an axis inside the jaw, from straight ahead round to the point
    constexpr int kRays = 24;
    const Vec3 axis(work.points.menton_bone.x, skin_m.y, skin_m.z - 25.0 * kMm);
    const Vec3 to = skin_m - axis;
    const double last_angle = std::atan2(to.x, to.z);
    constexpr double kFarM = 0.15;
    double arc_m = 0.0;
    std::optional<Vec3> before;
    for (int i = 0; i <= kRays; ++i) {
        const double angle = last_angle * i / kRays;
        const Vec3 out(std::sin(angle), 0.0, std::cos(angle));
        const auto hit =
            i == kRays ? std::optional(SkinPoint{skin_m, out}) : work.tissue.ray_to_skin(axis + out * kFarM, -out);
        if (!hit) continue;
        if (before) arc_m += glm::length(hit->position_m - *before);
        before = hit->position_m;
    }
    return arc_m;
}

std::vector<Ligament> place_ligaments(const SideWork& work, bool mandibular_reaches_skin) {
    return {zygomatic(work),
            masseteric(work, "masseteric ligament, upper", kUpperMassetericShares, kUpperMassetericStrengthN),
            masseteric(work, "masseteric ligament, lower", kLowerMassetericShares, kLowerMassetericStrengthN),
            mandibular(work, mandibular_reaches_skin),
            platysma_auricular(work),
            temporal_adhesion(work)};
}

}  // namespace sim
