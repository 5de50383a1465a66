#include "sim/patient/anaesthetic.hpp"

#include <catch2/catch.hpp>

#include "sim/barbed_thread/strength.hpp"

using Catch::Matchers::WithinAbs;
using sim::kMm;

namespace {

double limit_mg(double weight_kg, bool adrenaline) {
    sim::VisitSpec visit;
    visit.weight_kg = weight_kg;
    visit.anaesthetic.adrenaline = adrenaline;
    return visit.limit_mg();
}

}  // namespace

TEST_CASE("limits of lidocaine as the US prescribing label gives them", "[oracle][visit]") {
    // 4.5 mg/kg up to 300 mg plain; 7 mg/kg up to 500 mg with adrenaline; worked out for 60 and 80 kg
    CHECK_THAT(limit_mg(60.0, false), WithinAbs(270.0, 1e-9));
    CHECK_THAT(limit_mg(60.0, true), WithinAbs(420.0, 1e-9));
    CHECK_THAT(limit_mg(80.0, false), WithinAbs(300.0, 1e-9));
    CHECK_THAT(limit_mg(80.0, true), WithinAbs(500.0, 1e-9));
}

TEST_CASE("onset and duration within what is published", "[oracle][visit]") {
    // onset: pooled mean 2.1 min, 0.4 to 9.0 (BJS Open 2023, 7:zrad089). Duration plain 30 to 120 min, with adrenaline
    // 60 to 400 min (dermatology texts, second hand)
    for (const bool adrenaline : {false, true}) {
        sim::Anaesthetic given;
        sim::inject(given, {}, 0.3, 0.0);
        sim::AnaestheticSpec spec;
        spec.adrenaline = adrenaline;
        const auto numb = [&](double minutes) { return sim::numbness(given, spec, {}, 60.0 * minutes); };
        CHECK(numb(0.0) == 0.0);
        CHECK(numb(0.4) < 0.2);
        CHECK_THAT(numb(2.1), WithinAbs(0.9, 0.01));
        CHECK(numb(9.0) > 0.99);
        CHECK(numb(adrenaline ? 60.0 : 30.0) > 0.9);
        CHECK(numb(adrenaline ? 400.0 : 120.0) < 0.1);
    }
}

TEST_CASE("strength that is left of polydioxanone", "[oracle][visit]") {
    // 74, 50, 25 % after 2, 4, 6 weeks: tables of surgical materials (second hand); 14 % after 8: Ray et al. 1981
    CHECK_THAT(sim::strength_left(2.0), WithinAbs(0.74, 1e-12));
    CHECK_THAT(sim::strength_left(4.0), WithinAbs(0.50, 1e-12));
    CHECK_THAT(sim::strength_left(6.0), WithinAbs(0.25, 1e-12));
    CHECK_THAT(sim::strength_left(8.0), WithinAbs(0.14, 1e-12));
    for (double weeks = 0.0; weeks < 60.0; weeks += 0.5)
        CHECK(sim::strength_left(weeks + 0.5) <= sim::strength_left(weeks));
    CHECK(sim::strength_left(52.0) == 0.0);
}

TEST_CASE("more fluid numbs farther, and lies in the tissue less and less", "[visit][patient]") {
    const auto reach_mm = [](double ml) {
        sim::Anaesthetic given;
        sim::inject(given, {}, ml, 0.0);
        for (double mm = 0.0; mm < 60.0; mm += 0.1)
            if (sim::numbness(given, {}, {mm * kMm, 0, 0}, 600.0) < 0.5) return mm;
        return 60.0;
    };
    // 0.3 ml in tissue that takes up a third: a ball of 0.9 ml, radius 6.0 mm, and half of the rim of 5 mm
    CHECK_THAT(reach_mm(0.3), WithinAbs(8.5, 0.2));
    CHECK(reach_mm(1.0) > reach_mm(0.3) + 2.0);
    sim::Anaesthetic given;
    sim::inject(given, {}, 0.3, 0.0);
    CHECK_THAT(sim::fluid_share(given, {}, 0.0), WithinAbs(1.0 / 3.0, 1e-9));
    CHECK(sim::fluid_share(given, {}, 3600.0) < 0.02);
    auto flooded = given;  // the same again at the same place: a wider ball, no more in it
    for (int i = 1; i < 5; ++i) sim::inject(flooded, {}, 1.0, 60.0 * i);
    CHECK_THAT(sim::fluid_share(flooded, {}, 240.0), WithinAbs(1.0 / 3.0, 1e-9));
    CHECK(sim::fluid_share(given, {20.0 * kMm, 0, 0}, 0.0) == 0.0);
}
