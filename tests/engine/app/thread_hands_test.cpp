#include "engine/app/thread_hands.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <vector>

#include "engine/app/thread_words.hpp"

using app::Input;
using app::ThreadHands;
using sim::EventKind;

namespace {

/// A state with so many threads in the tissue.
sim::State with_threads(int count) {
    sim::State state;
    for (int number = 1; number <= count; ++number) {
        sim::HeldThread thread;
        thread.number = number;
        thread.barbs.resize(4);
        state.threads.push_back(thread);
    }
    return state;
}

std::vector<sim::Command> run(ThreadHands& hands, const Input& input, const sim::State& state, int steps) {
    std::vector<sim::Command> out;
    for (int i = 0; i < steps; ++i)
        for (const sim::Command& command : hands.commands(input, state)) out.push_back(command);
    return out;
}

Input with_key(app::Key key) {
    Input input;
    input.keys_held.insert(key);
    return input;
}

sim::Event event(EventKind kind, std::array<double, 4> value) {
    sim::Event out;
    out.kind = kind;
    out.subject = 1;
    out.value = value;
    return out;
}

}  // namespace

TEST_CASE("a tail is pulled as long as its key is held, up to the force that is wanted", "[app][hands]") {
    const sim::State state = with_threads(1);
    ThreadHands hands;
    const auto pulled = run(hands, with_key(SDLK_r), state, 200);
    REQUIRE_FALSE(pulled.empty());
    for (const sim::Command& command : pulled) {
        CHECK(command.verb == sim::Verb::traction);
        CHECK(command.value[0] == 1);
        CHECK_NOTHROW(sim::validate(command));
    }
    CHECK(std::abs(pulled.back().value[1] - 800) <= 50);  // 1 N in a second, told in steps of 50 mN
    CHECK(pulled.size() <= 17);
    const auto on = run(hands, with_key(SDLK_r), state, 500);
    REQUIRE_FALSE(on.empty());
    CHECK(on.back().value[1] == 1000);  // a gentle pull, and no more
    const auto after = run(hands, {}, state, 10);
    REQUIRE(after.size() == 1);
    CHECK(after[0] == sim::Command{sim::Verb::traction, {1, 0, 0}});

    Input trigger;
    trigger.pad.right_trigger = 0.5;
    const auto softly = run(hands, trigger, state, 500);
    REQUIRE_FALSE(softly.empty());
    CHECK(std::abs(softly.back().value[1] - 500) <= 50);
}

TEST_CASE("a pull by a button stays until it is let go", "[app][hands]") {
    const sim::State state = with_threads(1);
    ThreadHands hands;
    hands.change_pull(1.0);
    hands.turn_pull();
    const auto pulled = run(hands, {}, state, 600);
    REQUIRE_FALSE(pulled.empty());
    CHECK(pulled.back() == sim::Command{sim::Verb::traction, {1, 2000, 0}});
    CHECK(run(hands, {}, state, 100).empty());
    hands.turn_pull();
    CHECK(run(hands, {}, state, 5) == std::vector<sim::Command>{{sim::Verb::traction, {1, 0, 0}}});
    hands.change_pull(100.0);
    CHECK(hands.wanted_n() == ThreadHands::kMostPullN);
}

TEST_CASE("strokes: one a press, from either end, towards the middle or away", "[app][hands]") {
    const sim::State state = with_threads(1);
    ThreadHands hands;
    Input k;
    k.keys_pressed = {SDLK_k};
    hands.pressed(k);
    CHECK(run(hands, {}, state, 20) == std::vector<sim::Command>{{sim::Verb::stroke, {1, 1, 3000}}});
    Input turned;
    turned.keys_pressed = {SDLK_h, SDLK_j};
    hands.pressed(turned);
    CHECK(run(hands, {}, state, 20) == std::vector<sim::Command>{{sim::Verb::stroke, {1, 0, -3000}}});
    Input pad;
    pad.pad.lift = true;
    hands.pressed(pad);
    hands.pressed(pad);  // still held: no second one
    CHECK(run(hands, {}, state, 20).size() == 1);
    hands.change_stroke(100.0);
    CHECK(hands.stroke_n() == ThreadHands::kMostStrokeN);
}

TEST_CASE("hands go to another thread and let the first one go, and leave one that is out", "[app][hands]") {
    sim::State state = with_threads(2);
    ThreadHands hands;
    run(hands, {}, state, 1);
    CHECK(hands.thread() == 2);  // the one that was left last
    hands.turn_pull();
    run(hands, {}, state, 50);
    hands.next(state);
    CHECK(hands.thread() == 1);
    CHECK(run(hands, {}, state, 2) == std::vector<sim::Command>{{sim::Verb::traction, {2, 0, 0}}});
    state.threads[0].out = true;
    run(hands, {}, state, 1);
    CHECK(hands.thread() == 2);
    state.threads[1].out = true;
    hands.stroke(0);
    CHECK(run(hands, with_key(SDLK_r), state, 50).empty());
    CHECK(hands.thread() == 0);
}

TEST_CASE("what is said of a thread follows what was done to it", "[app]") {
    const sim::State state = with_threads(1);
    sim::Recording recording;
    CHECK(app::about_threads(state, recording, true).next.find("Pull gently") == 0);
    recording.events.push_back(event(EventKind::traction, {0.8, 0.002, 0.001, 0}));
    CHECK(app::about_threads(state, recording, true).next.find("J from the entry, K") != std::string::npos);
    recording.events.push_back(event(EventKind::stroked, {3.0, 0, 0.003, 0.001}));
    CHECK(app::about_threads(state, recording, true).next.find("far end too") != std::string::npos);
    CHECK_FALSE(app::anchored(recording));
    recording.events.push_back(event(EventKind::stroked, {3.0, 1, 0.003, 0.001}));
    CHECK(app::anchored(recording));
    CHECK(app::about_threads(state, recording, true).next.find("Enter") != std::string::npos);
    recording.events.push_back(event(EventKind::stroked, {-3.0, 1, -0.003, 0.0}));
    CHECK(app::about_threads(state, recording, true).mark == app::Mark::caution);
    recording.events.push_back(event(EventKind::thread_out, {6.0, 0.05, 0, 0}));
    CHECK(app::about_threads(state, recording, true).next.find("Count it whole") == 0);
    // graded work is told nothing
    const app::Sentence silent = app::about_threads(state, recording, false);
    CHECK(silent.is.find(" N") == std::string::npos);
    CHECK(silent.mark == app::Mark::neutral);
}
