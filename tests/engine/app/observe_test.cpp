#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <thread>

#include "engine/app/event_words.hpp"
#include "engine/app/observation.hpp"
#include "engine/app/observed_list.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "tests/support/scratch.hpp"

/// Looking on at an attempt: what is told of its events, the list of who works, and a picture that stands still.

using app::Happening;
using app::Happenings;
using Catch::Matchers::Contains;
using Kind = sim::EventKind;

namespace fs = std::filesystem;

namespace {

sim::Event event(std::int64_t step, Kind kind, int subject = -1, std::array<double, 4> value = {}) {
    return {step, kind, subject, {}, value};
}

sim::Recording facts() {
    sim::Recording out;
    out.tray.resize(1);
    out.tray.front().name = "Pilot needle";
    out.structures = {{"facial artery", sim::StructureKind::artery, sim::Side::left, 0.003, 0.004, true}};
    out.ligaments = {{"zygomatic ligament", sim::Side::left, 3.0}};
    return out;
}

sim::TraceRow row(std::int64_t step, double distance_m) {
    sim::TraceRow out;
    out.step = step;
    out.inserted_m = 0.01;
    out.nearest = {0, distance_m};
    return out;
}

std::string bytes_of(const fs::path& path) {
    std::ostringstream out;
    out << std::ifstream(path, std::ios::binary).rdbuf();
    return out.str();
}

/// An attempt at the plane drill, played up to a step; its end is written when it comes there.
void play(const session::Prepared& prepared, const fs::path& file, const files::KeyPair& key,
          std::int64_t until = 1'000'000) {
    fs::create_directories(file.parent_path());
    const auto disk = std::make_shared<session::AttemptRecorder>(
        files::AttemptWriter(file, session::header_of(prepared, sim::PracticeMode::graded), key));
    session::Session live(prepared.model, {sim::PracticeMode::graded, disk, nullptr});
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    session::play_commands(live, script.commands, std::min(until, script.steps + 1));
    disk->park();
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

TEST_CASE("events are told by name, with what they met", "[app][observe]") {
    const sim::Recording recording = facts();
    const auto told = [&](const sim::Event& one) {
        const Happening happening = app::happening_of(one, recording);
        return happening.what + " | " + happening.detail;
    };
    CHECK(told(event(1, Kind::instrument_taken, 0)) == "Instrument taken | Pilot needle");
    CHECK(told(event(1, Kind::layer_crossed, 2, {0.00149, 0.4})) == "Layer crossed | in superficial fat, 1.5 mm deep");
    CHECK(told(event(1, Kind::wall_touched, 0, {0.84})) == "Wall touched | Facial artery, 0.8 N");
    CHECK(told(event(1, Kind::ligament_parted, 0, {3.1})) == "Ligament parted | Zygomatic ligament, 3.1 N");
    CHECK(told(event(1, Kind::thread_left, 1, {1.0})) == "Thread left | Track 2, at the planned place");
    CHECK(told(event(1, Kind::deed_done, static_cast<int>(sim::Deed::wash_hands))) == "Wash hands | ");
    CHECK(app::happening_of(event(1, Kind::wall_breached, 0), recording).mark == app::Mark::bad);
    CHECK(app::happening_of(event(1, Kind::wall_touched, 0), recording).mark == app::Mark::caution);
    CHECK(app::happening_of(event(1, Kind::layer_crossed, 2), recording).mark == app::Mark::neutral);
}

TEST_CASE("whatever a record says of an event, it is told", "[app][observe]") {
    const sim::Recording recording = facts();
    sim::Recording with_visit = recording;
    with_visit.visit.emplace();
    const double huge = std::numeric_limits<double>::max();
    for (int kind = 0; kind < sim::kEventKinds; ++kind)
        for (const int subject : {-2'000'000'000, -1, 0, 1, 7, 60, 2'000'000'000})
            for (const double number : {-huge, -1.0, 0.0, 0.4, 1.0, 6.0, 300.0, huge}) {
                const sim::Event one = event(1, static_cast<Kind>(kind), subject, {number, number, number, number});
                REQUIRE_FALSE(app::happening_of(one, recording).what.empty());
                REQUIRE_FALSE(app::happening_of(one, with_visit).what.empty());
            }
}

TEST_CASE("coming nearer to a structure than its margin is told once each time", "[app][observe]") {
    sim::Recording recording = facts();
    recording.rows = {row(10, 0.0050), row(20, 0.0029), row(30, 0.0021), row(40, 0.0031), row(50, 0.0010)};
    recording.events = {event(25, Kind::plunge), event(60, Kind::finished)};
    Happenings at_once;
    at_once.follow(recording);
    REQUIRE(at_once.all().size() == 4);
    CHECK(at_once.all()[0].step == 20);
    CHECK(at_once.all()[0].what == "Near a structure");
    CHECK(at_once.all()[0].detail == "2.9 mm from the facial artery.");
    CHECK(at_once.all()[1].step == 25);
    CHECK(at_once.all()[2].step == 50);
    CHECK(at_once.count_by(24) == 1);
    CHECK(at_once.count_by(25) == 2);
    CHECK(at_once.count_by(1000) == 4);

    // the same as it comes
    Happenings growing;
    sim::Recording part = facts();
    for (std::size_t i = 0; i < recording.rows.size(); ++i) {
        part.rows.push_back(recording.rows[i]);
        if (i == 1) part.events.push_back(recording.events[0]);
        growing.follow(part);
    }
    part.events.push_back(recording.events[1]);
    growing.follow(part);
    REQUIRE(growing.all().size() == 4);
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(growing.all()[i].step == at_once.all()[i].step);
        CHECK(growing.all()[i].detail == at_once.all()[i].detail);
    }
}

TEST_CASE("the list has each learner's newest attempt, and whose a graded one is where their key is known",
          "[app][observe]") {
    const support::Scratch scratch;
    const fs::path folder = scratch.folder() / "class";
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const files::KeyPair ana = files::new_key_pair(), bo = files::new_key_pair(), other = files::new_key_pair();
    const fs::path room = folder / "Room 1" / "planekeeper";
    play(prepared, room / "attempts" / "old.attempt", ana);
    std::ofstream(room / "learners.json")
        << R"({"schema_version":1,"now":"2","learners":[{"id":"","name":"Ana"},{"id":"2","name":"Bo"}]})";
    fs::last_write_time(room / "attempts" / "old.attempt", fs::file_time_type::clock::now() - std::chrono::hours(2));
    play(prepared, room / "learners" / "2" / "attempts" / "bo.attempt", bo, 500);
    fs::last_write_time(room / "learners" / "2" / "attempts" / "bo.attempt",
                        fs::file_time_type::clock::now() - std::chrono::hours(1));
    play(prepared, room / "stations" / "0123" / "attempts" / "slot.attempt", ana, 900);
    play(prepared, folder / "Room 2" / "attempts" / "who.attempt", other);
    std::ofstream(folder / "Room 2" / "attempts" / "odd.attempt") << "not an attempt\n";
    std::ofstream(folder / "Room 2" / "attempts" / "empty.attempt").close();
    const std::string before = bytes_of(room / "stations" / "0123" / "attempts" / "slot.attempt");

    app::ObservedReader reader(folder, scratch.folder() / "another");
    app::ObservedRows rows = reader.read();
    REQUIRE(rows.rows.size() == 3);
    CHECK(rows.rows[0].file.filename() == "slot.attempt");  // live ones first
    CHECK(rows.rows[0].station == "Room 1");
    CHECK(rows.rows[0].learner == "Ana");  // told by the attempt in her own folder
    CHECK(rows.rows[0].standing == session::Standing::live);
    CHECK(rows.rows[0].mode == sim::PracticeMode::graded);
    CHECK(rows.rows[0].steps == 900);
    CHECK_FALSE(rows.rows[0].title.empty());
    CHECK_FALSE(rows.rows[0].last.empty());
    CHECK(rows.rows[1].learner == "Bo");
    CHECK(rows.rows[1].standing == session::Standing::stopped);
    CHECK(rows.rows[2].station == "Room 2");
    CHECK(rows.rows[2].standing == session::Standing::ended);
    CHECK(rows.rows[2].finished);
    REQUIRE(rows.trouble.size() == 2);
    for (const std::string& trouble : rows.trouble)
        CHECK_THAT(trouble, Contains("odd.attempt") || Contains("empty.attempt"));
    CHECK(bytes_of(room / "stations" / "0123" / "attempts" / "slot.attempt") == before);

    // nobody looks over their own shoulder: what this account makes in a graded session is not shown before its end
    CHECK_FALSE(rows.rows[0].refused);
    const app::ObservedRows own = app::ObservedReader(folder, room / "stations" / "..").read();
    REQUIRE(own.rows.size() == 3);
    CHECK(own.rows[0].refused);
    CHECK(own.rows[0].last.empty());
    CHECK(own.rows[1].refused);
    CHECK_FALSE(own.rows[2].refused);  // of another account, and finished

    // what goes is no longer there, and what came before takes its place
    fs::remove_all(room / "stations");
    fs::remove(folder / "Room 2" / "attempts" / "odd.attempt");
    rows = reader.read();
    REQUIRE(rows.rows.size() == 3);
    CHECK(std::any_of(rows.rows.begin(), rows.rows.end(),
                      [](const app::ObservedRow& one) { return one.file.filename() == "old.attempt"; }));
    CHECK(rows.trouble.size() == 1);
    fs::remove_all(folder);
    rows = reader.read();
    CHECK(rows.rows.empty());
    REQUIRE(rows.trouble.size() == 1);
    CHECK_THAT(rows.trouble.front(), Contains("class"));
}

TEST_CASE("a picture that stands still loses nothing of what comes, and goes on to the present", "[app][observe]") {
    const support::Scratch scratch;
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    play(prepared, scratch.path("whole.attempt"), files::new_key_pair());
    const std::string bytes = bytes_of(scratch.path("whole.attempt"));
    const fs::path file = scratch.path("growing.attempt");
    const std::size_t half = bytes.find('\n', bytes.find('\n') + (bytes.size() - bytes.find('\n')) / 2) + 1;
    std::ofstream out(file, std::ios::binary);
    out << bytes.substr(0, half) << std::flush;

    app::Journal journal{{}};
    app::Observation observation(app::load_observed(file, "Ana", [](double, std::string_view) {}), nullptr, {},
                                 journal);
    const std::int64_t at = observation.step();
    CHECK(at > 0);
    observation.freeze();
    out << bytes.substr(half) << std::flush;
    const auto whole = files::read_attempt(scratch.path("whole.attempt"));
    const auto a_while = [&] {
        static_cast<void>(observation.advance(0.02));
        return observation.gone_on_to() == whole.recording.steps;
    };
    CHECK(wait_for(a_while));
    CHECK(observation.step() == at);
    CHECK(observation.since_frozen() > 0);
    const std::size_t since = observation.since_frozen();
    observation.freeze_at(at / 2);
    CHECK(observation.step() == at / 2);
    CHECK(observation.since_frozen() >= since);
    observation.freeze_at(whole.recording.steps);  // not beyond what has been stepped through
    CHECK(observation.step() == at);
    observation.to_present();
    CHECK_FALSE(observation.frozen());
    CHECK(observation.step() == at);
    CHECK(wait_for([&] {
        static_cast<void>(observation.advance(0.02));
        return observation.step() == whole.recording.steps;
    }));
    CHECK(observation.since_frozen() == 0);
    CHECK(bytes_of(file) == bytes);
}
