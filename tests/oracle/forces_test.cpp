#include <catch2/catch.hpp>

#include "sim/instruments/force_parameters.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/instruments/ligament_law.hpp"
#include "sim/instruments/wall_law.hpp"

using Catch::Matchers::WithinAbs;
using sim::ShaftKind;
using sim::TipShape;

TEST_CASE("artery walls give at the published forces", "[oracle][forces]") {
    // Pavicic et al. 2019, Plast Reconstr Surg 143:504e, 294 penetrations in 4 heads
    const auto [tip, gauge, newton] = GENERATE(table<TipShape, int, double>({{TipShape::bevel, 20, 1.12},
                                                                             {TipShape::bevel, 22, 1.08},
                                                                             {TipShape::bevel, 25, 0.69},
                                                                             {TipShape::bevel, 27, 0.70},
                                                                             {TipShape::blunt, 22, 1.50},
                                                                             {TipShape::blunt, 25, 1.04},
                                                                             {TipShape::blunt, 27, 0.78}}));
    const sim::WallForce wall = sim::artery_wall({tip, sim::gauge(gauge).outer_m});
    CHECK_THAT(wall.mean_n, WithinAbs(newton, 1e-9));
    CHECK_FALSE(wall.extrapolated);
}

TEST_CASE("thicker blunt cannulas are extrapolated and say so", "[oracle][forces]") {
    double last_n = 1.50;
    for (const int gauge : {21, 20, 19, 18}) {
        const sim::WallForce wall = sim::artery_wall({TipShape::blunt, sim::gauge(gauge).outer_m});
        CHECK(wall.extrapolated);
        CHECK(wall.mean_n > last_n);
        last_n = wall.mean_n;
    }
}

TEST_CASE("a 21 G cannula needs the published force to part a ligament", "[oracle][forces]") {
    // Hong et al. 2025, Aesthetic Plast Surg: zygomatic 9.16, mandibular 3.64 N
    const double strength_n = GENERATE(9.16, 3.64);
    sim::Ligament ligament;
    ligament.strength_n = strength_n;
    ligament.stretch_m = 2e-3;
    const ShaftKind cannula{TipShape::blunt, sim::gauge(21).outer_m};
    double peak_n = 0.0;
    for (int i = 0; i < 2000; ++i)
        peak_n = std::max(peak_n, sim::ligament_load({}, cannula, ligament, i * 1e-6).force_n);
    CHECK_THAT(peak_n, WithinAbs(strength_n, 0.01 * strength_n));
    CHECK(sim::ligament_load({}, cannula, ligament, 2e-3).parted);
}

TEST_CASE("a pilot needle goes through skin within the working range of its gauge", "[oracle][forces]") {
    // working ranges, from memory: 18 G 2 to 4 N, 21 G 1 to 2.5 N, 25 G 0.5 to 1.5 N
    const auto [gauge, low, high] = GENERATE(table<int, double, double>({{18, 2, 4}, {21, 1, 2.5}, {25, 0.5, 1.5}}));
    const auto force_n = sim::skin_puncture_n({}, {TipShape::bevel, sim::gauge(gauge).outer_m});
    REQUIRE(force_n.has_value());
    CHECK(*force_n > low);
    CHECK(*force_n < high);
    CHECK_FALSE(sim::skin_puncture_n({}, {TipShape::blunt, sim::gauge(gauge).outer_m}).has_value());
}
