#include "engine/app/patient_posture.hpp"

#include <catch2/catch.hpp>

using app::shift_words;
using sim::kMm;
using sim::Vec3;

TEST_CASE("shifts are told from least to most, with where they mostly lead", "[app][tissue]") {
    CHECK(shift_words({Vec3(0.0, 2.0, -2.0) * kMm, Vec3(0.0, 3.0, -1.0) * kMm}) == "2.8 to 3.2 mm up and back");
    CHECK(shift_words({Vec3(0.0, 2.0, -0.2) * kMm}) == "2.0 mm up");
    CHECK(shift_words({Vec3(0.0, -1.0, 1.0) * kMm, Vec3(0.0, -1.0, 1.0) * kMm}) == "1.4 mm down and forward");
}

TEST_CASE("a turn is told by the patient's own side", "[app][tissue]") {
    CHECK(app::turn_words(30) == "Head 30° left");
    CHECK(app::turn_words(-45) == "Head 45° right");
    CHECK(app::turn_words(0) == "Head straight");
}
