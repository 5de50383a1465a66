#include "engine/app/other_hand.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <catch2/catch.hpp>
#include <vector>

#include "tests/support/play.hpp"

using app::Input;
using app::OtherHand;
using Catch::Matchers::Contains;
using sim::EventKind;
using sim::Grip;
using sim::kMm;

namespace {

/// Steps in which the state does what it is told.
std::vector<sim::Command> run(OtherHand& hand, const Input& input, sim::State& state, int steps) {
    std::vector<sim::Command> out;
    for (int i = 0; i < steps; ++i)
        for (const sim::Command& command : hand.commands(input, state)) {
            out.push_back(command);
            if (command.verb == sim::Verb::grip) state.hand.force_n = 1e-3 * static_cast<double>(command.value[2]);
        }
    return out;
}

Input held(app::Key key) {
    Input input;
    input.keys_held.insert(key);
    return input;
}

Input pressed(app::Key key) {
    Input input;
    input.keys_pressed.push_back(key);
    return input;
}

sim::State placed() {
    sim::State state;
    state.hand.placed = true;
    return state;
}

}  // namespace

TEST_CASE("a hand is laid by place after place, and does nothing before it lies", "[app][hands]") {
    const sim::Model model = support::slab_model();
    OtherHand hand;
    sim::State state;
    CHECK(run(hand, held(SDLK_z), state, 50).empty());
    hand.pressed(pressed(SDLK_m), model, state);
    const auto laid = run(hand, {}, state, 5);
    REQUIRE(laid.size() == 1);
    CHECK(laid[0] == sim::Command{sim::Verb::touch, {60'000, 0, 0}});  // over the far end of the plan first
    hand.pressed(pressed(SDLK_m), model, state);
    CHECK(run(hand, {}, state, 5).at(0) == sim::Command{sim::Verb::touch, {30'000, 0, 0}});
    state.inserted_m = 20.0 * kMm;
    state.tip_m = {0.02, 0.001, -0.004};
    CHECK(OtherHand::places_of(model, state).front() == state.tip_m);
    for (const auto& command : laid) CHECK_NOTHROW(sim::validate(command));
}

TEST_CASE("a grip grows to its force while its key is held, and is gone when it is let go", "[app][hands]") {
    OtherHand hand;
    sim::State state = placed();
    const auto gripped = run(hand, held(SDLK_z), state, 200);
    REQUIRE(gripped.size() >= 3);
    std::int64_t last = 0;
    for (const sim::Command& command : gripped) {
        CHECK(command.verb == sim::Verb::grip);
        CHECK(command.value[0] == static_cast<std::int64_t>(Grip::push));
        CHECK(command.value[1] == 180'000);
        CHECK(command.value[2] > last);
        last = command.value[2];
        CHECK_NOTHROW(sim::validate(command));
    }
    CHECK(last == 1000);
    // another grip while it acts is told at once
    hand.pressed(pressed(SDLK_l), support::slab_model(), state);
    const auto other = run(hand, held(SDLK_z), state, 1);
    REQUIRE(other.size() == 1);
    CHECK(other[0].value[0] == static_cast<std::int64_t>(Grip::draw_tight));
    const auto let_go = run(hand, {}, state, 10);
    REQUIRE(let_go.size() == 1);
    CHECK(let_go[0].value[2] == 0);
    CHECK_FALSE(hand.busy({}));
    hand.change_force(100.0);
    CHECK(hand.wanted_n() == OtherHand::kMostN);
    for (int i = 0; i < 8; ++i) hand.turn();
    CHECK(hand.turn_mdeg() == 0);
}

TEST_CASE("a hand whose hold gave way does not go on by itself", "[app][hands]") {
    OtherHand hand;
    sim::State state = placed();
    hand.turn_acting();
    REQUIRE_FALSE(run(hand, {}, state, 100).empty());
    state.hand.force_n = 0.0;
    run(hand, {}, state, 1);
    CHECK_FALSE(hand.keeps_acting());
    CHECK(run(hand, {}, state, 50).empty());
}

TEST_CASE("words of the other hand tell what came along, and nothing in millimetres where that is not told",
          "[app][hands]") {
    sim::State state = placed();
    sim::Recording recording;
    const std::vector<sim::Concern> concerns{{"jowl", sim::Side::left, {}}, {"jowl", sim::Side::right, {}}};
    CHECK_FALSE(app::about_hand(state, recording, concerns, true));
    state.hand.at.position_m = {0.04, 0, 0};
    state.hand.settled_n = 2.0;
    state.hand.skin_moved_m = 7.3 * kMm;
    state.hand.grip = Grip::push;
    state.concerns_moved_m = {{0, 5.7 * kMm, 0}, {0, 1.0 * kMm, 0}};
    const auto told = app::about_hand(state, recording, concerns, true);
    REQUIRE(told);
    CHECK(told->is == "Push, 2.0 N: the skin there has moved 7.3 mm; jowl 5.7 mm.");
    const auto graded = app::about_hand(state, recording, concerns, false);
    REQUIRE(graded);
    CHECK_THAT(graded->is + graded->next, !Contains("mm"));
    sim::Event slipped;
    slipped.step = 100;
    slipped.kind = EventKind::hand_slipped;
    slipped.value = {0.2, 0.3, 0, 0};
    recording.events = {slipped};
    state.step = 200;
    CHECK_THAT(app::about_hand(state, recording, concerns, true)->is, Contains("slipped"));
    state.step = 5000;
    CHECK_THAT(app::about_hand(state, recording, concerns, true)->is, Contains("Push"));
}
