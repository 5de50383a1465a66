#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>

#include "sim/anatomy/variants.hpp"

TEST_CASE("seed 0 is the commonest course of everything", "[sim][anatomy][variants]") {
    const sim::PlacedVariants drawn = sim::sample_variants(0);
    for (const sim::SideVariants* side : {&drawn.left, &drawn.right}) {
        CHECK(side->facial_artery.fold == sim::FoldCourse::medial);
        CHECK(side->facial_artery.end == sim::FacialArteryEnd::lateral_nasal);
        CHECK(side->facial_artery.superior_labial);
        CHECK(side->temporal.division == sim::TemporalDivision::above_arch);
        CHECK(side->parotid.duct == sim::DuctCourse::arching);
        CHECK_FALSE(side->parotid.accessory_gland);
        CHECK_FALSE(side->facial_nerve.marginal.below_border());
        CHECK(side->facial_artery.crossing_score == 0.0);
    }
}

TEST_CASE("a seed draws the same patient each time", "[sim][anatomy][variants]") {
    const auto a = sim::sample_variants(4711);
    const auto b = sim::sample_variants(4711);
    CHECK(a.left.facial_artery.crossing_score == b.left.facial_artery.crossing_score);
    CHECK(a.right.facial_nerve.marginal.lowest_m == b.right.facial_nerve.marginal.lowest_m);
    CHECK(a.left.facial_artery.crossing_score != a.right.facial_artery.crossing_score);
    CHECK(a.left.facial_artery.crossing_score != sim::sample_variants(4712).left.facial_artery.crossing_score);
}

TEST_CASE("the two sides of a patient are drawn independently", "[sim][anatomy][variants]") {
    constexpr int kSeeds = 10000;
    double product = 0.0, left = 0.0, right = 0.0;
    int both_medial = 0, left_medial = 0, right_medial = 0;
    for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
        const auto drawn = sim::sample_variants(seed);
        const double a = drawn.left.facial_artery.notch_depth_score;
        const double b = drawn.right.facial_artery.notch_depth_score;
        product += a * b / kSeeds;
        left += a / kSeeds;
        right += b / kSeeds;
        const bool l = drawn.left.facial_artery.fold == sim::FoldCourse::medial;
        const bool r = drawn.right.facial_artery.fold == sim::FoldCourse::medial;
        left_medial += l;
        right_medial += r;
        both_medial += l && r;
    }
    // uncorrelated: the sample covariance of two unit deviates stays within 3 / sqrt(n)
    CHECK(std::abs(product - left * right) < 3.0 / std::sqrt(kSeeds));
    const double expected = static_cast<double>(left_medial) / kSeeds * right_medial / kSeeds;
    CHECK(std::abs(static_cast<double>(both_medial) / kSeeds - expected) < 3.0 * 0.39 / std::sqrt(kSeeds));
}

TEST_CASE("scores stay inside their limit and the nerve keeps clear of the border itself", "[sim][anatomy][variants]") {
    for (std::uint64_t seed = 1; seed <= 2000; ++seed) {
        const auto drawn = sim::sample_variants(seed);
        CHECK(std::abs(drawn.left.temporal.height_score) <= sim::kScoreLimit);
        CHECK(std::abs(drawn.left.facial_nerve.marginal.lowest_m) >= 0.5e-3);
    }
}
