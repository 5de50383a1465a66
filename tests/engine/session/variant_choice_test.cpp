#include "engine/session/variant_choice.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <set>
#include <vector>

#include "engine/session/prepare.hpp"
#include "sim/anatomy/head.hpp"
#include "sim/anatomy/structures.hpp"

/// Another variant of the same patient, by wish.

namespace {

const session::Prepared& artery_case() {
    static const session::Prepared prepared = session::prepare("skirt_the_artery", std::nullopt, {});
    return prepared;
}

const sim::HeadTissue& tissue() { return dynamic_cast<const sim::Head&>(*artery_case().model->anatomy).tissue(); }

std::uint64_t chosen(session::VariantWish wish, std::uint64_t entropy) {
    const sim::Scenario& scenario = artery_case().model->scenario;
    return session::choose_variant({wish, std::nullopt, entropy}, &tissue(), scenario);
}

}  // namespace

TEST_CASE("the commonest courses are the least rare, and a course of few people is told by its share",
          "[session][variants]") {
    const sim::PlacedVariants usual = sim::sample_variants(0);
    sim::PlacedVariants gland = usual;
    gland.left.parotid.accessory_gland = true;
    // accessory parotid gland in 10.2 %: Ahn et al. 2017, PLoS One 12:e0184633; -ln(0.102) + ln(0.898) = 2.18
    CHECK(session::rarity(gland) - session::rarity(usual) == Approx(std::log(0.898 / 0.102)).margin(0.15));
    int below = 0;
    for (std::uint64_t seed = 1; seed <= 100; ++seed)
        if (session::rarity(sim::sample_variants(seed)) < session::rarity(usual)) ++below;
    CHECK(below == 0);
}

TEST_CASE("a rare variant is rarer than nine in ten", "[session][variants]") {
    std::vector<double> all;
    for (std::uint64_t seed = 1; seed <= 1000; ++seed) all.push_back(session::rarity(sim::sample_variants(seed)));
    std::sort(all.begin(), all.end());
    for (std::uint64_t entropy = 1; entropy <= 20; ++entropy)
        CHECK(session::rarity(sim::sample_variants(chosen(session::VariantWish::rare, entropy))) > all[900]);
}

TEST_CASE("another variant is another each time, and never the one before", "[session][variants]") {
    std::set<std::uint64_t> seeds;
    for (std::uint64_t entropy = 1; entropy <= 50; ++entropy) {
        const std::uint64_t seed = chosen(session::VariantWish::another, entropy);
        CHECK(seed != artery_case().model->scenario.patient.variant_seed);
        seeds.insert(seed);
    }
    CHECK(seeds.size() > 45);
    CHECK(chosen(session::VariantWish::as_written, 7) == artery_case().model->scenario.patient.variant_seed);
    CHECK(session::choose_variant({session::VariantWish::same, 41, 7}, &tissue(), artery_case().model->scenario) == 41);
    CHECK(chosen(session::VariantWish::another, 7) == chosen(session::VariantWish::another, 7));
}

TEST_CASE("harder leaves less room along the plan, easier more", "[session][variants]") {
    const sim::Scenario& scenario = artery_case().model->scenario;
    const double now_m = session::room_m(tissue(), scenario, scenario.patient.variant_seed);
    CHECK(now_m > 0.0);
    for (std::uint64_t entropy = 1; entropy <= 2; ++entropy) {
        CHECK(session::room_m(tissue(), scenario, chosen(session::VariantWish::harder, entropy)) < now_m);
        CHECK(session::room_m(tissue(), scenario, chosen(session::VariantWish::easier, entropy)) > now_m);
    }
}

TEST_CASE("ligaments lie alike in all variants, so that they share the patient's tissue", "[session][variants]") {
    const auto usual = sim::place_structures(tissue(), 0).ligaments,
               other = sim::place_structures(tissue(), 77).ligaments;
    REQUIRE(usual.size() == other.size());
    for (std::size_t i = 0; i < usual.size(); ++i) {
        CHECK(usual[i].deep_m == other[i].deep_m);
        CHECK(usual[i].superficial_m == other[i].superficial_m);
        CHECK(usual[i].strength_n == other[i].strength_n);
    }
}

TEST_CASE("flat tissue has the structures of its scenario, whatever is wished for", "[session][variants]") {
    const session::Prepared flat = session::prepare("hold_the_plane", std::nullopt, {});
    for (int wish = 0; wish < session::kVariantWishes; ++wish)
        CHECK(session::choose_variant({static_cast<session::VariantWish>(wish), 5, 9}, nullptr, flat.model->scenario) ==
              flat.model->scenario.patient.variant_seed);
}
