#include "engine/app/lesson.hpp"

#include <array>
#include <catch2/catch.hpp>

#include "engine/files/places.hpp"
#include "engine/files/scenario.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/session/session.hpp"

using app::Lesson;

namespace {

sim::Event event(sim::EventKind kind, int subject = -1) {
    sim::Event out;
    out.kind = kind;
    out.subject = subject;
    return out;
}

std::vector<files::LessonStep> three_steps() {
    std::vector<files::LessonStep> steps(3);
    steps[0].event = sim::EventKind::instrument_taken;
    steps[0].subject = 1;
    steps[1].inserted_m = 0.03;
    steps[2].event = sim::EventKind::tip_lifted;
    return steps;
}

}  // namespace

TEST_CASE("a step is done by its own event and subject, one at a time", "[app][lesson]") {
    Lesson lesson(three_steps());
    sim::State state;
    const std::array wrong{event(sim::EventKind::instrument_taken, 0), event(sim::EventKind::tip_lifted)};
    lesson.advance(wrong, state);
    CHECK(lesson.at() == 0);
    const std::array right{event(sim::EventKind::instrument_taken, 1)};
    lesson.advance(right, state);
    CHECK(lesson.at() == 1);
    state.inserted_m = 0.0299;
    lesson.advance({}, state);
    CHECK(lesson.at() == 1);
    state.inserted_m = 0.03;
    lesson.advance({}, state);
    CHECK(lesson.at() == 2);
    const std::array lift{event(sim::EventKind::tip_lifted)};
    lesson.advance(lift, state);
    CHECK(lesson.done());
    lesson.advance(lift, state);
    CHECK(lesson.at() == 3);
}

TEST_CASE("what stands already is not asked for again", "[app][lesson]") {
    Lesson lesson(three_steps());
    sim::State state;
    state.hands.instrument = 1;
    lesson.advance({}, state);
    CHECK(lesson.at() == 1);
}

TEST_CASE("a slope is reached from above or from below", "[app][lesson]") {
    std::vector<files::LessonStep> steps(2);
    steps[0].slope_at_least_rad = 0.5;
    steps[1].slope_at_most_rad = 0.1;
    Lesson lesson(steps);
    sim::State state;
    state.hands.pitch_rad = 0.49;
    lesson.advance({}, state);
    CHECK(lesson.at() == 0);
    state.hands.pitch_rad = 0.5;
    lesson.advance({}, state);
    CHECK(lesson.at() == 1);
    state.hands.pitch_rad = 0.1;
    lesson.advance({}, state);
    CHECK(lesson.done());
}

TEST_CASE("the first lesson is under ten minutes and ends when the pass that it describes is made", "[app][lesson]") {
    const session::Prepared ready = session::prepare("first_pass", std::nullopt, {});
    Lesson lesson(ready.loaded.lesson);
    REQUIRE(lesson.count() >= 5);
    const files::Script script = files::load_script(files::find_script("first_pass.capable"));
    session::Session session(ready.model, {});
    std::size_t next = 0, last_at = 0;
    while (session.state().step < script.steps && !session.finished()) {
        for (; next < script.commands.size() && script.commands[next].step <= session.state().step; ++next)
            session.send(script.commands[next].command);
        REQUIRE(session.advance(1) == 1);
        lesson.advance(session.take_events(), session.state());
        CHECK(lesson.at() >= last_at);
        last_at = lesson.at();
    }
    CHECK(lesson.done());
    CHECK(session.time_s() < 600.0);
}
