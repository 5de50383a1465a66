#include "engine/graded/graded_session.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <functional>

#include "engine/files/bytes.hpp"
#include "engine/graded/graded_return.hpp"
#include "engine/graded/sealing.hpp"
#include "engine/graded/station.hpp"
#include "sim/core/errors.hpp"
#include "sim/scoring/rubric.hpp"
#include "tests/engine/files/files_support.hpp"

using files_test::Folder;
using files_test::refusal;
using graded::Finding;
using graded::StationDeed;

namespace {

files::KeyPair key(std::uint8_t number) { return files::key_pair_of_seed({9, 9, number}); }
const files::KeyPair kIssuer = key(0), kAnna = key(1), kBo = key(2), kRoom = key(3), kOtherRoom = key(4);

std::string plan_text(const std::string& opens = "2026-03-01T08:00:00Z") {
    return R"({"schema_version": 1, "title": "Spring", "opens_at": ")" + opens +
           R"(", "closes_at": "2026-03-01T18:00:00Z", "minutes": 1, "anatomy": "matched",
           "scenarios": ["test", "again"],
           "learners": [{"name": "L01", "keys": [")" +
           files::hex(kAnna.public_key) + R"("]}, {"name": "L02", "keys": [")" + files::hex(kBo.public_key) +
           R"("]}], "stations": [{"name": "Room 1", "keys": [")" + files::hex(kRoom.public_key) + R"("]}]})";
}

graded::Form form(const std::string& id) {
    std::string text = files_test::replaced(files_test::scenario_text(), "\"single_pass\"", "\"one_pass\"");
    return {files::source_text(id, text), files::load_source("scenarios/rubrics/one_pass.json"), std::nullopt};
}

graded::Session issued() {
    return graded::issue(
        graded::parse_plan(plan_text(), "plan.json"), {form("test"), form("again")},
        [](std::size_t f, std::size_t l) { return 100 * (f + 1) + l; }, kIssuer);
}

/// An afternoon at one station, whose parts can be tampered with before they are done.
struct Afternoon {
    Folder folder;
    graded::Session session = issued();
    files::KeyPair learner = kAnna, station = kRoom;
    std::size_t slot_number = 0;
    std::string attempt_id = session.slots[0].id, name = session.slots[0].id, started_at = "2026-03-01T09:00:00Z";
    sim::PracticeMode mode = sim::PracticeMode::graded;
    std::uint64_t seed = session.slots[0].variant_seed;
    graded::Form uses = session.forms[0];
    std::int64_t steps = 600, wall_after_s = 3;
    double told_more = 0.0;
    bool aid = false, journalled = true, ends = true;
    std::function<void(std::string&)> on_attempt = [](std::string&) {}, on_journal = [](std::string&) {};
    std::vector<sim::Command> hands{{sim::Verb::push, {16, 0, 0}}};

    graded::Return content() {
        const std::filesystem::path path = folder / (attempt_id + ".attempt");
        files::AttemptHeader header = files_test::test_header();
        header.scenario = uses.scenario;
        header.rubric = uses.rubric;
        header.patient = uses.patient;
        header.mode = mode;
        header.variant_seed = seed;
        header.attempt_id = attempt_id;
        header.started_at = started_at;
        const std::int64_t wall_s = *graded::seconds_of(started_at);
        std::filesystem::remove(path);
        {
            graded::JournalWriter journal(folder / "journal", session.id, station);
            journal.note(StationDeed::opened, {}, {}, {wall_s - 60, 1000.0, "boot"});
            if (journalled) journal.note(StationDeed::started, attempt_id, {}, {wall_s, 1060.0, "boot"});
            files::AttemptWriter writer(path, header, learner);
            files::WindowData data;
            data.to_step = 64;
            for (const sim::Command& one : hands) data.commands.push_back({3, one});
            if (aid) data.commands.push_back({4, {sim::Verb::aid, {0, 1, 0}}});
            REQUIRE(writer.window(data));
            if (ends) REQUIRE(writer.end(steps, true));
            std::string bytes = files_test::bytes_of(path);
            const std::string hash = files::hex(files::read_attempt(path).report.last_hash);
            if (journalled) journal.note(StationDeed::ended, attempt_id, hash, {wall_s + wall_after_s, 1063.0, "boot"});
        }
        graded::Return out{session.id, station.public_key, files_test::bytes_of(folder / "journal"), {}};
        out.attempts.push_back(handed_in(path));
        on_attempt(out.attempts[0].bytes);
        on_journal(out.journal);
        return out;
    }

    graded::HandedIn handed_in(const std::filesystem::path& path) const {
        const files::LoadedAttempt attempt = files::read_attempt(path);
        const sim::Score score =
            sim::score(attempt.recording, files::parse_rubric(session.forms[0].rubric, "rubric").rubric);
        return {name, files_test::bytes_of(path), std::string(sim::name_of(score.verdict)),
                score.total_points + told_more};
    }

    std::vector<graded::Judged> judged(graded::Collected& collected) {
        const std::string text = graded::return_text(content(), kIssuer.public_key, station);
        return graded::judge(session, graded::open_return(text, "returned", kIssuer), collected);
    }
    std::vector<graded::Judged> judged() {
        graded::Collected collected;
        return judged(collected);
    }
};

std::set<Finding> findings(const graded::Judged& one) {
    std::set<Finding> out;
    for (const graded::Fault& fault : one.faults) {
        INFO(fault.detail);
        CHECK_FALSE(fault.detail.empty());
        out.insert(fault.what);
    }
    return out;
}

}  // namespace

TEST_CASE("a session that nobody touched is accepted", "[graded]") {
    Afternoon day;
    const auto judged = day.judged();
    REQUIRE(judged.size() == 1);
    for (const graded::Fault& fault : judged[0].faults)
        UNSCOPED_INFO(graded::name_of(fault.what) << ": " << fault.detail);
    CHECK(judged[0].accepted());
    CHECK(judged[0].slot == &day.session.slots[0]);
    CHECK(judged[0].verdict == "incomplete");
}

TEST_CASE("each way to tamper with graded work is named", "[graded][tampering]") {
    struct Row {
        Finding finding;
        std::function<void(Afternoon&)> tamper;
    };
    const std::vector<Row> table{
        {Finding::unreadable, [](Afternoon& d) { d.on_attempt = [](std::string& bytes) { bytes = "no attempt"; }; }},
        {Finding::changed,
         [](Afternoon& d) {
             d.on_attempt = [](std::string& bytes) { bytes = files_test::replaced(bytes, "\"to\":64", "\"to\":65"); };
         }},
        {Finding::unfinished, [](Afternoon& d) { d.ends = false; }},
        {Finding::no_such_slot, [](Afternoon& d) { d.attempt_id = d.name = std::string(32, '7'); }},
        {Finding::renamed, [](Afternoon& d) { d.name = d.session.slots[1].id; }},
        {Finding::other_key, [](Afternoon& d) { d.learner = kBo; }},
        {Finding::other_scenario,
         [](Afternoon& d) {
             d.uses.scenario = files::source_text(
                 "test", files_test::replaced(d.uses.scenario.text, "\"wall_force_n\": 2.5", "\"wall_force_n\": 9.5"));
         }},
        {Finding::other_scenario,  // an easier rubric brought along
         [](Afternoon& d) { d.uses.rubric = files::source_text("one_pass", d.uses.rubric.text + " "); }},
        {Finding::other_anatomy, [](Afternoon& d) { d.seed = 5; }},
        {Finding::not_graded, [](Afternoon& d) { d.mode = sim::PracticeMode::coached; }},
        {Finding::aids_used, [](Afternoon& d) { d.aid = true; }},
        {Finding::score_edited, [](Afternoon& d) { d.told_more = 20.0; }},
        {Finding::outside_hours, [](Afternoon& d) { d.started_at = "2026-02-28T09:00:00Z"; }},
        {Finding::over_time, [](Afternoon& d) { d.steps = 250 * 121; }},
        {Finding::clock, [](Afternoon& d) { d.wall_after_s = -3600; }},
        {Finding::not_in_journal, [](Afternoon& d) { d.journalled = false; }},
        {Finding::journal_broken,
         [](Afternoon& d) {
             d.on_journal = [](std::string& text) { text = files_test::replaced(text, "\"ended\"", "\"opened\""); };
         }},
        {Finding::journal_broken, [](Afternoon& d) { d.on_journal = [](std::string& text) { text.clear(); }; }},
        {Finding::unknown_station, [](Afternoon& d) { d.station = kOtherRoom; }},
    };
    std::set<Finding> seen;
    for (const Row& row : table) {
        Afternoon day;
        row.tamper(day);
        const auto judged = day.judged();
        REQUIRE(judged.size() == 1);
        const std::set<Finding> found = findings(judged[0]);
        INFO(graded::name_of(row.finding));
        CHECK(found.count(row.finding) == 1);
        seen.insert(row.finding);
    }
    // what takes two attempts has a test of its own
    CHECK(seen.size() + 2 == graded::kFindings);
}

TEST_CASE("a slot is handed in once, and nobody hands in another's work", "[graded][tampering]") {
    graded::Collected collected;
    Afternoon day;
    CHECK(day.judged(collected)[0].accepted());
    Afternoon again;  // the same slot, begun anew
    again.session = day.session;
    again.attempt_id = again.name = day.session.slots[0].id;
    again.seed = day.session.slots[0].variant_seed;
    again.hands = {{sim::Verb::push, {17, 0, 0}}};
    CHECK(findings(again.judged(collected)[0]) == std::set{Finding::handed_in_twice});
    Afternoon copied;  // another learner hands in what the first one's hands did
    copied.session = day.session;
    copied.attempt_id = copied.name = day.session.slots[2].id;
    copied.seed = day.session.slots[2].variant_seed;
    copied.learner = kBo;
    CHECK(findings(copied.judged(collected)[0]) == std::set{Finding::same_hands});
}

TEST_CASE("a bundle is for one station, and nobody changes it", "[graded]") {
    const graded::Session session = issued();
    const std::string text = graded::session_text(session, kIssuer);
    const std::string bundle = graded::bundle_text(text, kRoom.public_key);
    CHECK(bundle.find("wall_force") == std::string::npos);  // nothing of it can be read
    CHECK(bundle.find(std::to_string(session.slots[0].variant_seed) + "}") == std::string::npos);
    const graded::Session opened = graded::open_bundle(bundle, "room_1", kRoom);
    CHECK(opened.id == session.id);
    CHECK(opened.slots == session.slots);
    CHECK(opened.forms == session.forms);
    CHECK(opened.plan.learners == session.plan.learners);
    CHECK(refusal([&] { static_cast<void>(graded::open_bundle(bundle, "room_1", kOtherRoom)); }).place() == "station");
    std::string touched = bundle;
    const std::size_t at = touched.find("sealed") + 40;
    touched[at] = touched[at] == 'A' ? 'B' : 'A';
    CHECK(refusal([&] { static_cast<void>(graded::open_bundle(touched, "room_1", kRoom)); }).place() == "sealed");
    // a session that somebody else has edited and sealed anew is not the issuer's
    const std::string edited = files_test::replaced(text, "Spring", "Autumn");
    const std::string forged = graded::bundle_text(edited, kRoom.public_key);
    CHECK(refusal([&] { static_cast<void>(graded::open_bundle(forged, "room_1", kRoom)); }).place() == "signature");
}

TEST_CASE("a common form gives everybody one anatomy a scenario", "[graded]") {
    graded::Plan plan = graded::parse_plan(plan_text(), "plan.json");
    plan.common_form = true;
    int drawn = 0;
    const auto seed = [&](std::size_t f, std::size_t l) {
        drawn += l == 0 ? 0 : 1;
        return 7 + f;
    };
    const graded::Session session = graded::issue(plan, {form("test"), form("again")}, seed, kIssuer);
    CHECK(drawn == 0);
    REQUIRE(session.slots.size() == 4);
    std::set<std::string> ids;
    for (const graded::Slot& slot : session.slots) ids.insert(slot.id);
    CHECK(ids.size() == 4);
}

TEST_CASE("a plan that cannot be is refused by its place", "[graded][input]") {
    const auto place = [](const std::string& from, const std::string& to) {
        return refusal([&] {
                   static_cast<void>(graded::parse_plan(files_test::replaced(plan_text(), from, to), "plan.json"));
               })
            .place();
    };
    CHECK(place("2026-03-01T18:00:00Z", "2026-03-01T07:00:00Z") == "closes_at");
    CHECK(place("2026-03-01T18:00:00Z", "2026-02-30T07:00:00Z") == "closes_at");
    CHECK(place("\"minutes\": 1", "\"minutes\": -1") == "minutes");
    CHECK(place("\"L02\"", "\"L01\"") == "learners[1].name");
    CHECK(place(files::hex(kBo.public_key), files::hex(kAnna.public_key)) == "learners[1].keys[0]");
    CHECK(place(files::hex(kBo.public_key), "12") == "learners[1].keys[0]");
    CHECK(place("\"again\"", "\"test\"") == "scenarios[1]");
    CHECK(place("\"matched\"", "\"easy\"") == "anatomy");
}

TEST_CASE("a station's journal goes on where it stood, and its lines cannot be taken out", "[graded][journal]") {
    const Folder folder;
    const std::string id(32, 'a');
    graded::JournalWriter(folder / "j", id, kRoom).note(StationDeed::opened);
    graded::JournalWriter(folder / "j", id, kRoom).note(StationDeed::started, "x");
    graded::JournalWriter(folder / "j", id, kRoom).note(StationDeed::ended, "x", "h");
    const std::string text = files_test::bytes_of(folder / "j");
    const graded::Journal journal = graded::read_journal(text, "j");
    CHECK(journal.problems.empty());
    CHECK(journal.entries.size() == 3);
    CHECK(journal.entries[2].attempt_hash == "h");
    CHECK(journal.entries[0].at.since_boot_s > 0.0);
    CHECK(graded::clock_problems(journal).empty());

    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line + "\n");
    CHECK_FALSE(graded::read_journal(lines[0] + lines[1] + lines[3], "j").problems.empty());
    CHECK_FALSE(graded::read_journal(lines[0] + lines[2] + lines[1] + lines[3], "j").problems.empty());
    CHECK_FALSE(graded::read_journal(text.substr(0, text.size() - 5), "j").problems.empty());
    CHECK_THROWS_AS(graded::read_journal("", "j"), files::FileError);
    CHECK_THROWS_AS(graded::JournalWriter(folder / "j", id, kOtherRoom), files::FileError);
    CHECK_THROWS_AS(graded::JournalWriter(folder.path(), id, kRoom), files::FileError);
}

TEST_CASE("a clock that is set back is seen beside one that nobody can set", "[graded][journal]") {
    graded::Journal journal;
    const auto add = [&](std::int64_t wall_s, double boot_s, const std::string& boot) {
        journal.entries.push_back({StationDeed::opened, {wall_s, boot_s, boot}, "", ""});
    };
    add(10'000, 50.0, "a");
    add(10'100, 150.0, "a");
    CHECK(graded::clock_problems(journal).empty());
    add(10'000, 550.0, "a");  // set back while the machine ran
    CHECK(graded::clock_problems(journal).size() == 1);
    add(10'600, 10.0, "b");  // started anew: later is fine
    CHECK(graded::clock_problems(journal).size() == 1);
    add(9'000, 10.0, "c");  // started anew with an earlier clock
    REQUIRE(graded::clock_problems(journal).size() == 2);
    CHECK_THAT(graded::clock_problems(journal)[1], Catch::Contains("back by 1600 s"));
}

TEST_CASE("an attempt's time runs by the wall clock from its beginning, whatever the station does meanwhile",
          "[graded][station]") {
    const Folder folder;
    const files_test::Environment data("XDG_DATA_HOME", folder.path().string());
    const graded::Session session = issued();
    const std::string bundle =
        graded::bundle_text(graded::session_text(session, kIssuer), graded::station_key().public_key);
    const auto file = folder.put("room.bundle", bundle);
    std::int64_t began_s = 0;
    {
        graded::Station station = graded::Station::take_in(file);
        const graded::Slot& slot = *station.slots_of(kAnna.public_key).front();
        // between attempts a station waits: what has not begun loses nothing
        CHECK(station.left_s(slot, 1'000'000) == 60.0);
        CHECK(station.left_s(slot, 2'000'000) == 60.0);
        began_s = graded::clocks_now().wall_s;
        station.begin(slot);
    }
    // the program was closed, and is started again
    const std::vector<graded::Station> again = graded::Station::all();
    REQUIRE(again.size() == 1);
    const auto slots = again.front().slots_of(kAnna.public_key);
    REQUIRE(slots.size() == 2);
    CHECK(again.front().stage_of(*slots[0]) == graded::SlotStage::begun);
    CHECK(std::abs(*again.front().left_s(*slots[0], began_s + 40) - 20.0) <= 1.0);  // a second may turn meanwhile
    CHECK(*again.front().left_s(*slots[0], began_s + 62) < 0.0);
    graded::Station station = again.front();
    station.begin(*slots[0]);  // gone on with, not begun anew
    CHECK(std::abs(*station.left_s(*slots[0], began_s + 40) - 20.0) <= 1.0);
    CHECK(station.left_s(*slots[1], began_s + 40) == 60.0);
}

TEST_CASE("base64 is RFC 4648's, and a box opens for its reader alone", "[graded][sealing]") {
    // test vectors of RFC 4648, section 10
    const std::vector<std::pair<std::string, std::string>> vectors{{"", ""},
                                                                   {"f", "Zg=="},
                                                                   {"fo", "Zm8="},
                                                                   {"foo", "Zm9v"},
                                                                   {"foob", "Zm9vYg=="},
                                                                   {"fooba", "Zm9vYmE="},
                                                                   {"foobar", "Zm9vYmFy"}};
    for (const auto& [plain, text] : vectors) {
        CHECK(graded::base64(plain) == text);
        CHECK(graded::from_base64(text) == plain);
    }
    CHECK_FALSE(graded::from_base64("Zg=").has_value());
    CHECK_FALSE(graded::from_base64("Z g==").has_value());
    const std::string box = graded::sealed_for(kRoom.public_key, "secret");
    CHECK(graded::opened(kRoom, box) == "secret");
    CHECK_FALSE(graded::opened(kOtherRoom, box).has_value());
    CHECK_FALSE(graded::opened(kRoom, "short").has_value());
    CHECK(box != graded::sealed_for(kRoom.public_key, "secret"));  // the same text twice shows nothing in common
}
