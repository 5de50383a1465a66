#pragma once

#include <cstdint>
#include <string_view>

/// Which of the published courses each vessel, nerve and duct of a patient takes, drawn from a seed.
///
/// Pure statistics: no geometry is asked, so that shares can be counted over thousands of patients in no time. The two
/// sides are drawn independently. Every figure has its own stream of random numbers: a new one moves none of the
/// others.

namespace sim {

/// How the facial artery lies to the nasolabial fold. Shares of Yang et al., quoted in Plast Reconstr Surg 2017;139(1).
enum class FoldCourse : std::uint8_t { medial, crossing, lateral };

/// Where the facial artery ends. Shares of "Facial arterial variations in Asians", Aesthet Surg J (300 arteries, CTA).
enum class FacialArteryEnd : std::uint8_t { labial, lateral_nasal, medial_canthal, duplex };

/// Where the superficial temporal artery divides, from the zygomatic arch. Koziej et al. 2019, Aesthet Surg J
/// 39:815-23.
enum class TemporalDivision : std::uint8_t { above_arch, at_arch, below_arch };

/// How the parotid duct lies to the line from intertragic notch to corner of the mouth. Uzmansel et al. 2022, Anat Sci
/// Int 97:59-64; the source leaves the remainder unnamed, it is taken as wholly below (assumed).
enum class DuctCourse : std::uint8_t { arching, above, below };

[[nodiscard]] std::string_view name_of(FoldCourse course);
[[nodiscard]] std::string_view name_of(FacialArteryEnd end);
[[nodiscard]] std::string_view name_of(TemporalDivision division);
[[nodiscard]] std::string_view name_of(DuctCourse course);

/// Standard scores are normal deviates held within +-kScoreLimit; a placed figure is mean + score * SD of its source.
inline constexpr double kScoreLimit = 2.0;

struct FacialArteryVariant {
    FoldCourse fold = FoldCourse::medial;
    FacialArteryEnd end = FacialArteryEnd::lateral_nasal;
    double crossing_score = 0.0;  ///< of the distance from the jaw angle where the artery crosses the border
    double notch_depth_score = 0.0, cheilion_depth_score = 0.0, alare_depth_score = 0.0;
    double fold_offset_score = 0.0;  ///< of the distance from the fold, lateral course only
    bool superior_labial = true, inferior_labial = true;
    bool superior_labial_above_cheilion = true;  ///< arises above the corner of the mouth
};

struct FacialVeinVariant {
    double gap_m = 6.2e-3;  ///< behind the artery at the jaw border
};

struct TemporalArteryVariant {
    double height_score = 0.0;  ///< of the height of the division and, with it, of the frontal branch's take-off
    TemporalDivision division = TemporalDivision::above_arch;
    double forward_score = 0.0;  ///< of the take-off's distance ahead of the tragion
    int transverse_facial_arteries = 1;
    bool transverse_from_temporal = true;     ///< else from the external carotid artery, within the gland
    double transverse_below_band_m = 4.4e-3;  ///< place of the first within the published band, 0 to 8.8 mm
};

/// Heights above the lower border of the mandible, negative below it.
struct MarginalNerveVariant {
    int branches = 1;
    double at_angle_m = 3.50e-3;
    double at_artery_m = 5.34e-3;
    double below_commissure_m = 10.9e-3;
    double lowest_m = 3.50e-3;  ///< least height of the lowest branch anywhere on the border
    [[nodiscard]] bool below_border() const { return lowest_m < 0.0; }
};

struct FacialNerveVariant {
    int frontal_branches = 2;
    double frontal_arch_score = 0.0;  ///< of the distance tragus to where it crosses the lower border of the arch
    double upper_zygomatic_depth_score = 0.0, lower_zygomatic_depth_score = 0.0;
    bool zygomatic_through_masseteric_ligament = true;  ///< passes below or pierces the upper masseteric ligament
    bool zygomatic_superficial_to_duct = true;
    double cervical_split_score = 0.0;
    MarginalNerveVariant marginal;
};

struct ParotidVariant {
    DuctCourse duct = DuctCourse::arching;
    double duct_crossing_score = 0.0, duct_end_score = 0.0;
    bool facial_process = false;  ///< of the gland over the masseter
    bool facial_process_past_masseter = false;
    bool accessory_gland = false;
};

struct SideVariants {
    FacialArteryVariant facial_artery;
    FacialVeinVariant facial_vein;
    TemporalArteryVariant temporal;
    FacialNerveVariant facial_nerve;
    ParotidVariant parotid;
};

struct PlacedVariants {
    SideVariants left, right;
};

/// Draw both sides. Seed 0 draws nothing: the commonest course of everything, every figure at its mean.
[[nodiscard]] PlacedVariants sample_variants(std::uint64_t seed);

}  // namespace sim
