#include <catch2/catch.hpp>

#include <stdexcept>

#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/replay.hpp"
#include "engine/session/resimulate.hpp"
#include "tests/support/scratch.hpp"

/// A thread that is pulled and stroked after the withdrawal, on the flat patient: from script to record and back.

namespace {

using session::InlineAnswers;

files::Script script_leaving_behind() {
    std::string text = files::load_source(files::find_script("hold_the_plane.capable")).text;
    text = text.substr(0, text.rfind("withdraw all"));
    text +=
        "withdraw 20 mm at 12 mm/s\n"
        "aim yaw 8 pitch 0\n"
        "push 10 mm at 8 mm/s\n"
        "withdraw all at 12 mm/s\nwait 0.5 s\n"
        "traction 0.8 N on 1 for 1 s\nwait 0.5 s\nfinish\n";
    return files::compile_script(text, "left behind");
}

files::Script script_with_anchoring() {
    std::string text;
    const auto bytes = files::load_source(files::find_script("hold_the_plane.capable")).text;
    text = bytes.substr(0, bytes.rfind("finish"));
    text +=
        "traction 0.8 N on 1 for 1 s\n"
        "stroke 4 N toward from far on 1\n"
        "stroke 4 N toward from entry on 1\n"
        "traction 0.5 N on 2\n"  // there is no second
        "wait 0.5 s\nfinish\n";
    return files::compile_script(text, "anchoring");
}

struct Played {
    support::Scratch scratch;
    std::string path = scratch.path("pulled.attempt");
    session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    sim::Recording recording;
    sim::Faults faults;

    explicit Played(std::shared_ptr<session::AnswerSource> answers,
                    const files::Script& script = script_with_anchoring()) {
        const auto recorder = std::make_shared<session::AttemptRecorder>(
            files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()));
        session::Session live(prepared.model, {sim::PracticeMode::solo, recorder, std::move(answers)});
        session::play_commands(live, script.commands, script.steps + 1);
        recording = live.recording();
        faults = live.faults();
        REQUIRE(live.finished());
    }
};

int count(const sim::Recording& recording, sim::EventKind kind) {
    return static_cast<int>(std::count_if(recording.events.begin(), recording.events.end(),
                                          [&](const sim::Event& event) { return event.kind == kind; }));
}

/// Tissue that must not be asked.
session::ThreadTissueMaker nobody() {
    return []() -> std::unique_ptr<sim::ThreadTissue> { throw std::runtime_error("no tissue here"); };
}

}  // namespace

TEST_CASE("an attempt with a thread pulled and stroked is kept, scored and recomputed", "[session][thread]") {
    const Played played(nullptr);
    CHECK(count(played.recording, sim::EventKind::traction) == 2);  // pulled, and let go
    CHECK(count(played.recording, sim::EventKind::stroked) == 2);
    CHECK(count(played.recording, sim::EventKind::thread_refused) == 1);
    REQUIRE(played.recording.lifts.size() == 5);  // pull, twice pushed and let go
    const files::LoadedAttempt stored = files::read_attempt(played.path);
    CHECK(stored.report.verdict() == "intact, finished");
    CHECK(stored.recording.lifts.size() == played.recording.lifts.size());
    CHECK(stored.about_threads.size() == played.recording.lifts.size());
    CHECK(sim::score(stored.recording, played.prepared.rubric.rubric).total_points ==
          sim::score(played.recording, played.prepared.rubric.rubric).total_points);

    // from the recorded answers alone, and all anew
    for (const bool anew : {false, true}) {
        const auto maker = anew ? session::thread_tissue_maker(played.prepared.model, "") : nobody();
        const auto again =
            session::resimulate(stored, session::model_of(stored, {}), std::make_shared<InlineAnswers>(maker), anew);
        INFO((again.differences.empty() ? std::string() : again.differences.front()));
        CHECK(again.same_bits);
    }
    const auto wrong =
        session::resimulate(stored, session::model_of(stored, {}), std::make_shared<InlineAnswers>(nobody()), true);
    CHECK_FALSE(wrong.same_bits);

    session::Replay replay(played.prepared.model, session::tape_of(stored), stored.recording);
    replay.build();
    CHECK(replay.caveat().empty());
    replay.seek(replay.steps() - 2);
    REQUIRE(replay.state().threads.size() == 1);
    CHECK(replay.state().threads.front().count(sim::BarbState::seated) == stored.recording.lifts.back().seated);
}

TEST_CASE("when the answer about a thread comes changes nothing", "[session][thread]") {
    const Played inline_played(nullptr);
    const Played worked(
        std::make_shared<session::Worker>(5, session::thread_tissue_maker(inline_played.prepared.model, "")));
    REQUIRE(worked.recording.lifts.size() == inline_played.recording.lifts.size());
    for (std::size_t i = 0; i < worked.recording.lifts.size(); ++i) {
        CHECK(worked.recording.lifts[i].step == inline_played.recording.lifts[i].step);
        CHECK(worked.recording.lifts[i].tail_out_m == inline_played.recording.lifts[i].tail_out_m);
    }
}

TEST_CASE("tissue that cannot be built is counted and said, and the attempt goes on", "[session][thread]") {
    const auto answers = std::make_shared<InlineAnswers>(nobody());
    const Played played(answers);
    CHECK(played.faults.threads_unanswered > 0);
    CHECK_FALSE(played.faults.any());
    CHECK(played.recording.finished);
    CHECK(played.recording.lifts.empty());
    CHECK(count(played.recording, sim::EventKind::tissue_trouble) == played.faults.threads_unanswered);
    CHECK(answers->about_threads() == "no tissue here");
    const files::LoadedAttempt stored = files::read_attempt(played.path);
    CHECK(stored.report.verdict() == "intact, finished");
    CHECK(session::resimulate(stored, session::model_of(stored, {}), std::make_shared<InlineAnswers>(nobody()))
              .same_bits);
}

TEST_CASE("a thread that re-angling left behind is kept, scored and told as it lies", "[session][thread]") {
    const Played played(nullptr, script_leaving_behind());
    CHECK(count(played.recording, sim::EventKind::re_angled) == 1);
    CHECK(count(played.recording, sim::EventKind::thread_left) == 1);
    CHECK(count(played.recording, sim::EventKind::track_closed) == 2);
    CHECK(count(played.recording, sim::EventKind::traction) == 2);
    CHECK(count(played.recording, sim::EventKind::thread_refused) == 0);
    REQUIRE(played.recording.tracks.size() == 2);
    CHECK(played.recording.tracks[0].loaded);
    CHECK(played.recording.tracks[0].final);
    CHECK_FALSE(played.recording.tracks[1].final);

    const files::LoadedAttempt stored = files::read_attempt(played.path);
    CHECK(stored.report.verdict() == "intact, finished");
    REQUIRE(stored.recording.tracks.size() == 2);
    CHECK(stored.recording.tracks[0].barbs.size() == played.recording.tracks[0].barbs.size());
    const sim::Score score = sim::score(stored.recording, played.prepared.rubric.rubric);
    const auto value = [&](std::string_view name) {
        for (const auto& measure : score.measures)
            if (measure.measure.name == name) return measure.measure.value;
        for (const auto& measure : sim::measure(stored.recording, played.prepared.rubric.rubric.bands).measures)
            if (measure.name == name) return measure.value;
        FAIL("no measure " << name);
        return 0.0;
    };
    CHECK(value("threads_misplaced") == 1.0);
    CHECK(value("barbs_seated") > 0.5);  // it lies in the tissue and is judged there
    CHECK(value("extra_tracks") == 0.0);
    CHECK(value("redirections") == 1.0);

    CHECK(session::resimulate(stored, session::model_of(stored, {}), std::make_shared<InlineAnswers>(nobody()))
              .same_bits);
    session::Replay replay(played.prepared.model, session::tape_of(stored), stored.recording);
    replay.build();
    replay.seek(replay.steps() - 2);
    CHECK(replay.tracks_closed().size() == 2);
    REQUIRE(replay.state().threads.size() == 1);
}
