#include <catch2/catch.hpp>

#include "sim/scoring/rubric.hpp"
#include "tests/support/recordings.hpp"

using Catch::Matchers::WithinAbs;
using sim::Event;
using sim::EventKind;
using sim::Grip;
using sim::kMm;
using sim::kPi;
using sim::Vec3;
using support::has;
using support::shown;

namespace {

/// A finished pass on a plan along +x that holds lift to be within reach; its pilot went in at step 1000.
sim::Recording with_target() {
    sim::Recording recording = support::recording_with_target(2.0 * kMm);
    Event in;
    in.step = 1000;
    in.kind = EventKind::skin_punctured;
    recording.events = {in};
    return recording;
}

Event settled(std::int64_t step, Grip grip, double force_n, double turn_rad, const Vec3& place_m) {
    Event out;
    out.step = step;
    out.kind = EventKind::hand_settled;
    out.subject = static_cast<int>(grip);
    out.place_m = place_m;
    out.value = {force_n, 0.002, turn_rad, 0.0};
    return out;
}

Event event(EventKind kind, std::array<double, 4> value) {
    Event out;
    out.step = 2000;
    out.kind = kind;
    out.value = value;
    return out;
}

double tested(const Event& before) {
    sim::Recording recording = with_target();
    recording.events.insert(recording.events.begin(), before);
    return shown(sim::measure(recording), "vectors_shift_tested");
}

}  // namespace

TEST_CASE("a skin-shift test counts along its vector and before the first entry", "[sim][scoring][hand]") {
    const Vec3 on_vector(40.0 * kMm, 0, 0);
    CHECK(tested(settled(500, Grip::push, 1.0, kPi, on_vector)) == 100.0);
    CHECK(tested(settled(500, Grip::push, 1.0, -kPi + 0.3, on_vector)) == 100.0);
    CHECK(tested(settled(500, Grip::push, 1.0, 0.0, on_vector)) == 0.0);  // away from the entry
    CHECK(tested(settled(500, Grip::push, 1.0, 0.5 * kPi, on_vector)) == 0.0);
    CHECK(tested(settled(500, Grip::push, 0.1, kPi, on_vector)) == 0.0);  // a touch
    CHECK(tested(settled(500, Grip::pinch, 1.0, kPi, on_vector)) == 0.0);
    CHECK(tested(settled(500, Grip::push, 1.0, kPi, on_vector + Vec3(0, 30.0 * kMm, 0))) == 0.0);
    sim::Recording late = with_target();
    late.events.push_back(settled(1500, Grip::push, 1.0, kPi, on_vector));
    CHECK(shown(sim::measure(late), "vectors_shift_tested") == 0.0);
    late.plan[0].lift.clear();
    CHECK_FALSE(has(sim::measure(late), "vectors_shift_tested"));
}

TEST_CASE("a finger over the far end and a counter-hold count by the pull and the thread", "[sim][scoring][hand]") {
    sim::Recording recording = with_target();
    CHECK_FALSE(has(sim::measure(recording), "far_ends_pressed"));  // nothing was left, nothing pulled
    CHECK_FALSE(has(sim::measure(recording), "pulls_held"));
    recording.events.push_back(event(EventKind::thread_left, {1.0, 0.8, 0, 0}));
    recording.events.push_back(event(EventKind::thread_left, {1.0, 0.1, 0, 0}));
    recording.events.push_back(event(EventKind::thread_left, {0.0, 0.0, 0, 0}));  // left behind by re-angling
    recording.events.push_back(event(EventKind::traction, {1.0, 0, 0, 1.0}));
    recording.events.push_back(event(EventKind::traction, {1.0, 0, 0, 0.0}));
    recording.events.push_back(event(EventKind::traction, {1.0, 0, 0, 0.5}));
    recording.events.push_back(event(EventKind::traction, {0.0, 0, 0, 0.0}));  // let go
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "far_ends_pressed"), WithinAbs(50.0, 1e-9));
    CHECK_THAT(shown(measured, "pulls_held"), WithinAbs(200.0 / 3.0, 1e-9));
}

TEST_CASE("lift under the other hand does not count", "[sim][scoring][hand]") {
    sim::Recording recording = with_target();
    sim::LiftRow rest, helped, alone;
    rest.step = 2000;
    rest.thread = helped.thread = 1;
    rest.seated = helped.seated = 10;
    rest.moved_m = {{-1.0 * kMm, 0, 0}};
    helped.step = 2100;
    helped.hand_n = 2.0;
    helped.moved_m = {{-2.0 * kMm, 0, 0}};
    recording.lifts = {rest, helped};
    CHECK_THAT(shown(sim::measure(recording), "lift_of_target"), WithinAbs(50.0, 1e-9));
    alone.step = 2200;
    alone.moved_m = {{}};
    recording.lifts = {alone};  // a shift test without a thread anchors nothing
    CHECK(shown(sim::measure(recording), "anchored_seated") == 0.0);
    CHECK(shown(sim::measure(recording), "lift_of_target") == 0.0);
}
