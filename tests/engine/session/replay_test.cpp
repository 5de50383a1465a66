#include "engine/session/replay.hpp"

#include <catch2/catch.hpp>
#include <fstream>

#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/core/random.hpp"
#include "tests/support/scratch.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

/// A pass of the capable script in flat tissue, kept both in memory and in a file.
struct Made {
    explicit Made(const std::string& path)
        : prepared(session::prepare("hold_the_plane", std::nullopt, {})),
          disk(std::make_shared<session::AttemptRecorder>(files::AttemptWriter(
              path, session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()))),
          tape(std::make_shared<session::TapeRecorder>(disk)),
          live(prepared.model, {sim::PracticeMode::solo, tape, nullptr}) {
        const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
        session::play_commands(live, script.commands, script.steps + 1);
    }
    session::Prepared prepared;
    std::shared_ptr<session::AttemptRecorder> disk;
    std::shared_ptr<session::TapeRecorder> tape;
    session::Session live;
};

/// What a picture hangs on.
void check_same(const sim::State& is, const sim::State& was) {
    CHECK(session::checkpoint_of(is) == session::checkpoint_of(was));
    CHECK(is.hands.instrument == was.hands.instrument);
    REQUIRE(is.shaft_m.size() == was.shaft_m.size());
    for (std::size_t i = 0; i < is.shaft_m.size(); ++i) CHECK(is.shaft_m[i] == was.shaft_m[i]);
    CHECK(is.tent_m == was.tent_m);
}

}  // namespace

TEST_CASE("a replay stands at any moment as the attempt stood", "[session][replay]") {
    const support::Scratch scratch;
    Made made(scratch.path("one.attempt"));
    REQUIRE(made.live.finished());
    const std::int64_t steps = made.live.state().step;

    session::Replay from_memory(made.prepared.model, made.tape->tape(), made.live.recording());
    session::Replay from_file(made.prepared.model, session::tape_of(session::open_attempt(scratch.path("one.attempt"))),
                              made.live.recording());
    from_file.build();
    CHECK(from_file.steps() == steps);
    // rows are kept to a micrometre
    CHECK_THAT(from_file.deviation_m(), WithinAbs(0.0, 1e-6));
    CHECK(from_file.caveat().empty());

    // forwards, backwards, by one step, to the ends and beyond
    sim::Random random(3);
    std::vector<std::int64_t> wanted{0, steps, 700, 701, 700, 699, steps + 999, -5, 500, 499, 501};
    for (int i = 0; i < 12; ++i)
        wanted.push_back(static_cast<std::int64_t>(random.next() % static_cast<std::uint64_t>(steps)));
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    for (const std::int64_t step : wanted) {
        INFO("step " << step);
        const std::int64_t at = std::clamp<std::int64_t>(step, 0, steps);
        session::Session again(made.prepared.model, {sim::PracticeMode::solo, nullptr, nullptr});
        session::play_commands(again, script.commands, at);
        from_memory.seek(step);
        from_file.seek(step);
        CHECK(from_memory.step() == at);
        check_same(from_memory.state(), again.state());
        check_same(from_file.state(), again.state());
        CHECK(from_memory.tracks_closed().size() == again.recording().tracks.size());
    }
}

TEST_CASE("moments and distances of a replay agree with the record", "[session][replay]") {
    const support::Scratch scratch;
    Made made(scratch.path("one.attempt"));
    session::Replay replay(made.prepared.model, made.tape->tape(), made.live.recording());
    for (const double along_mm : {1.0, 12.5, 31.7, 55.0}) {
        const std::int64_t step = session::step_at_distance(made.live.recording(), 0, along_mm * sim::kMm);
        replay.seek(step);
        // rows lie a quarter of a millimetre apart
        CHECK_THAT(replay.state().inserted_m / sim::kMm, WithinAbs(along_mm, 0.25));
        CHECK(session::track_at(made.live.recording(), step) == 0);
    }
    CHECK(session::step_at_distance(made.live.recording(), 7, 0.01) == 0);
    CHECK(session::track_at({}, 10) == -1);
}

TEST_CASE("a record that is cut off replays as far as it goes; answers that it lacks are worked out",
          "[session][replay]") {
    const support::Scratch scratch;
    Made made(scratch.path("one.attempt"));
    files::LoadedAttempt stored = session::open_attempt(scratch.path("one.attempt"));
    REQUIRE(stored.answers.size() > 4);
    stored.answers.resize(stored.answers.size() - 3);
    session::Replay replay(made.prepared.model, session::tape_of(stored), stored.recording);
    replay.build();
    CHECK_THAT(replay.caveat(), Contains("lacks 3 answers"));
    CHECK_THAT(replay.deviation_m(), WithinAbs(0.0, 1e-6));
}

TEST_CASE("a replay of other commands says that it is not what was recorded", "[session][replay]") {
    const support::Scratch scratch;
    Made made(scratch.path("one.attempt"));
    files::LoadedAttempt stored = session::open_attempt(scratch.path("one.attempt"));
    for (files::TimedCommand& timed : stored.commands)
        if (timed.command.verb == sim::Verb::aim) timed.command.value[1] += 2000;
    session::Replay replay(made.prepared.model, session::tape_of(stored), stored.recording);
    replay.build();
    CHECK(replay.deviation_m() > 0.05 * sim::kMm);
    CHECK_THAT(replay.caveat(), Contains("another build"));
}

TEST_CASE("a file that is no intact record is refused with words", "[session][replay]") {
    const support::Scratch scratch;
    CHECK_THROWS_WITH(session::open_attempt(scratch.path("none.attempt")), Contains("none.attempt"));
    std::ofstream(scratch.path("prose.attempt")) << "not an attempt\n";
    CHECK_THROWS_WITH(session::open_attempt(scratch.path("prose.attempt")), Contains("prose.attempt"));

    const std::string path = scratch.path("one.attempt");
    Made made(path);
    std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
    std::string text((std::istreambuf_iterator<char>(file)), {});
    const auto place = text.find("push", text.size() / 2);
    const auto digit = text.find_first_of("123456789", place == std::string::npos ? text.size() / 2 : place);
    text[digit] = text[digit] == '9' ? '8' : static_cast<char>(text[digit] + 1);
    std::ofstream(path, std::ios::binary | std::ios::trunc) << text;
    CHECK_THROWS_WITH(session::open_attempt(path), Contains("line") && Contains("pk verify"));
}
