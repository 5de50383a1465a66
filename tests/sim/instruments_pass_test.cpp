#include <catch2/catch.hpp>
#include <cmath>

#include "sim/instruments/force_parameters.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/instruments/ligament_law.hpp"
#include "sim/instruments/resistance.hpp"
#include "tests/support/play.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::EventKind;
using sim::kMm;
using sim::Verb;

namespace {

/// A shaft that does not bend in tissue that does not give, and a hand so stiff that the tip is where the hand is.
constexpr sim::MechanicsSpec kGeometry{false, false, 1e9};

/// Through the skin and then straight on at this slope.
void rigid_pass(support::Play& play, std::int64_t pitch_mdeg, double mm) {
    support::open_entry(play);
    play.command({Verb::take, {1}});
    play.command({Verb::aim, {0, pitch_mdeg}});
    play.push_mm(mm);
}

sim::Ligament wall_of_fibres(double x_m, double strength_n) {
    sim::Ligament ligament;
    ligament.name = "test ligament";
    ligament.deep_m = {{x_m, -0.02, -0.014}, {x_m, 0.02, -0.014}};
    ligament.superficial_m = {{x_m, -0.02, 0.0}, {x_m, 0.02, 0.0}};
    ligament.half_thickness_m = 1.0 * kMm;
    ligament.strength_n = strength_n;
    ligament.stretch_m = 2.0 * kMm;
    return ligament;
}

}  // namespace

TEST_CASE("a rigid pass lies where geometry puts it", "[sim][instruments]") {
    support::Play play(support::slab_model({}, kGeometry));
    const std::int64_t pitch_mdeg = 5'000;
    rigid_pass(play, pitch_mdeg, 50.0);
    play.push_mm(-60.0);
    play.wait(5);
    REQUIRE(play.tracks.size() == 1);
    const auto& pieces = play.tracks[0].pieces;
    REQUIRE(pieces.size() >= 49);
    const double slope = std::sin(5.0 * sim::kPi / 180.0);
    for (std::size_t i = 0; i < 49; ++i) {
        // middle of millimetre i, along a line that leaves the skin at 5 degrees
        const double wanted_m = (static_cast<double>(i) + 0.5) * kMm * slope;
        CHECK_THAT(pieces[i].deepest_m, WithinAbs(wanted_m, 1e-9));
        CHECK_THAT(pieces[i].shallowest_m, WithinAbs(wanted_m, 1e-9));
    }
    CHECK_FALSE(play.faults.any());
}

TEST_CASE("a rigid pass clears a cylinder by what geometry says", "[sim][instruments]") {
    sim::SlabParameters slab;
    sim::Structure artery;
    artery.name = "artery";
    // parallel to the pass and 8 mm beside it at the pass's own depth at 30 mm: see below
    artery.line = {{{-0.05, 0.008, -5.0 * kMm}, 1.0 * kMm}, {{0.09, 0.008, -5.0 * kMm}, 1.0 * kMm}};
    slab.structures.push_back(artery);
    support::Play play(support::slab_model(slab, kGeometry));
    rigid_pass(play, 0, 1.0);  // into the hole; then the slope that counts
    play.command({Verb::aim, {0, 5'000}});
    play.push_mm(49.0);
    play.push_mm(-60.0);
    play.wait(5);
    REQUIRE(play.tracks.size() == 1);
    const double radius_m = sim::gauge(21).radius_m();
    const double slope = std::sin(5.0 * sim::kPi / 180.0);
    const double fall = 40.0 * kMm * slope - 5.0 * kMm;  // near end of millimetre 40 against the artery's axis
    const double next = 41.0 * kMm * slope - 5.0 * kMm;
    const double drop_m = fall * next < 0 ? 0.0 : std::min(std::abs(fall), std::abs(next));
    const auto& piece = play.tracks[0].pieces[40];
    REQUIRE(piece.clearance.size() == 1);
    CHECK_THAT(piece.clearance[0].distance_m, WithinAbs(std::hypot(8.0 * kMm, drop_m) - 1.0 * kMm - radius_m, 1e-9));
}

TEST_CASE("going to and fro leaves the worst depths as they were", "[sim][instruments]") {
    const auto pass = [](bool to_and_fro) {
        support::Play play(support::slab_model());
        support::open_entry(play);
        play.command({Verb::take, {1}});
        play.command({Verb::aim, {0, 25'000}});
        play.push_mm(20.0);
        if (to_and_fro)
            for (int i = 0; i < 3; ++i) {
                play.push_mm(-6.0);
                play.push_mm(6.0);
            }
        play.push_mm(-30.0);
        play.wait(5);
        return play.tracks.at(0);
    };
    const auto once = pass(false);
    const auto often = pass(true);
    REQUIRE(often.pieces.size() >= once.pieces.size());
    for (std::size_t i = 0; i < once.pieces.size(); ++i) {
        // the tip may end up to a breakaway's width farther; the way made before is the same
        CHECK_THAT(often.pieces[i].deepest_m, WithinAbs(once.pieces[i].deepest_m, 1e-5));
        CHECK_THAT(often.pieces[i].shallowest_m, WithinAbs(once.pieces[i].shallowest_m, 1e-5));
    }
    CHECK(often.re_angles == 0);
}

TEST_CASE("a ligament parts at its strength, and the tip plunges by what the hand had stored", "[sim][instruments]") {
    sim::SlabParameters slab;
    slab.ligaments.push_back(wall_of_fibres(20.0 * kMm, 4.0));
    support::Play play(support::slab_model(slab, {false, false, 1000.0}));
    rigid_pass(play, 10'000, 34.0);
    REQUIRE(play.count(EventKind::ligament_met) == 1);
    REQUIRE(play.count(EventKind::ligament_parted) == 1);
    const sim::Event& parted = *play.last(EventKind::ligament_parted);
    // 4 N is for the 21 G cannula in hand
    CHECK_THAT(parted.value[0], WithinRel(4.0, 1e-9));
    // work: the integral of strength (s / stretch)^1.5 over 2 mm
    CHECK_THAT(parted.value[1], WithinRel(4.0 * 2.0e-3 / 2.5, 1e-9));
    // what the ligament held, 4 N, lets the hand's spring of 1000 N/m go on by 4 mm; found at the end of a 0.05 mm
    // stride
    CHECK_THAT(parted.value[2], WithinAbs(4.0 * kMm, 0.06 * kMm));
    // (the first burst is the skin's: at 10 degrees the pilot's hole is shorter than the way through it)
    REQUIRE(play.last(EventKind::plunge) != nullptr);
    CHECK_THAT(play.last(EventKind::plunge)->value[0], WithinAbs(4.0 * kMm, 0.3 * kMm));
    CHECK(play.count(EventKind::resistance_doubled) >= 1);
}

TEST_CASE("stopping at a ligament and drawing back is noted, with its peak", "[sim][instruments]") {
    sim::SlabParameters slab;
    slab.ligaments.push_back(wall_of_fibres(20.0 * kMm, 4.0));
    support::Play play(support::slab_model(slab, {false, false, 1000.0}));
    rigid_pass(play, 10'000, 23.0);
    REQUIRE(play.count(EventKind::ligament_met) == 1);
    CHECK(play.count(EventKind::ligament_parted) == 0);
    play.push_mm(-6.0);
    REQUIRE(play.count(EventKind::ligament_stopped) == 1);
    const double peak_n = play.last(EventKind::ligament_stopped)->value[0];
    CHECK(peak_n > 0.5);
    CHECK(peak_n < 4.0);
}

TEST_CASE("an artery's wall gives at the published force of the gauge", "[sim][instruments]") {
    // a 22 G cannula straight at a 2 mm artery across its way: 1.50 N, Pavicic 2019
    sim::SlabParameters slab;
    sim::Structure artery;
    artery.name = "facial artery";
    artery.kind = sim::StructureKind::artery;
    const double x_m = 20.0 * kMm;
    const double z_m = -x_m * std::tan(10.0 * sim::kPi / 180.0);
    artery.line = {{{x_m, -0.02, z_m}, 1.0 * kMm}, {{x_m, 0.02, z_m}, 1.0 * kMm}};
    slab.structures.push_back(artery);
    sim::Model model = support::slab_model(slab, {false, false, 1000.0});
    model.scenario.tray[1].gauge = 22;
    support::Play play(model);
    rigid_pass(play, 10'000, 30.0);
    CHECK(play.count(EventKind::wall_touched) == 1);
    REQUIRE(play.count(EventKind::wall_breached) == 1);
    CHECK_THAT(play.last(EventKind::wall_breached)->value[0], WithinRel(1.50, 1e-9));
}

TEST_CASE("bone stops the tip and says so; the lining of the mouth is breached", "[sim][instruments]") {
    const auto floor = GENERATE(sim::FloorKind::bone, sim::FloorKind::lining);
    sim::SlabParameters slab;
    slab.floor = floor;
    support::Play play(support::slab_model(slab, {false, false, 1000.0}));
    rigid_pass(play, 60'000, 30.0);
    CHECK(play.count(EventKind::floor_touched) == 1);
    CHECK(play.count(EventKind::lining_breached) == (floor == sim::FloorKind::lining ? 1 : 0));
    if (floor == sim::FloorKind::bone) CHECK(-play.state.tip_m.z < 15.5 * kMm);
}

TEST_CASE("a loaded cannula drawn back and turned leaves its thread where the tissue holds it", "[sim][instruments]") {
    support::Play play(support::slab_model());
    support::open_entry(play);
    play.command({Verb::take, {2}});
    play.command({Verb::aim, {0, 25'000}});
    play.push_mm(20.0);
    const sim::Vec3 far_m = play.state.track->end_m;
    play.push_mm(-8.0);
    play.command({Verb::aim, {15'000, 15'000}});
    play.push_mm(10.0);
    REQUIRE(play.count(EventKind::re_angled) == 1);
    REQUIRE(play.count(EventKind::thread_left) == 1);
    CHECK(play.last(EventKind::thread_left)->value[0] == 0.0);
    // the way with the thread is closed as it lies; the empty cannula is still in, on a way of its own
    REQUIRE(play.tracks.size() == 1);
    const sim::TrackRecord way = play.tracks[0];
    CHECK(way.final);
    CHECK(way.loaded);
    CHECK_FALSE(way.barbs.empty());
    CHECK(way.re_angles == 0);
    CHECK(way.pieces.size() == static_cast<std::size_t>(way.length_m / kMm));
    CHECK(way.pieces.size() >= 19);
    CHECK(glm::length(way.end_m - far_m) < 1e-8);
    REQUIRE(play.state.threads.size() == 1);
    CHECK(play.state.threads[0].track == way.track);
    CHECK(play.state.track->index == way.track + 1);
    CHECK(play.count(EventKind::track_opened) == 2);
    CHECK(play.rows.back().track == way.track + 1);
    play.push_mm(-40.0);
    play.wait(5);
    REQUIRE(play.tracks.size() == 2);
    const sim::TrackRecord& empty = play.tracks[1];
    CHECK_FALSE(empty.loaded);
    CHECK_FALSE(empty.final);
    CHECK(empty.barbs.empty());
    CHECK(empty.re_angles == 1);
    REQUIRE(empty.pieces.size() > 20);
    for (std::size_t i = 0; i < 12; ++i) CHECK(empty.pieces[i].middle_m == way.pieces[i].middle_m);
    CHECK(glm::length(empty.pieces[18].middle_m - way.pieces[18].middle_m) > 1.0 * kMm);
    CHECK(play.state.threads.size() == 1);
}

TEST_CASE("a loaded cannula withdrawn straight leaves its barbs in the layers they lie in", "[sim][instruments]") {
    support::Play play(support::slab_model());
    support::open_entry(play);
    play.command({Verb::take, {2}});
    play.command({Verb::aim, {0, 25'000}});
    play.push_mm(8.0);
    play.command({Verb::aim, {0, 0}});
    play.push_mm(30.0);
    play.push_mm(-50.0);
    play.wait(5);
    REQUIRE(play.tracks.size() == 1);
    const auto& barbs = play.tracks[0].barbs;
    // about 37 mm of track, 8 mm of it free of barbs, one each 1.5 mm
    CHECK(barbs.size() >= 17);
    CHECK(barbs.front().direction == 1);
    CHECK(barbs.back().direction == -1);
    for (const auto& barb : barbs) CHECK(barb.seated == (barb.capacity_n > 0.0));
}

TEST_CASE("the lifted tip tents the skin narrow and high when shallow, broad and low when deep", "[sim][instruments]") {
    const auto tent = [](double mm) {
        support::Play play(support::slab_model());
        support::open_entry(play);
        play.command({Verb::take, {1}});
        play.command({Verb::aim, {0, 30'000}});
        play.push_mm(mm);
        play.wait(40);
        play.command({Verb::lift, {500}});
        REQUIRE(play.count(EventKind::tip_lifted) == 1);
        return play.last(EventKind::tip_lifted)->value;
    };
    const auto shallow = tent(6.0);
    const auto deep = tent(11.0);
    CHECK(shallow[0] > deep[0]);
    CHECK(shallow[1] < deep[1]);
}
