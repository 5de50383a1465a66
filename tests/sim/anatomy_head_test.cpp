#include <catch2/catch.hpp>

#include <cmath>
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

TEST_CASE("a walk inwards seldom steps back a layer", "[sim][head]") {
    constexpr double kStepM = 0.1 * kMm;
    Random random(22);
    for (std::size_t patient = 0; patient < 4; ++patient) {
        const HeadTissue& tissue = support::patient_tissue(patient);
        int walks = 0;
        int back = 0;
        int arrived = 0;
        while (walks < 600) {
            const auto start = random_skin(tissue, random);
            if (!start) continue;
            ++walks;
            Vec3 p = start->position_m;
            Layer deepest = Layer::outside;
            int steps_back = 0;
            for (int i = 0; i < 400; ++i) {
                const Layer layer = tissue.layers_at(p).layer;
                if (layer < deepest) ++steps_back;
                deepest = std::max(deepest, layer);
                if (layer == Layer::floor) break;
                p += tissue.inward_at(p) * kStepM;
            }
            if (steps_back > 1) ++back;  // more than 0.1 mm
            if (deepest == Layer::floor) ++arrived;
        }
        CHECK(back < 12);      // 2 %
        CHECK(arrived > 588);  // 98 % meet the floor within 40 mm
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
