#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <thread>

#include "engine/files/attempt.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/core/random.hpp"
#include "tests/support/scratch.hpp"

/// A process that records an attempt is killed in mid-pass, twenty times, at random moments.

namespace {

constexpr int kKills = 20;
constexpr std::int64_t kOneSecondSteps = 250;

/// What the child tells the parent through shared memory: how far it is.
struct Shared {
    std::atomic<std::int64_t> step;
};

/// Play the capable script in real time, recording as the trainer does. Never returns.
[[noreturn]] void play_in_real_time(const std::string& attempt, const files::KeyPair& key, Shared& shared) {
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    const auto recorder = std::make_shared<session::AttemptRecorder>(
        files::AttemptWriter(attempt, session::header_of(prepared, sim::PracticeMode::solo), key));
    session::Session session(prepared.model, {sim::PracticeMode::solo, recorder, nullptr});
    std::size_t next = 0;
    // begin two seconds into the script, so that the kill comes while an instrument is in the skin
    while (!session.finished()) {
        while (next < script.commands.size() && script.commands[next].step == session.state().step)
            session.send(script.commands[next++].command);
        session.advance(1);
        shared.step = session.state().step;
        if (session.state().step > 2 * kOneSecondSteps) std::this_thread::sleep_for(std::chrono::milliseconds(4));
    }
    _exit(0);
}

}  // namespace

TEST_CASE("a killed recorder loses at most its last second, and the attempt reopens", "[session][attempt]") {
    const support::Scratch scratch;
    const files::KeyPair key = files::new_key_pair();
    auto* shared =
        static_cast<Shared*>(mmap(nullptr, sizeof(Shared), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0));
    REQUIRE(shared != MAP_FAILED);
    sim::Random random(7);

    for (int i = 0; i < kKills; ++i) {
        const std::string attempt = scratch.path("killed_" + std::to_string(i) + ".attempt");
        shared->step = 0;
        const pid_t child = fork();
        REQUIRE(child >= 0);
        if (child == 0) play_in_real_time(attempt, key, *shared);

        // wait until it is in the pass, then a random moment more
        while (shared->step < 2 * kOneSecondSteps) std::this_thread::sleep_for(std::chrono::milliseconds(1));
        std::this_thread::sleep_for(std::chrono::microseconds(random.next() % 900'000));
        REQUIRE(kill(child, SIGKILL) == 0);
        int status = 0;
        waitpid(child, &status, 0);
        REQUIRE(WIFSIGNALED(status));
        const std::int64_t reached = shared->step;

        const files::VerifyReport report = files::verify(attempt);
        INFO("kill " << i << " at step " << reached);
        CHECK(report.verdict() == "intact, unfinished");
        const files::LoadedAttempt loaded = files::read_attempt(attempt);
        CHECK(loaded.recording.steps > reached - kOneSecondSteps);
        CHECK_FALSE(loaded.recording.finished);

        // it reopens, goes on and stays intact
        files::AttemptWriter again = files::AttemptWriter::resume(attempt, key);
        CHECK(again.end(loaded.recording.steps, false));
        CHECK(files::verify(attempt).intact());
    }
    munmap(shared, sizeof(Shared));
}

TEST_CASE("a stored attempt scores and recomputes to the same figures", "[session][attempt]") {
    const support::Scratch scratch;
    const std::string path = scratch.path("one.attempt");
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    const auto recorder = std::make_shared<session::AttemptRecorder>(
        files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()));
    session::Session live(prepared.model, {sim::PracticeMode::solo, recorder, std::make_shared<session::Worker>(5)});
    session::play_commands(live, script.commands, script.steps + 1);
    REQUIRE(live.finished());
    REQUIRE(recorder->trouble().empty());

    const files::LoadedAttempt stored = files::read_attempt(path);
    CHECK(stored.report.verdict() == "intact, finished");
    const sim::Score as_played = sim::score(live.recording(), prepared.rubric.rubric);
    const sim::Score as_stored = sim::score(stored.recording, prepared.rubric.rubric);
    CHECK(as_stored.verdict == sim::Verdict::pass);
    CHECK(as_stored.total_points == as_played.total_points);
    REQUIRE(as_stored.measures.size() == as_played.measures.size());
    for (std::size_t i = 0; i < as_stored.measures.size(); ++i)
        CHECK(as_stored.measures[i].measure.value == as_played.measures[i].measure.value);

    for (const std::uint64_t disorder : {0u, 1u, 9u}) {
        const auto again = session::resimulate(stored, session::model_of(stored, {}),
                                               disorder == 0 ? nullptr : std::make_shared<session::Worker>(disorder));
        INFO((again.differences.empty() ? std::string() : again.differences.front()));
        CHECK(again.same_build);
        CHECK(again.same_bits);
        CHECK(again.within_tolerance);
    }
}

TEST_CASE("an attempt may end with a window that has just been written", "[session][attempt]") {
    const support::Scratch scratch;
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    for (const int steps : {64, 129}) {  // kWindowSteps, and between windows
        const std::string path = scratch.path("ends_at_" + std::to_string(steps) + ".attempt");
        const auto recorder = std::make_shared<session::AttemptRecorder>(
            files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()));
        session::Session live(prepared.model, {sim::PracticeMode::solo, recorder, nullptr});
        live.send({sim::Verb::take, {0, 0, 0}});
        REQUIRE(live.advance(steps) == steps);
        CHECK(recorder->close(false));
        const files::LoadedAttempt stored = files::read_attempt(path);
        CHECK(stored.recording.steps == steps);
        CHECK(stored.commands.size() == 1);
    }
}

TEST_CASE("a command that was altered is found by recomputing", "[session][attempt]") {
    const support::Scratch scratch;
    const std::string path = scratch.path("one.attempt");
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    const auto recorder = std::make_shared<session::AttemptRecorder>(
        files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()));
    session::Session live(prepared.model, {sim::PracticeMode::solo, recorder, nullptr});
    session::play_commands(live, script.commands, script.steps + 1);
    files::LoadedAttempt stored = files::read_attempt(path);
    for (files::TimedCommand& timed : stored.commands)
        if (timed.step > 2000 && timed.command.verb == sim::Verb::push) {
            timed.command.value[0] += 40;
            break;
        }
    const auto again = session::resimulate(stored, session::model_of(stored, {}), nullptr);
    CHECK_FALSE(again.same_bits);
    CHECK_FALSE(again.differences.empty());
}

namespace {

/// Whether playing a scenario asks the tissue of a head, which takes half a minute to build: hands on the skin, threads
/// that are worked at.
bool asks_tissue(const sim::Scenario& scenario) {
    const bool works_threads =
        std::any_of(scenario.plan.begin(), scenario.plan.end(),
                    [](const sim::PlannedVector& vector) { return !vector.lift.empty() || vector.take_out; });
    const bool bleeds = scenario.visit && scenario.visit->opening && scenario.visit->opening->bleeding_at_m;
    return works_threads || bleeds;
}

/// @param wanted which scenarios
template <typename Wanted>
void play_shipped_scripts(const Wanted& wanted) {
    int played = 0;
    for (const std::string& name : files::scenario_names()) {
        INFO(name);
        const session::Prepared prepared = session::prepare(name, std::nullopt, {});
        const sim::Scenario& scenario = prepared.model->scenario;
        if (!wanted(scenario)) continue;
        ++played;
        for (const std::string skill : {"capable", "careless"}) {
            INFO(skill);
            const files::Script script = files::load_script(files::find_script(name + "." + skill));
            session::Session session(prepared.model,
                                     {sim::PracticeMode::solo, nullptr, session::inline_answers(prepared)});
            // where threads lie the tissue comes to rest before the end
            constexpr std::int64_t kTailSteps = 2500;
            session::play_commands(session, script.commands, script.steps + kTailSteps);
            REQUIRE(session.finished());
            CHECK_FALSE(session.faults().any());
            const auto unanswered = static_cast<int>(std::count_if(
                session.recording().events.begin(), session.recording().events.end(), [](const sim::Event& event) {
                    return event.kind == sim::EventKind::tissue_trouble &&
                           event.value[0] == static_cast<double>(sim::ThreadTrouble::outside_mesh);
                }));
            // a careless hand may push a thread through the cheek, where no tissue is left to hold it: each question
            // says so
            CHECK(session.faults().threads_unanswered == (skill == "capable" ? 0 : unanswered));
            const sim::Score score = sim::score(session.recording(), prepared.rubric.rubric);
            INFO(score.next_step);
            if (skill == "capable") {
                CHECK(score.verdict == sim::Verdict::pass);
                CHECK(score.critical_faults.empty());
                continue;
            }
            CHECK(score.verdict == sim::Verdict::fail);
            const bool plane_judged =
                scenario.headings.empty() || std::count(scenario.headings.begin(), scenario.headings.end(),
                                                        sim::key_of(sim::Heading::plane_accuracy)) > 0;
            if (!plane_judged) {
                CHECK_FALSE(score.deductions.empty());
                continue;
            }
            // for named reasons: below the SMAS, and a pilot that went too deep
            const auto named = [&](const std::string& measure) {
                return std::any_of(score.deductions.begin(), score.deductions.end(),
                                   [&](const sim::Deduction& d) { return d.measure == measure; });
            };
            CHECK(named("track_in_band"));
            CHECK(named("smas_contact"));
            CHECK(named("pilot_angle"));
            CHECK_FALSE(score.critical_faults.empty());
        }
    }
    CHECK(played > 0);
}

}  // namespace

TEST_CASE("every shipped script does what its name says", "[session][scenario]") {
    play_shipped_scripts([](const sim::Scenario& scenario) { return !asks_tissue(scenario); });
}

// those that ask the tissue in two parts, by patient, for two processes beside each other
namespace {
bool first_part(const sim::Scenario& scenario) {
    return scenario.patient.name == "maren" || scenario.patient.name == "jorun" || scenario.patient.name == "ilva";
}
}  // namespace

TEST_CASE("every shipped script that asks the tissue does what its name says, first part", "[.tissue_scripts_1]") {
    play_shipped_scripts([](const sim::Scenario& one) { return asks_tissue(one) && first_part(one); });
}

TEST_CASE("every shipped script that asks the tissue does what its name says, second part", "[.tissue_scripts_2]") {
    play_shipped_scripts([](const sim::Scenario& one) { return asks_tissue(one) && !first_part(one); });
}
