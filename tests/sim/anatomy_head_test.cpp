#include <catch2/catch.hpp>

#include <cmath>
#include <cstdio>
#include <cstring>

#include <glm/geometric.hpp>

#include "sim/anatomy/head.hpp"
#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "tests/support/heads.hpp"

using namespace sim;
using Catch::Matchers::WithinAbs;

namespace {

Vec3 random_place(Random& random) {
    return {random.uniform(-0.08, 0.08), random.uniform(-0.178, 0.066), random.uniform(-0.055, 0.114)};
}

/// A point of the modelled skin, seen from around the vertical axis.
std::optional<SkinPoint> random_skin(const HeadTissue& tissue, Random& random) {
    const double around = random.uniform(-2.2, 2.2);
    const Vec3 out(std::sin(around), 0.0, std::cos(around));
    const Vec3 from = Vec3(0.0, random.uniform(-0.165, 0.05), 0.01) + 0.2 * out;
    return tissue.ray_to_skin(from, -out);
}

bool same_bits(const LayerPoint& a, const LayerPoint& b) {
    return a.layer == b.layer && a.fraction == b.fraction && a.depth_m == b.depth_m && a.bottom_m == b.bottom_m &&
           a.floor == b.floor;
}

}  // namespace

TEST_CASE("layer bottoms are in order at every point of every patient", "[sim][head]") {
    Random random(21);
    for (std::size_t patient = 0; patient < 4; ++patient) {
        const HeadTissue& tissue = support::patient_tissue(patient);
        int wrong = 0;
        for (int i = 0; i < 25000; ++i) {
            const LayerPoint at = tissue.layers_at(random_place(random));
            double above = 0.0;
            for (const double bottom : at.bottom_m) {
                if (!(bottom > above)) ++wrong;
                above = bottom;
            }
            if (!(at.fraction >= 0.0 && at.fraction <= 1.0)) ++wrong;
        }
        CHECK(wrong == 0);
    }
}

namespace {

/// Part of the skin by angle around the vertical axis, on both sides, and height.
struct SkinPart {
    const char* name;
    double least_around_rad, most_around_rad;
    double low_m, high_m;
};

struct WalkCount {
    int stepped_back = 0;  ///< walks that came back to a shallower layer over more than 0.1 mm
    int lost = 0;          ///< walks that met no floor within 40 mm
};

/// Walks from random places of a part of the skin along the way in.
WalkCount walk_in_from(const HeadTissue& tissue, const SkinPart& part, int walks) {
    constexpr double kStepM = 0.1 * kMm;
    constexpr int kSteps = 400;
    Random random(22);
    WalkCount count;
    for (int walk = 0; walk < walks;) {
        const double angle = random.uniform(part.least_around_rad, part.most_around_rad);
        const double around = random.uniform() < 0.5 ? -angle : angle;
        const Vec3 out(std::sin(around), 0.0, std::cos(around));
        const Vec3 from = Vec3(0.0, random.uniform(part.low_m, part.high_m), 0.01) + 0.2 * out;
        const auto start = tissue.ray_to_skin(from, -out);
        if (!start) continue;
        ++walk;
        Vec3 p = start->position_m;
        Layer deepest = Layer::outside;
        int steps_back = 0;
        for (int i = 0; i < kSteps && deepest != Layer::floor; ++i) {
            const Layer layer = tissue.layers_at(p).layer;
            if (layer < deepest) ++steps_back;
            deepest = std::max(deepest, layer);
            p += tissue.inward_at(p) * kStepM;
        }
        count.stepped_back += steps_back > 1 ? 1 : 0;
        count.lost += deepest == Layer::floor ? 0 : 1;
    }
    return count;
}

}  // namespace

// Every walk is one draw. Where an event was seen n times in the 2,400 walks of a run, n / 4 are to be expected in one
// patient's 600, and the bound stands three standard deviations of a Poisson count above; where it was never seen, its
// rate is below 3 in 2,400 at 95 %, hence 0.75 + 3 sqrt(0.75) = 3 in 600.

TEST_CASE("a walk inwards seldom steps back a layer", "[sim][head]") {
    constexpr int kWalks = 600;
    constexpr SkinPart kWhole{"all skin", 0.0, 2.2, -0.165, 0.05};
    for (std::size_t patient = 0; patient < 4; ++patient) {
        const WalkCount count = walk_in_from(support::patient_tissue(patient), kWhole, kWalks);
        std::printf("walks of patient %zu: %d stepped back, %d lost\n", patient, count.stepped_back, count.lost);
        CHECK(count.stepped_back <= 7);  // seen 11, beside the orbits' fat: 2.75 + 3 sqrt(2.75)
        CHECK(count.lost <= 8);          // seen 12, under ears and nostrils: 3 + 3 sqrt(3)
    }
}

TEST_CASE("a walk inwards from neck and temple seldom steps back a layer", "[sim][head]") {
    constexpr int kWalks = 600;
    constexpr SkinPart kNeck{"neck", 0.0, 1.6, -0.165, -0.09};
    // behind the outer rim of the orbit, whose fat is no layer
    constexpr SkinPart kTemple{"temple", 1.0, 1.45, 0.014, 0.05};
    for (const SkinPart& part : {kNeck, kTemple})
        for (std::size_t patient = 0; patient < 4; ++patient) {
            const WalkCount count = walk_in_from(support::patient_tissue(patient), part, kWalks);
            INFO(part.name << " of patient " << patient << ": " << count.stepped_back << " stepped back, " << count.lost
                           << " lost");
            CHECK(count.stepped_back <= 3);
            CHECK(count.lost <= 3);
        }
}

TEST_CASE("walking in comes out at the depth and fraction asked for", "[sim][head]") {
    Random random(23);
    const HeadTissue& tissue = support::patient_tissue(0);
    int tried = 0;
    while (tried < 100) {
        const auto start = random_skin(tissue, random);
        // the cheek: lips, wings of the nose and ears have no 3 mm below them
        if (!start || std::abs(start->position_m.x) < 0.035 || start->position_m.z < 0.01 ||
            start->position_m.y < -0.06 || start->position_m.y > -0.015)
            continue;
        ++tried;
        CHECK_THAT(tissue.depth_m(walk_in(tissue, *start, 3.0 * kMm)), WithinAbs(3.0 * kMm, 1e-6));
        const LayerPoint at = tissue.layers_at(walk_in_to(tissue, *start, Layer::superficial_fat, 0.5));
        CHECK(at.layer == Layer::superficial_fat);
        CHECK_THAT(at.fraction, WithinAbs(0.5, 0.01));
    }
}

TEST_CASE("skin points lie on the skin and belong to the points below them", "[sim][head]") {
    Random random(24);
    const HeadTissue& tissue = support::patient_tissue(1);
    int tried = 0;
    while (tried < 200) {
        const auto start = random_skin(tissue, random);
        if (!start) continue;
        ++tried;
        CHECK_THAT(tissue.depth_m(start->position_m), WithinAbs(0.0, 1e-9));
        CHECK_THAT(glm::length(start->normal), WithinAbs(1.0, 1e-12));
        const SkinPoint again = tissue.nearest_skin(start->position_m + 0.5 * kMm * start->normal);
        CHECK_THAT(tissue.depth_m(again.position_m), WithinAbs(0.0, 1e-6));
    }
}

TEST_CASE("a ray that misses the head finds no skin", "[sim][head]") {
    const HeadTissue& tissue = support::patient_tissue(0);
    CHECK_FALSE(tissue.ray_to_skin({0.2, 0.0, 0.3}, {0.0, 0.0, -1.0}));
    CHECK_FALSE(tissue.ray_to_skin({0.0, 0.0, 0.3}, {0.0, 0.0, 1.0}));
    CHECK(tissue.ray_to_skin({0.0, -0.05, 0.3}, {0.0, 0.0, -1.0}));
}

TEST_CASE("stored tissue answers with the same bits", "[sim][head]") {
    const HeadTissue& tissue = support::patient_tissue(0);
    const auto bytes = save(tissue);
    const auto again = load_head_tissue(bytes, tissue.parameters());
    Random random(25);
    for (int i = 0; i < 5000; ++i) {
        const Vec3 p = random_place(random);
        REQUIRE(same_bits(tissue.layers_at(p), again->layers_at(p)));
        REQUIRE(tissue.inward_at(p) == again->inward_at(p));
        REQUIRE(tissue.bone_distance_m(p) == again->bone_distance_m(p));
        REQUIRE(tissue.windows_at(p).parotid == again->windows_at(p).parotid);
    }
    CHECK(again->bony_points().left.gonion_m == tissue.bony_points().left.gonion_m);
    CHECK(save(*again) == bytes);
}

TEST_CASE("the build does not hang on how work is shared out", "[sim][head]") {
    const HeadTissue& tissue = support::patient_tissue(2);
    const auto alone = build_head_tissue(tissue.parameters(), serial_for, {});
    CHECK(save(*alone) == save(tissue));
}

TEST_CASE("stored tissue of another version, patient or length is refused", "[sim][head]") {
    const HeadTissue& tissue = support::patient_tissue(0);
    const auto bytes = save(tissue);
    const HeadParameters& patient = tissue.parameters();
    SECTION("another kind of file") {
        auto wrong = bytes;
        wrong[0] ^= std::byte{1};
        CHECK_THROWS_AS(load_head_tissue(wrong, patient), InputError);
    }
    SECTION("another version") {
        auto wrong = bytes;
        wrong[8] ^= std::byte{1};
        CHECK_THROWS_AS(load_head_tissue(wrong, patient), InputError);
    }
    SECTION("another patient") {
        HeadParameters other = patient;
        other.asymmetry_seed += 1;
        CHECK_THROWS_AS(load_head_tissue(bytes, other), InputError);
    }
    SECTION("cut short anywhere") {
        for (const std::size_t length : {std::size_t{0}, std::size_t{5}, std::size_t{11}, std::size_t{100},
                                         std::size_t{4000}, bytes.size() / 2, bytes.size() - 1})
            CHECK_THROWS_AS(load_head_tissue(std::span(bytes).first(length), patient), InputError);
    }
    SECTION("a changed node") {
        auto wrong = bytes;
        wrong[bytes.size() / 2] ^= std::byte{1};
        CHECK_THROWS_AS(load_head_tissue(wrong, patient), InputError);
    }
    SECTION("something after the end") {
        auto wrong = bytes;
        wrong.push_back(std::byte{0});
        CHECK_THROWS_AS(load_head_tissue(wrong, patient), InputError);
    }
}
