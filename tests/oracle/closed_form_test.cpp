#include "sim/tissue/closed_form.hpp"

#include <catch2/catch.hpp>

#include "sim/request.hpp"

using Catch::Matchers::WithinRel;
using sim::kMm;

namespace {

// 0.1 N, E 20 kPa, nu 0.45
constexpr double kPoisson = 0.45;
constexpr double kShearPa = 20e3 / (2.0 * 1.45);

}  // namespace

TEST_CASE("Boussinesq's half-space: values worked out by hand", "[oracle][tissue]") {
    // u_z = P / (4 pi G R) [2 (1 - nu) + z^2 / R^2] at 5 mm along and below the surface
    CHECK_THAT(sim::boussinesq_normal(0.1, kShearPa, kPoisson, 0.0, 5 * kMm) / kMm, WithinRel(0.25385, 1e-4));
    CHECK_THAT(sim::boussinesq_normal(0.1, kShearPa, kPoisson, 5 * kMm, 0.0) / kMm, WithinRel(0.48463, 1e-4));
}

TEST_CASE("Kelvin's infinite body: values worked out by hand", "[oracle][tissue]") {
    CHECK_THAT(sim::kelvin_along(0.1, kShearPa, kPoisson, 5 * kMm, 0.0) / kMm, WithinRel(0.23077, 1e-4));
    CHECK_THAT(sim::kelvin_along(0.1, kShearPa, kPoisson, 0.0, 5 * kMm) / kMm, WithinRel(0.12588, 1e-4));
    CHECK(sim::kelvin_across(0.1, kShearPa, kPoisson, 0.0, 5 * kMm) == 0.0);
}

TEST_CASE("Mindlin's buried load becomes Boussinesq's at the surface and Kelvin's far below", "[oracle][tissue]") {
    // Mindlin 1936, Physics 7:195: both limits, and the reciprocal theorem between surface and depth
    const double z = 3 * kMm;
    const double r = 2 * kMm;
    CHECK_THAT(sim::mindlin_normal(0.1, kShearPa, kPoisson, 0.0, z, r),
               WithinRel(sim::boussinesq_normal(0.1, kShearPa, kPoisson, z, r), 1e-12));
    CHECK_THAT(sim::mindlin_normal(0.1, kShearPa, kPoisson, 100.0, 100.0 + z, r),
               WithinRel(sim::kelvin_along(0.1, kShearPa, kPoisson, z, r), 1e-4));
    CHECK_THAT(sim::mindlin_normal(0.1, kShearPa, kPoisson, 4 * kMm, 0.0, r),
               WithinRel(sim::boussinesq_normal(0.1, kShearPa, kPoisson, 4 * kMm, r), 1e-12));
    CHECK_THAT(sim::mindlin_normal(0.1, kShearPa, kPoisson, 4 * kMm, z, r),
               WithinRel(sim::mindlin_normal(0.1, kShearPa, kPoisson, z, 4 * kMm, r), 1e-12));
}

TEST_CASE("an answer outside the trusted range is refused", "[sim][tissue]") {
    sim::Request request;
    request.depth_m = 4 * kMm;
    request.shaft_radius_m = 0.4 * kMm;
    request.bottom_m = {1.5 * kMm, 6 * kMm, 7 * kMm, 10 * kMm, 15 * kMm};
    const sim::Answer answer = sim::answer(request);
    CHECK(answer.normal_stiffness_pa > 1e3);
    CHECK(answer.normal_stiffness_pa < 1e5);
    CHECK(answer == sim::answer(request));  // pure: same bits
    request.depth_m = GENERATE(-0.1, 0.3, std::numeric_limits<double>::quiet_NaN());
    CHECK_THROWS(sim::answer(request));
}
