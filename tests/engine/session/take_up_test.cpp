#include <algorithm>
#include <catch2/catch.hpp>

#include "engine/files/attempt.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/replay.hpp"
#include "engine/session/resimulate.hpp"
#include "tests/support/scratch.hpp"

/// An attempt that is stopped, and gone on with by another session from its file.

namespace {

using files::TimedCommand;

/// Send what a script says from the session's step up to another, and run so far.
void play_until(session::Session& session, const std::vector<TimedCommand>& commands, std::int64_t until) {
    auto next = std::lower_bound(commands.begin(), commands.end(), session.state().step,
                                 [](const TimedCommand& one, std::int64_t step) { return one.step < step; });
    while (session.state().step < until && !session.finished()) {
        for (; next != commands.end() && next->step == session.state().step; ++next) session.send(next->command);
        REQUIRE(session.advance(1) == 1);
    }
}

std::vector<sim::ThreadAnswer> thread_answers(const files::LoadedAttempt& attempt) {
    std::vector<sim::ThreadAnswer> out;
    for (const files::ThreadAnswerAt& one : attempt.about_threads) out.push_back(one.answer);
    return out;
}

}  // namespace

TEST_CASE("an attempt that was stopped and gone on with is the attempt that was not", "[session][attempt][take_up]") {
    const std::string scenario = GENERATE(as<std::string>(), "hold_the_plane", "treat_or_defer");
    INFO(scenario);
    const support::Scratch scratch;
    const files::KeyPair key = files::new_key_pair();
    const session::Prepared prepared = session::prepare(scenario, std::nullopt, {});
    const files::Script script = files::load_script(files::find_script(scenario + ".capable"));
    const std::int64_t stops_at = script.steps * 6 / 10;  // in the middle of a window
    REQUIRE(stops_at % files::kWindowSteps != 0);
    const auto answers = [] { return std::make_shared<session::InlineAnswers>(); };

    session::Session whole(prepared.model, {sim::PracticeMode::solo, nullptr, answers()});
    play_until(whole, script.commands, script.steps + 1);
    REQUIRE(whole.finished());

    const std::string path = scratch.path("stopped.attempt");
    {
        const auto recorder = std::make_shared<session::AttemptRecorder>(
            files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::solo), key));
        session::Session first(prepared.model, {sim::PracticeMode::solo, recorder, answers()});
        play_until(first, script.commands, stops_at);
        REQUIRE(recorder->park());
    }
    const files::LoadedAttempt before = files::read_attempt(path);
    CHECK(before.report.verdict() == "intact, unfinished");
    CHECK(before.recording.steps == stops_at);
    {
        const auto tape = std::make_shared<session::TapeRecorder>(nullptr);
        session::Session second(prepared.model, {sim::PracticeMode::solo, tape, answers()});
        second.take_up(before.commands, thread_answers(before), before.recording.steps, before.recording);
        CHECK(second.state().step == before.recording.steps);
        tape->hand_on_to(std::make_shared<session::AttemptRecorder>(files::AttemptWriter::resume(path, key)));
        play_until(second, script.commands, script.steps + 1);
        REQUIRE(second.finished());
        CHECK(tape->tape().commands.size() == script.commands.size());
    }
    const files::LoadedAttempt after = files::read_attempt(path);
    CHECK(after.report.verdict() == "intact, finished");
    CHECK(after.resumes == 1);
    CHECK(after.recording.steps == whole.recording().steps);
    CHECK(after.recording.rows.size() == whole.recording().rows.size());
    REQUIRE(after.recording.events.size() == whole.recording().events.size());
    for (std::size_t i = 0; i < after.recording.events.size(); ++i) {
        CHECK(after.recording.events[i].step == whole.recording().events[i].step);
        CHECK(after.recording.events[i].kind == whole.recording().events[i].kind);
    }
    const sim::Score gone_on = sim::score(after.recording, prepared.rubric.rubric);
    const sim::Score at_once = sim::score(whole.recording(), prepared.rubric.rubric);
    CHECK(gone_on.verdict == at_once.verdict);
    CHECK(std::abs(gone_on.total_points - at_once.total_points) < 1e-6);
}

TEST_CASE("what comes out otherwise than it was recorded is not gone on with", "[session][attempt][take_up]") {
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    session::Session first(prepared.model, {sim::PracticeMode::solo, nullptr, nullptr});
    play_until(first, script.commands, 2000);
    sim::Recording other = first.recording();
    REQUIRE_FALSE(other.rows.empty());
    other.rows.back().tip_m.x += 0.1 * sim::kMm;
    session::Session second(prepared.model, {sim::PracticeMode::solo, nullptr, nullptr});
    CHECK_THROWS_WITH(second.take_up(script.commands, {}, 2000, other), Catch::Matchers::Contains("another build"));
    other = first.recording();
    other.events.pop_back();
    session::Session third(prepared.model, {sim::PracticeMode::solo, nullptr, nullptr});
    CHECK_THROWS_WITH(third.take_up(script.commands, {}, 2000, other), Catch::Matchers::Contains("another build"));
}
