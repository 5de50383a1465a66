#include "engine/view/shaft_look.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "sim/anatomy/slab.hpp"

using Catch::Matchers::WithinAbs;
using sim::Vec3;

namespace {

/// A shaft of 90 mm that lies 4 mm deep along x, as much of it as is inserted; outside the hand holds it as it is told.
sim::State pass_of(double inserted_m, double hub_slope_rad) {
    constexpr double kRampM = 8.0 * sim::kMm, kDepthM = 4.0 * sim::kMm;
    sim::State state;
    state.inserted_m = inserted_m;
    state.hands.entry = {{0, 0, 0}, {0, 0, 1}};
    state.track.emplace();
    double arc_m = 0.0;
    Vec3 last{};
    for (double x_m = 0.0; arc_m < inserted_m; x_m += sim::kMm) {
        const Vec3 p{x_m, 0.0, -kDepthM * std::min(1.0, x_m / kRampM)};
        arc_m += glm::length(p - last);
        last = p;
        state.track->nodes.push_back({p, arc_m, 0, 0, 0, 0});
    }
    state.inserted_m = arc_m;
    state.tip_m = state.track->end_m = last;
    state.track->end_arc_m = arc_m;
    const double outside_m = 0.09 - arc_m;
    // in space the shaft lies elsewhere than its way: bent tissue has come along
    state.shaft_m = {Vec3(-std::cos(hub_slope_rad), 0.0, std::sin(hub_slope_rad)) * outside_m,
                     {0, 0, -0.001},
                     last + Vec3(0, 0, 0.002)};
    return state;
}

}  // namespace

TEST_CASE("the part of a shaft under the skin has the inserted length", "[view]") {
    const std::vector<Vec3> shaft{{0, 0, 0.05}, {0, 0, 0.01}, {0, 0, 0}, {0.03, 0, -0.04}};  // last piece: 50 mm
    const auto part = view::part_under_skin(shaft, 0.02);
    REQUIRE(part.size() == 2);
    CHECK_THAT(glm::length(part[1] - part[0]), WithinAbs(0.02, 1e-12));
    CHECK(part[1] == shaft[3]);
    CHECK(view::part_under_skin(shaft, 0.0).empty());
}

TEST_CASE("in the tissue a shaft is drawn along the way where its depth is told", "[view]") {
    const sim::Slab slab({});
    const sim::State state = pass_of(0.04, 0.4);
    const std::vector<Vec3> drawn = view::shaft_among_layers(state, slab);
    CHECK(drawn.back() == state.tip_m);
    for (const Vec3& p : drawn) {
        CAPTURE(p.x, p.z);
        if (p.x > 0.009) CHECK_THAT(p.z, WithinAbs(-0.004, 1e-9));
    }
    // outside it is straight to where the hand holds it, and through the entry it turns without a corner
    CHECK(glm::length(drawn.front() - state.shaft_m.front()) < 1e-9);
    for (std::size_t i = 1; i + 1 < drawn.size(); ++i) {
        const double turn = glm::dot(glm::normalize(drawn[i] - drawn[i - 1]), glm::normalize(drawn[i + 1] - drawn[i]));
        CHECK(turn > std::cos(0.3));
    }
}

TEST_CASE("a hub that the hand holds below the skin is drawn lying on it", "[view]") {
    const sim::Slab slab({});
    const sim::State state = pass_of(0.04, -0.3);
    REQUIRE(state.shaft_m.front().z < -0.01);
    const std::vector<Vec3> drawn = view::shaft_among_layers(state, slab);
    CHECK(drawn.front().z > 0.004);
    CHECK(drawn.front().z < 0.008);  // no higher than it takes
    for (const Vec3& p : drawn)
        if (p.x < -0.007) CHECK(p.z > 0.0);
    CHECK_THAT(glm::length(drawn.front()), WithinAbs(glm::length(state.shaft_m.front()), 1e-9));
}

TEST_CASE("without a track, or before the skin, a shaft is drawn as it lies in space", "[view]") {
    const sim::Slab slab({});
    sim::State state = pass_of(0.04, 0.3);
    state.track.reset();
    CHECK(view::shaft_among_layers(state, slab) == state.shaft_m);
    state = pass_of(0.04, 0.3);
    state.inserted_m = 0.0;
    CHECK(view::shaft_among_layers(state, slab) == state.shaft_m);
}
