#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "sim/core/vec.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/instruments/shaft_beam.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::BeamNode;
using sim::kMm;

TEST_CASE("a cantilevered shaft bends by P L^3 / 3 EI", "[sim][instruments]") {
    // 0.1 N at 40 mm: 0.11 mm for 18 G, 0.59 mm for 21 G with E 193 GPa (Euler-Bernoulli, computed by hand)
    const auto [number, wanted_mm] = GENERATE(table<int, double>({{18, 0.107}, {21, 0.592}, {25, 3.42}}));
    const double ei = sim::gauge(number).bending_stiffness_n_m2();
    std::vector<BeamNode> nodes;
    for (int i = 0; i <= 40; ++i) nodes.push_back({i * kMm, 0, 0, 0});
    nodes.back().load_n = 0.1;
    sim::BeamShape shape;
    REQUIRE(sim::solve_beam(ei, nodes, shape));
    CHECK_THAT(shape.offset_m[40], WithinRel(0.1 * 0.04 * 0.04 * 0.04 / (3.0 * ei), 1e-9));
    CHECK_THAT(shape.offset_m[40] / kMm, WithinRel(wanted_mm, 0.01));
    CHECK_THAT(shape.slope[40], WithinRel(0.1 * 0.04 * 0.04 / (2.0 * ei), 1e-9));
    // the hand holds what the load pulls
    CHECK_THAT(std::abs(shape.hand_force_n), WithinRel(0.1, 1e-6));
    CHECK_THAT(std::abs(shape.hand_moment_n_m), WithinRel(0.1 * 0.04, 1e-6));
}

TEST_CASE("a long shaft in tissue bends like a beam on an elastic foundation", "[sim][instruments]") {
    // end load on a semi-infinite beam: w(0) = 2 P beta / k, beta = (k / 4 EI)^(1/4); Hetenyi 1946, Beams on Elastic
    // Foundation, chapter 2. The far end is the clamp, eight decay lengths away.
    const double ei = sim::gauge(21).bending_stiffness_n_m2();
    const double k_pa = 20'000.0;
    const double beta = std::pow(k_pa / (4.0 * ei), 0.25);
    const auto end_deflection = [&](double spacing_m) {
        const int count = static_cast<int>(std::lround(0.2 / spacing_m));
        std::vector<BeamNode> nodes;
        for (int i = 0; i <= count; ++i) nodes.push_back({i * spacing_m, k_pa * spacing_m, 0, 0});
        nodes.back().spring_n_per_m *= 0.5;
        nodes.back().load_n = 0.2;
        sim::BeamShape shape;
        REQUIRE(sim::solve_beam(ei, nodes, shape));
        return shape.offset_m[static_cast<std::size_t>(count)];
    };
    const double exact_m = 2.0 * 0.2 * beta / k_pa;
    const double coarse = std::abs(end_deflection(4.0 * kMm) - exact_m);
    const double fine = std::abs(end_deflection(2.0 * kMm) - exact_m);
    CHECK(fine < 2e-3 * exact_m);
    CHECK(fine < 0.4 * coarse);  // second order in the spacing
}

TEST_CASE("gauges carry the published diameters within the standard's limits", "[sim][instruments]") {
    for (const sim::Gauge& row : sim::gauge_table()) {
        INFO(row.number << " G");
        CHECK(row.outer_m >= row.outer_min_m);
        CHECK(row.outer_m <= row.outer_max_m);
        CHECK(row.inner_m < row.outer_m);
    }
    // bending stiffness by pi (D^4 - d^4) / 64 and E 193 GPa, N mm^2
    CHECK_THAT(sim::gauge(18).bending_stiffness_n_m2() * 1e6, WithinRel(19974.0, 2e-3));
    CHECK_THAT(sim::gauge(22).bending_stiffness_n_m2() * 1e6, WithinRel(2242.0, 2e-3));
    CHECK_THROWS(sim::gauge(15));
}
