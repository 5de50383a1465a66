#include "sim/anatomy/variants.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "sim/core/random.hpp"

namespace sim {

namespace {

/// One stream a figure. Append only: the order is the identity of the stream.
enum class Purpose : std::uint64_t {
    fold = 1,
    artery_end,
    artery_crossing,
    notch_depth,
    cheilion_depth,
    alare_depth,
    fold_offset,
    superior_labial,
    inferior_labial,
    superior_labial_height,
    vein_gap,
    temporal_height,
    temporal_forward,
    transverse_count,
    transverse_origin,
    transverse_height,
    marginal_count,
    marginal_height,
    marginal_below,
    marginal_dip,
    marginal_commissure,
    frontal_count,
    frontal_arch,
    upper_zygomatic,
    lower_zygomatic,
    zygomatic_ligament,
    zygomatic_duct,
    cervical_split,
    duct_course,
    duct_crossing,
    duct_end,
    facial_process,
    facial_process_reach,
    accessory_gland,
};

// Shares, in the order of the enums they choose from.
constexpr std::array kFoldShares{0.429, 0.339, 0.232};              // Yang et al., quoted in PRS 2017;139(1)
constexpr std::array kArteryEndShares{0.233, 0.543, 0.163, 0.060};  // Aesthet Surg J, 300 arteries, CTA
constexpr std::array kDuctShares{0.717, 0.217, 0.066};              // Uzmansel 2022; the last is the remainder
constexpr std::array kMarginalCountShares{0.35, 0.35, 0.18, 0.02};  // Marcuzzo 2019, Clin Anat; pooled apart, sum 0.90
constexpr std::array kTransverseCountShares{0.705, 0.250,
                                            0.045};  // Yang, Gil, Lee 2010: single 70.5 %, 1-3; split assumed
constexpr std::array kFrontalCountShares{0.25, 0.50, 0.20, 0.05};  // assumed split with the published mean of 2.05

constexpr double kSuperiorLabialShare = 0.8725;          // Arch Craniofac Surg 2023;24:266-72 (102 sides)
constexpr double kInferiorLabialShare = 0.7843;          // same
constexpr double kSuperiorLabialAboveShare = 0.9101;     // same
constexpr double kTransverseFromTemporalShare = 0.917;   // quoted on a secondary clinical page
constexpr double kZygomaticThroughLigamentShare = 0.54;  // PRS 2013 (PMID 23358020)
constexpr double kZygomaticOverDuctShare = 0.9;          // Folia Morphol 2007;66:109-14
constexpr double kFacialProcessShare = 0.283;            // Ahn et al. 2017, PLoS One 12:e0184633 (CT, 1600 glands)
constexpr double kFacialProcessPastShare = 0.104;        // same, of the glands that have one
constexpr double kAccessoryGlandShare = 0.102;           // same

// Facial vein behind the artery at the border: mean 6.2, 0 to 15. Siwetz et al. 2024, Medicina 60:805. SD assumed.
constexpr double kVeinGapMeanM = 6.2e-3, kVeinGapSdM = 3.0e-3, kVeinGapMaxM = 15.0e-3;

// Division of the superficial temporal artery above the arch: 16.8 +- 16.0. Koziej 2019. That normal law gives 14.7 %
// below the arch, as the same paper counted; the 9.7 % it found at the arch fall below the score -0.694.
constexpr double kDivisionMeanM = 16.8e-3, kDivisionSdM = 16.0e-3;
constexpr double kDivisionAtArchScore = -0.694;

constexpr double kTransverseBandM = 8.8e-3;  // width of the band, quoted on a secondary clinical page

// Marginal mandibular nerve above the border: J Craniofac Surg 2012;23:1488-90 (neutral neck).
constexpr double kMarginalAngleMeanM = 3.50e-3, kMarginalAngleSdM = 2.82e-3;
constexpr double kMarginalArteryMeanM = 5.34e-3, kMarginalArterySdM = 2.98e-3;
constexpr double kMarginalCommissureMeanM = 10.9e-3;  // "The MMN in relation to the inferior border of the mandible"
constexpr double kMarginalCommissureSdM = 2.0e-3;     // assumed, no SD given
// Any branch below the border: 39 % (30-50). Marcuzzo 2019. How far: up to 10 (Dingman & Grabb 1962), at most 12
// (Ziarah & Atkinson 1981); the shape in between is assumed. Reports of 16 to 40 mm (Aravena 2014) are left out.
constexpr double kMarginalBelowShare = 0.39;
constexpr double kMarginalDipSdM = 4.0e-3, kMarginalDipMaxM = 12.0e-3;
// A nerve is not placed nearer than this to the border itself, so that above and below can be told apart; assumed.
constexpr double kMarginalClearM = 0.5e-3;

std::size_t pick(Random random, std::span<const double> shares) {
    double total = 0.0;
    for (const double share : shares) total += share;
    double u = random.uniform() * total;
    for (std::size_t i = 0; i + 1 < shares.size(); ++i) {
        if (u < shares[i]) return i;
        u -= shares[i];
    }
    return shares.size() - 1;
}

bool chance(Random random, double share) { return random.uniform() < share; }

/// Normal deviate held at the limit, not redrawn: shares that hang on a threshold inside the limit stay exact.
double score(Random random) { return std::clamp(random.normal(), -kScoreLimit, kScoreLimit); }

double normal_cdf(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

class Draw {
 public:
    explicit Draw(const Random& side) : side_(side) {}
    [[nodiscard]] Random of(Purpose purpose) const { return side_.fork(static_cast<std::uint64_t>(purpose)); }

 private:
    const Random& side_;
};

FacialArteryVariant draw_facial_artery(const Draw& draw) {
    FacialArteryVariant out;
    out.fold = static_cast<FoldCourse>(pick(draw.of(Purpose::fold), kFoldShares));
    out.end = static_cast<FacialArteryEnd>(pick(draw.of(Purpose::artery_end), kArteryEndShares));
    out.crossing_score = score(draw.of(Purpose::artery_crossing));
    out.notch_depth_score = score(draw.of(Purpose::notch_depth));
    out.cheilion_depth_score = score(draw.of(Purpose::cheilion_depth));
    out.alare_depth_score = score(draw.of(Purpose::alare_depth));
    out.fold_offset_score = score(draw.of(Purpose::fold_offset));
    out.superior_labial = chance(draw.of(Purpose::superior_labial), kSuperiorLabialShare);
    out.inferior_labial = chance(draw.of(Purpose::inferior_labial), kInferiorLabialShare);
    out.superior_labial_above_cheilion = chance(draw.of(Purpose::superior_labial_height), kSuperiorLabialAboveShare);
    return out;
}

TemporalArteryVariant draw_temporal(const Draw& draw) {
    TemporalArteryVariant out;
    out.height_score = score(draw.of(Purpose::temporal_height));
    if (kDivisionMeanM + out.height_score * kDivisionSdM < 0.0)
        out.division = TemporalDivision::below_arch;
    else
        out.division =
            out.height_score < kDivisionAtArchScore ? TemporalDivision::at_arch : TemporalDivision::above_arch;
    out.forward_score = score(draw.of(Purpose::temporal_forward));
    out.transverse_facial_arteries =
        1 + static_cast<int>(pick(draw.of(Purpose::transverse_count), kTransverseCountShares));
    out.transverse_from_temporal = chance(draw.of(Purpose::transverse_origin), kTransverseFromTemporalShare);
    out.transverse_below_band_m = draw.of(Purpose::transverse_height).uniform(0.0, kTransverseBandM);
    return out;
}

MarginalNerveVariant draw_marginal(const Draw& draw) {
    MarginalNerveVariant out;
    out.branches = 1 + static_cast<int>(pick(draw.of(Purpose::marginal_count), kMarginalCountShares));

    // one score for angle and artery: a nerve that lies low lies low all along
    const double z = score(draw.of(Purpose::marginal_height));
    out.at_angle_m = kMarginalAngleMeanM + z * kMarginalAngleSdM;
    out.at_artery_m = kMarginalArteryMeanM + z * kMarginalArterySdM;
    out.below_commissure_m =
        kMarginalCommissureMeanM + score(draw.of(Purpose::marginal_commissure)) * kMarginalCommissureSdM;

    // the law of the heights alone puts this share below the border at the angle; the rest of the pooled share dips
    // between angle and artery
    const double low_by_height = normal_cdf(-kMarginalAngleMeanM / kMarginalAngleSdM);
    const double dips = (kMarginalBelowShare - low_by_height) / (1.0 - low_by_height);
    const bool below = out.at_angle_m < 0.0 || chance(draw.of(Purpose::marginal_below), dips);
    if (below) {
        const double dip_m = std::abs(draw.of(Purpose::marginal_dip).normal()) * kMarginalDipSdM;
        out.lowest_m = -std::clamp(dip_m, kMarginalClearM, kMarginalDipMaxM);
        out.lowest_m = std::min({out.lowest_m, out.at_angle_m, out.at_artery_m});
    } else {
        out.at_angle_m = std::max(out.at_angle_m, kMarginalClearM);
        out.at_artery_m = std::max(out.at_artery_m, kMarginalClearM);
        out.lowest_m = std::min(out.at_angle_m, out.at_artery_m);
    }
    return out;
}

FacialNerveVariant draw_facial_nerve(const Draw& draw) {
    FacialNerveVariant out;
    out.frontal_branches = 1 + static_cast<int>(pick(draw.of(Purpose::frontal_count), kFrontalCountShares));
    out.frontal_arch_score = score(draw.of(Purpose::frontal_arch));
    out.upper_zygomatic_depth_score = score(draw.of(Purpose::upper_zygomatic));
    out.lower_zygomatic_depth_score = score(draw.of(Purpose::lower_zygomatic));
    out.zygomatic_through_masseteric_ligament =
        chance(draw.of(Purpose::zygomatic_ligament), kZygomaticThroughLigamentShare);
    out.zygomatic_superficial_to_duct = chance(draw.of(Purpose::zygomatic_duct), kZygomaticOverDuctShare);
    out.cervical_split_score = score(draw.of(Purpose::cervical_split));
    out.marginal = draw_marginal(draw);
    return out;
}

ParotidVariant draw_parotid(const Draw& draw) {
    ParotidVariant out;
    out.duct = static_cast<DuctCourse>(pick(draw.of(Purpose::duct_course), kDuctShares));
    out.duct_crossing_score = score(draw.of(Purpose::duct_crossing));
    out.duct_end_score = score(draw.of(Purpose::duct_end));
    out.facial_process = chance(draw.of(Purpose::facial_process), kFacialProcessShare);
    out.facial_process_past_masseter =
        out.facial_process && chance(draw.of(Purpose::facial_process_reach), kFacialProcessPastShare);
    out.accessory_gland = chance(draw.of(Purpose::accessory_gland), kAccessoryGlandShare);
    return out;
}

SideVariants draw_side(const Random& side) {
    const Draw draw(side);
    SideVariants out;
    out.facial_artery = draw_facial_artery(draw);
    out.facial_vein.gap_m =
        std::clamp(draw.of(Purpose::vein_gap).normal(kVeinGapMeanM, kVeinGapSdM), 0.0, kVeinGapMaxM);
    out.temporal = draw_temporal(draw);
    out.facial_nerve = draw_facial_nerve(draw);
    out.parotid = draw_parotid(draw);
    return out;
}

}  // namespace

std::string_view name_of(FoldCourse course) {
    static constexpr std::array<std::string_view, 3> names{"medial to the fold", "crossing the fold",
                                                           "lateral to the fold"};
    return names[static_cast<std::size_t>(course)];
}

std::string_view name_of(FacialArteryEnd end) {
    static constexpr std::array<std::string_view, 4> names{"ends labial", "ends lateral nasal",
                                                           "ends at the medial canthus", "duplex"};
    return names[static_cast<std::size_t>(end)];
}

std::string_view name_of(TemporalDivision division) {
    static constexpr std::array<std::string_view, 3> names{"divides above the arch", "divides at the arch",
                                                           "divides below the arch"};
    return names[static_cast<std::size_t>(division)];
}

std::string_view name_of(DuctCourse course) {
    static constexpr std::array<std::string_view, 3> names{"arching over the line", "above the line", "below the line"};
    return names[static_cast<std::size_t>(course)];
}

PlacedVariants sample_variants(std::uint64_t seed) {
    if (seed == 0) return {};
    const Random patient(seed);
    return {draw_side(patient.fork(1)), draw_side(patient.fork(2))};
}

}  // namespace sim
