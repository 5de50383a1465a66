#include "engine/app/instruments.hpp"

#include <catch2/catch.hpp>

using Catch::Matchers::Contains;

TEST_CASE("the shipped models are there for every instrument, with nothing to tell", "[app][instruments]") {
    const app::Instruments shipped = app::load_instruments("assets/instruments");
    CHECK(shipped.trouble.empty());
    CHECK(shipped.models->shafts.size() == 3);
    CHECK(shipped.models->holder.size() == 1);
    for (const view::InstrumentModel& model : shipped.models->shafts) {
        CHECK(model.hub_end_mm < -10.0f);
        // hub, shaft, tip and the dark inside
        CHECK(model.parts.size() == 4);
    }
}

TEST_CASE("without models plain shapes stand in, and it is told", "[app][instruments]") {
    const app::Instruments none = app::load_instruments("/nowhere/at/all");
    CHECK_THAT(none.trouble, Contains("manifest.json") && Contains("plain shape"));
    REQUIRE(none.models);
    sim::InstrumentSpec needle;
    needle.tip = sim::TipShape::bevel;
    needle.gauge = 18;
    needle.length_m = 40.0 * sim::kMm;
    const view::SidePicture picture = view::side_picture(*none.models, needle, true);
    CHECK(picture.triangles.size() > 50);
    CHECK(picture.to_mm == 40.0f);
}
