#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "sim/anatomy/variants.hpp"

// Published shares of course variants, counted over 10 000 placements of two sides each. The published numbers are
// written out here a second time, on purpose: a slip in the tables of variants.cpp must show.

namespace {

constexpr std::uint64_t kPlacements = 10000;

template <typename Predicate>
double share_of_sides(Predicate&& predicate) {
    std::uint64_t hits = 0;
    for (std::uint64_t seed = 1; seed <= kPlacements; ++seed) {
        const sim::PlacedVariants drawn = sim::sample_variants(seed);
        hits += predicate(drawn.left) ? 1u : 0u;
        hits += predicate(drawn.right) ? 1u : 0u;
    }
    return static_cast<double>(hits) / static_cast<double>(2 * kPlacements);
}

/// Three standard errors of a share counted over n: what chance alone may do in 997 of 1000 counts.
double sampling_error(double share, double n = 2.0 * kPlacements) { return 3.0 * std::sqrt(share * (1.0 - share) / n); }

template <typename Predicate>
void check_share(const std::string& what, double published, Predicate&& predicate) {
    const double counted = share_of_sides(predicate);
    INFO(what << ": published " << published << ", counted " << counted);
    CHECK(std::abs(counted - published) < sampling_error(published));
}

}  // namespace

TEST_CASE("the facial artery lies to the nasolabial fold as published", "[oracle][variants]") {
    // Yang et al., quoted in Plast Reconstr Surg 2017;139(1), facial danger zones
    using sim::FoldCourse;
    check_share("medial", 0.429, [](const auto& s) { return s.facial_artery.fold == FoldCourse::medial; });
    check_share("lateral", 0.232, [](const auto& s) { return s.facial_artery.fold == FoldCourse::lateral; });
    check_share("crossing", 0.339, [](const auto& s) { return s.facial_artery.fold == FoldCourse::crossing; });
}

TEST_CASE("the facial artery ends where it was published to end", "[oracle][variants]") {
    // "Facial arterial variations in Asians", Aesthet Surg J, 300 arteries; printed shares sum to 0.999
    using sim::FacialArteryEnd;
    check_share("labial", 0.233, [](const auto& s) { return s.facial_artery.end == FacialArteryEnd::labial; });
    check_share("lateral nasal", 0.543,
                [](const auto& s) { return s.facial_artery.end == FacialArteryEnd::lateral_nasal; });
    check_share("medial canthal", 0.163,
                [](const auto& s) { return s.facial_artery.end == FacialArteryEnd::medial_canthal; });
    check_share("duplex", 0.060, [](const auto& s) { return s.facial_artery.end == FacialArteryEnd::duplex; });
}

TEST_CASE("labial arteries are present as often as published", "[oracle][variants]") {
    // Arch Craniofac Surg 2023;24:266-72, 102 sides
    check_share("superior labial", 0.8725, [](const auto& s) { return s.facial_artery.superior_labial; });
    check_share("inferior labial", 0.7843, [](const auto& s) { return s.facial_artery.inferior_labial; });
    check_share("superior labial arises above the corner of the mouth", 0.9101,
                [](const auto& s) { return s.facial_artery.superior_labial_above_cheilion; });
}

TEST_CASE("the superficial temporal artery divides where published", "[oracle][variants]") {
    // Koziej et al. 2019, Aesthet Surg J 39:815-23, 419 CTA
    using sim::TemporalDivision;
    check_share("above", 0.756, [](const auto& s) { return s.temporal.division == TemporalDivision::above_arch; });
    check_share("at", 0.097, [](const auto& s) { return s.temporal.division == TemporalDivision::at_arch; });
    check_share("below", 0.147, [](const auto& s) { return s.temporal.division == TemporalDivision::below_arch; });
}

TEST_CASE("transverse facial arteries: number and origin as published", "[oracle][variants]") {
    // Yang, Gil, Lee 2010, Clin Anat; 10.1002/ca.20880 (44 cadavers); origin quoted on a secondary clinical page
    check_share("single", 0.705, [](const auto& s) { return s.temporal.transverse_facial_arteries == 1; });
    check_share("from the temporal", 0.917, [](const auto& s) { return s.temporal.transverse_from_temporal; });
}

TEST_CASE("marginal mandibular nerve: share below the border and number of branches", "[oracle][variants]") {
    // Marcuzzo et al. 2019, Clin Anat; 10.1002/ca.23497: 39 %, 95 % CI 30-50, 28 studies, 1861 halves
    const double below = share_of_sides([](const auto& s) { return s.facial_nerve.marginal.below_border(); });
    INFO("below the border " << below);
    CHECK(below > 0.30);
    CHECK(below < 0.50);
    CHECK(std::abs(below - 0.39) < sampling_error(0.39));

    // same: 1 branch 35 %, 2 35 %, 3 18 %, 4 2 %, pooled one by one, so that they sum to 0.90 and are scaled here
    const double printed[] = {0.35, 0.35, 0.18, 0.02};
    for (int n = 1; n <= 4; ++n)
        check_share(std::to_string(n) + " branches", printed[n - 1] / 0.90,
                    [n](const auto& s) { return s.facial_nerve.marginal.branches == n; });
}

TEST_CASE("marginal mandibular nerve: heights above the border", "[oracle][variants]") {
    // J Craniofac Surg 2012;23:1488-90, neutral neck: angle +3.50 +- 2.82, artery +5.34 +- 2.98 mm
    double angle_mm = 0.0, artery_mm = 0.0, commissure_mm = 0.0, lowest_mm = 0.0;
    for (std::uint64_t seed = 1; seed <= kPlacements; ++seed) {
        const sim::PlacedVariants drawn = sim::sample_variants(seed);
        for (const sim::SideVariants* side : {&drawn.left, &drawn.right}) {
            const sim::MarginalNerveVariant& nerve = side->facial_nerve.marginal;
            angle_mm += nerve.at_angle_m * 1e3 / (2.0 * kPlacements);
            artery_mm += nerve.at_artery_m * 1e3 / (2.0 * kPlacements);
            commissure_mm += nerve.below_commissure_m * 1e3 / (2.0 * kPlacements);
            lowest_mm = std::min(lowest_mm, nerve.lowest_m * 1e3);
        }
    }
    CHECK(std::abs(angle_mm - 3.50) < 0.25);
    CHECK(std::abs(artery_mm - 5.34) < 0.25);
    CHECK(std::abs(commissure_mm - 10.9) < 0.1);
    // Ziarah & Atkinson 1981 (quoted): at most 12 below
    CHECK(lowest_mm >= -12.0);
    CHECK(lowest_mm < -8.0);
}

TEST_CASE("marginal mandibular nerve: anterior to the artery it is seldom below", "[oracle][variants]") {
    // Ziarah & Atkinson 1981 (quoted): 6 % of 76 halves; Dingman & Grabb 1962: none of 100. Between the two.
    const double below = share_of_sides([](const auto& s) { return s.facial_nerve.marginal.at_artery_m < 0.0; });
    CHECK(below > 0.0);
    CHECK(below < 0.06);
}

TEST_CASE("frontal and zygomatic branches: number and relations as published", "[oracle][variants]") {
    double branches = 0.0;
    for (std::uint64_t seed = 1; seed <= kPlacements; ++seed) {
        const sim::PlacedVariants drawn = sim::sample_variants(seed);
        branches += drawn.left.facial_nerve.frontal_branches + drawn.right.facial_nerve.frontal_branches;
    }
    branches /= 2.0 * kPlacements;
    // 2.05 branches over the arch on average: mapping study quoted on a secondary clinical page
    CHECK(std::abs(branches - 2.05) < 3.0 * 0.8 / std::sqrt(2.0 * kPlacements));

    // PRS 2013 (PMID 23358020), 22 hemifaces; Folia Morphol 2007;66:109-14, 10 sides
    check_share("below or through the upper masseteric ligament", 0.54,
                [](const auto& s) { return s.facial_nerve.zygomatic_through_masseteric_ligament; });
    check_share("over the duct", 0.9, [](const auto& s) { return s.facial_nerve.zygomatic_superficial_to_duct; });
}

TEST_CASE("parotid and duct: variants as often as published", "[oracle][variants]") {
    // Uzmansel et al. 2022, Anat Sci Int 97:59-64, 46 ducts
    using sim::DuctCourse;
    check_share("duct arches", 0.717, [](const auto& s) { return s.parotid.duct == DuctCourse::arching; });
    check_share("duct above", 0.217, [](const auto& s) { return s.parotid.duct == DuctCourse::above; });
    // Ahn et al. 2017, PLoS One 12:e0184633, CT, 1600 glands
    check_share("facial process", 0.283, [](const auto& s) { return s.parotid.facial_process; });
    check_share("facial process past the masseter", 0.283 * 0.104,
                [](const auto& s) { return s.parotid.facial_process_past_masseter; });
    check_share("accessory gland", 0.102, [](const auto& s) { return s.parotid.accessory_gland; });
}

TEST_CASE("the facial vein lies behind the artery at the jaw", "[oracle][variants]") {
    // Siwetz et al. 2024, Medicina 60:805: gap 6.2, 0 to 15; touching in 3 of 90
    double gap_mm = 0.0;
    for (std::uint64_t seed = 1; seed <= kPlacements; ++seed) {
        const sim::PlacedVariants drawn = sim::sample_variants(seed);
        gap_mm += (drawn.left.facial_vein.gap_m + drawn.right.facial_vein.gap_m) * 1e3 / (2.0 * kPlacements);
    }
    CHECK(std::abs(gap_mm - 6.2) < 0.2);
    const double touching = share_of_sides([](const auto& s) { return s.facial_vein.gap_m < 0.5e-3; });
    CHECK(touching > 0.0);
    CHECK(std::abs(touching - 3.0 / 90.0) < sampling_error(3.0 / 90.0, 90.0));
}
