#include <catch2/catch.hpp>

#include "sim/scoring/rubric.hpp"
#include "tests/support/recordings.hpp"

using Catch::Matchers::WithinAbs;
using sim::kMm;
using sim::LiftRow;
using sim::Side;
using support::has;
using support::shown;

namespace {

/// A finished pass that left a thread, on a plan that holds 2 mm at the left jowl to be within reach.
sim::Recording with_target() {
    sim::Recording recording = support::recording_with_target(2.0 * kMm);
    sim::TrackRecord track = support::track_of(support::kPlannedMm);
    support::add_barbs(track);
    support::run_track(recording, std::move(track));
    return recording;
}

/// An answer: the plan's chord runs from the origin along +x, so that lift is along -x.
LiftRow row(std::int64_t step, double pull_n, double lift_mm) {
    LiftRow out;
    out.step = step;
    out.thread = 1;
    out.pull_n = pull_n;
    out.hold_n = 2.0;
    out.seated = 40;
    out.moved_m = {{-lift_mm * kMm, 0.0, 0.0}, {}};
    return out;
}

}  // namespace

TEST_CASE("without a target nothing is told of lift", "[sim][scoring][thread]") {
    sim::Recording recording = with_target();
    recording.plan[0].lift.clear();
    recording.lifts = {row(5000, 0.0, 1.8)};
    const auto measured = sim::measure(recording);
    for (const char* name : {"lift_of_target", "dimple", "anchored_seated", "peak_traction", "threads_lost"})
        CHECK_FALSE(has(measured, name));
}

TEST_CASE("lift is what is left when no hand is on it", "[sim][scoring][thread]") {
    sim::Recording recording = with_target();
    recording.lifts = {row(5000, 1.2, 3.0), row(5100, 0.0, 1.5), row(5200, 1.0, 4.0)};
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "lift_of_target"), WithinAbs(75.0, 1e-9));
    CHECK_THAT(shown(measured, "lift_jowl_left"), WithinAbs(1.5, 1e-9));
    CHECK(shown(measured, "peak_traction") == 1.2);
    CHECK_FALSE(has(measured, "side_difference"));  // the right side is not treated
    // tissue under a stroke is not at rest either
    recording.lifts = {row(5000, 0.0, 1.0), row(5100, 0.0, 4.0)};
    recording.lifts[1].stroke_n = 4.0;
    CHECK_THAT(shown(sim::measure(recording), "lift_of_target"), WithinAbs(50.0, 1e-9));
}

TEST_CASE("what nobody sees is not too much lift", "[sim][scoring][thread]") {
    sim::Recording recording = with_target();
    recording.plan[0].lift[0].lift_m = 0.1 * kMm;
    const auto of_target = [&](double lift_mm, int version) {
        recording.lifts = {row(5000, 0.0, lift_mm)};
        recording.scoring_version = version;
        return shown(sim::measure(recording), "lift_of_target");
    };
    CHECK_THAT(of_target(0.134, 2), WithinAbs(134.0, 1e-9));  // an attempt made before keeps its figure
    CHECK_THAT(of_target(0.134, 3), WithinAbs(100.0, 1e-9));
    CHECK_THAT(of_target(0.18, 3), WithinAbs(130.0, 1e-9));
    CHECK_THAT(of_target(0.066, 3), WithinAbs(66.0, 1e-9));  // too little is told from nothing on
    CHECK_THAT(of_target(0.0, 3), WithinAbs(0.0, 1e-9));
}

TEST_CASE("a thread that nobody anchored has lifted nothing", "[sim][scoring][thread]") {
    const auto measured = sim::measure(with_target());
    for (const char* name : {"lift_of_target", "anchored_seated", "anchored_hold", "peak_traction"}) {
        INFO(name);
        CHECK(shown(measured, name) == 0.0);
    }
}

TEST_CASE("the worst thread counts, and the sides by their heights", "[sim][scoring][thread]") {
    sim::Recording recording = with_target();
    sim::PlannedVector right = recording.plan[0];
    right.side = Side::right;
    recording.plan.push_back(right);
    LiftRow one = row(5000, 0.0, 2.0);
    one.moved_m = {{-2.0 * kMm, 0.4 * kMm, 0.0}, {-1.6 * kMm, 0.9 * kMm, 0.0}};
    one.dimple_m = 0.3 * kMm;
    LiftRow two = one;
    two.thread = 2;
    two.seated = 30;
    two.slipped = 6;
    two.folded = 4;
    two.hold_n = 1.1;
    two.dimple_m = 0.7 * kMm;
    recording.lifts = {one, two};
    recording.events.push_back(support::event_of(4000, sim::EventKind::followed_out, 0));
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "anchored_seated"), WithinAbs(75.0, 1e-9));
    CHECK(shown(measured, "anchored_hold") == 1.1);
    CHECK(shown(measured, "slipped_barbs") == 6.0);
    CHECK_THAT(shown(measured, "dimple"), WithinAbs(0.7, 1e-9));
    CHECK_THAT(shown(measured, "lift_of_target"), WithinAbs(80.0, 1e-9));  // the right jowl, farthest from its target
    // -70 + 0.4 against -71.5 + 0.9
    CHECK_THAT(shown(measured, "side_difference"), WithinAbs(1.0, 1e-9));
    CHECK(shown(measured, "threads_lost") == 1.0);
}

TEST_CASE("a thread that is lost where much fluid lies is shown and costs nothing", "[sim][scoring][thread]") {
    sim::Recording recording = with_target();
    recording.lifts = {row(5200, 0.0, 0.1)};
    recording.events.push_back(support::event_of(5000, sim::EventKind::thread_out, 1, {1.0, 0.06, 0.02, 0.0}));
    auto measured = sim::measure(recording);
    CHECK(shown(measured, "threads_lost") == 1.0);
    CHECK_THAT(shown(measured, "lift_of_target"), WithinAbs(5.0, 1e-9));
    CHECK_FALSE(has(measured, "threads_lost_in_fluid"));
    recording.events.back().value[2] = 0.2;
    measured = sim::measure(recording);
    CHECK(shown(measured, "threads_lost") == 0.0);
    CHECK(shown(measured, "threads_lost_in_fluid") == 1.0);
    CHECK_FALSE(has(measured, "lift_of_target"));  // nothing else was to lift this side
}

TEST_CASE("the final shape stands in for small strains where it was found", "[sim][scoring][thread][final]") {
    sim::Recording recording = with_target();
    LiftRow linear = row(5000, 0.0, 1.5), final = row(5100, 0.0, 1.4);
    linear.dimple_m = 0.2 * kMm;
    final.dimple_m = 0.6 * kMm;
    final.shape = sim::LiftShape::final;
    recording.lifts = {row(4900, 1.2, 3.0), linear, final};
    auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "lift_of_target"), WithinAbs(70.0, 1e-9));
    CHECK_THAT(shown(measured, "dimple"), WithinAbs(0.6, 1e-9));
    const auto words = [&] {
        std::string all;
        for (const sim::Finding& finding : measured.findings) all += finding.what + "\n";
        return all;
    };
    CHECK(words().find("no final shape") == std::string::npos);
    // where none was found the row holds the linear values, and the finding says so
    recording.lifts.back() = linear;
    recording.lifts.back().step = 5100;
    recording.lifts.back().shape = sim::LiftShape::no_final_found;
    measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "lift_of_target"), WithinAbs(75.0, 1e-9));
    CHECK(words().find("no final shape") != std::string::npos);
}
