#include "engine/session/attempt_follower.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <fstream>
#include <sstream>
#include <thread>

#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "tests/support/scratch.hpp"

/// An attempt looked on at while it is made, compared with the same attempt looked at once it is finished.

using Catch::Matchers::Contains;

namespace {

/// A pass of a capable script, whole, as its file has it.
std::string made(const session::Prepared& prepared, const std::string& scenario, const std::string& path) {
    const auto disk = std::make_shared<session::AttemptRecorder>(
        files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::graded), files::new_key_pair()));
    session::Session live(prepared.model, {sim::PracticeMode::graded, disk, nullptr});
    const files::Script script = files::load_script(files::find_script(scenario + ".capable"));
    session::play_commands(live, script.commands, script.steps + 1);
    REQUIRE(live.finished());
    std::ostringstream bytes;
    bytes << std::ifstream(path, std::ios::binary).rdbuf();
    return bytes.str();
}

void check_same(const sim::State& is, const sim::State& was) {
    CHECK(session::checkpoint_of(is) == session::checkpoint_of(was));
    CHECK(is.hands.instrument == was.hands.instrument);
    CHECK(is.next_key == was.next_key);
    CHECK(is.threads.size() == was.threads.size());
    CHECK(is.visit.passed_s == was.visit.passed_s);
    REQUIRE(is.shaft_m.size() == was.shaft_m.size());
    for (std::size_t i = 0; i < is.shaft_m.size(); ++i) CHECK(is.shaft_m[i] == was.shaft_m[i]);
}

template <typename Reached>
bool wait_for(Reached reached) {
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(20);
    while (!reached()) {
        if (std::chrono::steady_clock::now() > until) return false;
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    return true;
}

}  // namespace

TEST_CASE("an attempt that is followed piece by piece comes to the state of its finished file",
          "[session][replay][follow]") {
    const std::string scenario = GENERATE(as<std::string>(), "hold_the_plane", "treat_or_defer");
    INFO(scenario);
    const support::Scratch scratch;
    const session::Prepared prepared = session::prepare(scenario, std::nullopt, {});
    const std::string bytes = made(prepared, scenario, scratch.path("whole.attempt"));
    const files::LoadedAttempt whole = session::open_attempt(scratch.path("whole.attempt"));
    session::Replay once(prepared.model, session::tape_of(whole), whole.recording);
    once.build();

    // pieces that end in the middle of lines
    const std::string path = scratch.path("growing.attempt");
    std::ofstream out(path, std::ios::binary);
    const std::size_t header = bytes.find('\n') + 1, piece = (bytes.size() - header) / 23 + 1;
    out << bytes.substr(0, header) << std::flush;
    files::AttemptTail tail(path);
    REQUIRE(tail.read_on());
    session::GrownTo from;
    session::Replay growing(prepared.model, session::tape_of(tail.attempt()), tail.attempt().recording);
    static_cast<void>(session::growth_of(tail.attempt(), from));
    for (std::size_t at = header; at < bytes.size(); at += piece) {
        out << bytes.substr(at, piece) << std::flush;
        static_cast<void>(tail.read_all());
        growing.grow(session::growth_of(tail.attempt(), from));
        // somebody looks back in between, and following goes on from where it was
        if (growing.built() > 600) growing.seek(growing.built() / 2);
        while (growing.build_on(100) > 0) {
        }
        CHECK(growing.step() == tail.attempt().recording.steps);
    }
    CHECK(tail.ended());
    CHECK(growing.steps() == once.steps());
    check_same(growing.state(), once.state());
    CHECK(growing.deviation_m() == once.deviation_m());
    CHECK(growing.caveat().empty());
    CHECK(growing.recording().rows.size() == whole.recording.rows.size());
    CHECK(growing.recording().events.size() == whole.recording.events.size());
    CHECK(growing.tracks_closed().size() == once.tracks_closed().size());
    // any moment of it, back and forth
    for (const std::int64_t step : {once.steps() / 3, once.steps() / 5, once.steps(), std::int64_t{1}}) {
        once.seek(step);
        growing.seek(step);
        check_same(growing.state(), once.state());
    }
}

TEST_CASE("building on stops where it is told to, and does nothing at the end", "[session][replay][follow]") {
    const support::Scratch scratch;
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    static_cast<void>(made(prepared, "hold_the_plane", scratch.path("whole.attempt")));
    const files::LoadedAttempt whole = session::open_attempt(scratch.path("whole.attempt"));
    session::Replay replay(prepared.model, session::tape_of(whole), whole.recording);
    CHECK(replay.build_on(130) == 130);
    CHECK(replay.built() == 130);
    CHECK(replay.build_on(0) == 0);
    CHECK(replay.build_on(whole.recording.steps) == whole.recording.steps - 130);
    CHECK(replay.build_on(1) == 0);
    CHECK(replay.step() == whole.recording.steps);
}

TEST_CASE("a follower hands over what comes, and tells when nothing does", "[session][follow]") {
    const support::Scratch scratch;
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const std::string bytes = made(prepared, "hold_the_plane", scratch.path("whole.attempt"));
    const std::string path = scratch.path("growing.attempt");
    const std::size_t half = bytes.find('\n', bytes.size() / 2) + 1;
    std::ofstream out(path, std::ios::binary);
    out << bytes.substr(0, half) << std::flush;
    files::AttemptTail tail(path);
    REQUIRE(tail.read_all());
    session::GrownTo from;
    session::Replay replay(prepared.model, session::tape_of(tail.attempt()), tail.attempt().recording);
    static_cast<void>(session::growth_of(tail.attempt(), from));
    session::AttemptFollower follower(std::move(tail), from);
    CHECK(follower.now().standing == session::Standing::live);
    const auto take = [&] {
        for (const session::Growth& growth : follower.take()) replay.grow(growth);
    };
    // it goes, which is told by name and is no end
    std::filesystem::rename(path, path + ".away");
    CHECK(wait_for([&] { return !follower.now().trouble.empty(); }));
    CHECK_THAT(follower.now().trouble, Contains("growing.attempt"));
    CHECK(follower.now().standing == session::Standing::stopped);
    std::filesystem::rename(path + ".away", path);
    CHECK(wait_for([&] { return follower.now().trouble.empty(); }));
    // nothing is written: it is told after some seconds
    CHECK(wait_for([&] { return follower.now().standing == session::Standing::stopped; }));
    CHECK(follower.now().quiet_s >= session::kQuietS);
    out << bytes.substr(half, 5000) << std::flush;
    CHECK(wait_for([&] { return follower.now().standing == session::Standing::live; }));
    out << bytes.substr(half + 5000) << std::flush;
    CHECK(wait_for([&] { return follower.now().standing == session::Standing::ended; }));
    CHECK(follower.now().finished);
    take();
    const files::LoadedAttempt whole = session::open_attempt(scratch.path("whole.attempt"));
    CHECK(replay.steps() == whole.recording.steps);
    CHECK(replay.recording().events.size() == whole.recording.events.size());
    CHECK(replay.recording().finished);
}
