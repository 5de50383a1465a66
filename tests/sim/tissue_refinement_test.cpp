#include "sim/tissue/refinement.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/coarse_tissue.hpp"

using Catch::Matchers::WithinRel;

TEST_CASE("three figures that go like a power give its order and limit", "[sim][tissue]") {
    const double order = GENERATE(0.7, 1.0, 2.0, 3.5);
    const double sign = GENERATE(-1.0, 1.0);
    const std::array<double, 3> h{4.0, 3.0, 2.5};
    std::array<double, 3> value{};
    for (std::size_t k = 0; k < 3; ++k) value[k] = 5.0 + sign * 0.1 * std::pow(h[k], order);
    const auto found = sim::fe::extrapolate(h, value);
    REQUIRE(found);
    CHECK_THAT(found->order, WithinRel(order, 1e-8));
    CHECK_THAT(found->limit, WithinRel(5.0, 1e-8));
}

TEST_CASE("figures that do not close in have no order", "[sim][tissue]") {
    const std::array<double, 3> h{4.0, 3.0, 2.5};
    CHECK_FALSE(sim::fe::extrapolate(h, {1.0, 1.1, 1.05}));  // back again
    CHECK_FALSE(sim::fe::extrapolate(h, {1.0, 1.1, 1.3}));   // further apart
    CHECK_FALSE(sim::fe::extrapolate(h, {1.0, 1.0, 1.0}));
}

TEST_CASE("a mesh's figures are those of its tissue without strings", "[sim][tissue]") {
    const auto parameters = support::few_strings(sim::fe::Laxity::lax);
    const auto figures = mesh_figures(*support::tissue_head(), support::coarse_chart(), parameters);
    auto& body = support::shared_coarse_body();
    CHECK(figures.unknowns == body.mesh().cells.unknowns());
    const Eigen::VectorXd lying = body.gravity_skin_m(sim::fe::lying_down());
    double peak = 0.0;
    for (Eigen::Index c = 0; c < lying.size() / 3; ++c) peak = std::max(peak, lying.segment<3>(3 * c).norm());
    CHECK_THAT(figures.skin_lying, WithinRel(peak, 1e-9));
    // the barb itself moves more than the skin over it, and the thread's shared newton less than a single barb's
    CHECK(figures.barb_along > figures.skin_along);
    CHECK(figures.skin_thread < figures.skin_along);
    CHECK(figures.skin_thread > 0.0);
}
