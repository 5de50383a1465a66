#include <catch2/catch.hpp>
#include <limits>

#include "sim/anatomy/slab.hpp"
#include "sim/core/errors.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using sim::kMm;
using sim::Layer;
using sim::Vec3;

TEST_CASE("the slab's layers are slices at the depths it was given", "[sim][anatomy]") {
    const sim::Slab slab({});
    // 1.5 skin + 4.5 fat: 4 mm down is 2.5 / 4.5 through the fat
    const auto point = slab.layers_at({0.01, 0.02, -4.0 * kMm});
    CHECK(point.layer == Layer::superficial_fat);
    CHECK_THAT(point.fraction, WithinAbs(2.5 / 4.5, 1e-12));
    CHECK_THAT(point.depth_m, WithinAbs(4.0 * kMm, 1e-15));
    CHECK(slab.layers_at({0, 0, 1e-6}).layer == Layer::outside);
    CHECK(slab.layers_at({0, 0, -15.1 * kMm}).layer == Layer::floor);
}

TEST_CASE("the slab refuses a layer without thickness", "[sim][anatomy]") {
    sim::SlabParameters parameters;
    parameters.thickness_m[2] = GENERATE(0.0, -1e-3, std::numeric_limits<double>::quiet_NaN());
    CHECK_THROWS_WITH(sim::Slab(parameters), Contains("slab.thickness_m[2]"));
}

TEST_CASE("clearance to a cylinder is the distance to its axis less its radius", "[sim][anatomy]") {
    sim::SlabParameters parameters;
    sim::Structure artery;
    artery.name = "artery";
    artery.line = {{{0.02, -0.05, -5.0 * kMm}, 1.0 * kMm}, {{0.02, 0.05, -5.0 * kMm}, 1.0 * kMm}};
    parameters.structures.push_back(artery);
    const sim::Slab slab(parameters);

    // the piece ends at x = 16 mm at the artery's own depth: 4 mm to the axis, 3 mm to the wall
    std::vector<sim::Clearance> found;
    slab.clearances({0.010, 0, -5.0 * kMm}, {0.016, 0, -5.0 * kMm}, 0.02, found);
    REQUIRE(found.size() == 1);
    CHECK_THAT(found[0].distance_m, WithinAbs(3.0 * kMm, 1e-12));
    CHECK_THAT(found[0].at_m.x, WithinAbs(0.016, 1e-12));

    // far away: not reported
    found.clear();
    slab.clearances({-0.05, 0, -5.0 * kMm}, {-0.04, 0, -5.0 * kMm}, 0.02, found);
    CHECK(found.empty());
}

TEST_CASE("a piece meets a ligament's sheet where geometry says", "[sim][anatomy]") {
    sim::Ligament ligament;
    ligament.deep_m = {{0.03, -0.01, -0.010}, {0.03, 0.01, -0.010}};
    ligament.superficial_m = {{0.03, -0.01, -0.002}, {0.03, 0.01, -0.002}};
    const auto t = sim::crossing(ligament, {0.02, 0.003, -0.004}, {0.06, 0.003, -0.004});
    REQUIRE(t.has_value());
    CHECK_THAT(*t, WithinAbs(0.25, 1e-12));
    // above its upper edge it is not met
    CHECK_FALSE(sim::crossing(ligament, {0.02, 0.003, -0.001}, {0.06, 0.003, -0.001}).has_value());
}
