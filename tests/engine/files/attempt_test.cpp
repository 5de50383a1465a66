#include "engine/files/attempt.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <nlohmann/json.hpp>

#include "engine/files/command_text.hpp"
#include "files_support.hpp"
#include "sim/core/random.hpp"

using Catch::Matchers::Contains;
using files::AttemptWriter;
using files_test::bytes_of;
using files_test::Folder;
using files_test::refusal;
using files_test::same_bits;
using files_test::test_header;
using files_test::test_key;
using sim::kMm;

namespace {

/// Rows, events and a track with every member set, quantised as the trace is.
files::WindowData busy_window(std::int64_t to_step, int rows) {
    const auto wave = [&](double scale, int i) {
        return sim::quantised(scale * std::sin(0.37 * i + static_cast<double>(to_step)));
    };
    files::WindowData data;
    data.to_step = to_step;
    for (int i = 0; i < rows; ++i) {
        sim::TraceRow row;
        row.step = to_step - rows + i;
        row.track = 0;
        row.inserted_m = wave(0.06, i);
        row.tip_m = {wave(0.1, i), wave(0.2, i + 1), wave(0.3, i + 2)};
        row.yaw_rad = wave(0.1, i);
        row.pitch_rad = wave(0.2, i);
        row.layers = {sim::Layer::smas,
                      0.0,
                      wave(0.004, i),
                      {0.0015, 0.006, 0.007, wave(0.01, i), 0.015},
                      sim::FloorKind::lining};
        row.layers.fraction = sim::row_fraction(row.layers);
        row.tip_force_n = wave(1, i);
        row.friction_n = wave(2, i);
        row.ligament_n = -0.0;
        row.hand_n = wave(3, i);
        row.tent_m = 1e300;
        row.nearest = {i % 2, wave(0.01, i)};
        data.rows.push_back(row);
    }
    data.commands = {{to_step - 1, {sim::Verb::push, {16, 0, 0}}}, {to_step - 1, {sim::Verb::entry, {-1, 2, -3}}}};
    data.answers = {{to_step, {7, 1234.5677490234375, static_cast<double>(1.0F / 3.0F), 0x1p-120, 5.0}}};
    data.events = {{to_step, sim::EventKind::ligament_parted, 2, {0.1, -0.2, 1.0 / 3.0}, {3.25, 1e-9, 0, -0.0}}};
    sim::TrackRecord track;
    track.track = 1;
    track.loaded = true;
    track.entry_m = {0.01, 0, 0};
    track.length_m = 0.06;
    track.pieces = {{{0.001, 0, -0.004}, 0.003, 0.005, {1, 2, 3, 4, 5}, {{0, 0.002}, {1, -0.001}}},
                    {{0.002, 0, -0.004}, 0.003, 1.0 / 3.0, {1, 2, 3, 4, 5}, {}}};
    track.barbs = {{0.01, -1, sim::Layer::superficial_fat, 0.2, true}};
    data.tracks = {track};
    sim::ThreadAnswer answer{
        static_cast<std::uint64_t>(to_step), sim::ThreadTrouble::none, 9, {}, {{0.001, -2e-8, 0.5}}, 0.75};
    answer.shape = sim::LiftShape::final;
    answer.shape_steps = 11;
    answer.threads = {{0.0021, 1e-8, {{0.125, -0.0003, 0.004}, {-1e-6, 1800.5, 0.0}}}, {0.0, 0.0, {}}};
    data.about_threads = {{to_step, answer},
                          {to_step, sim::ThreadAnswer{99, sim::ThreadTrouble::no_body, 0, {}, {}, 0.0}}};
    sim::LiftRow lift;
    lift.step = to_step;
    lift.thread = 2;
    lift.pull_n = 1.25;
    lift.stroke_n = -3e-6;
    lift.hand_n = 0.25;
    lift.hold_n = 2.125;
    lift.slipped = 4;
    lift.out = true;
    lift.shape = sim::LiftShape::no_final_found;
    lift.moved_m = {{0.001, -2e-8, 0.5}};
    data.lifts = {lift, lift};
    data.checkpoint_json = R"({"depth":[1,2,"x"]})";
    return data;
}

std::vector<std::string> lines_of(const std::filesystem::path& path) {
    std::vector<std::string> lines;
    std::istringstream text(bytes_of(path));
    for (std::string line; std::getline(text, line);) lines.push_back(line);
    return lines;
}

std::string joined(const std::vector<std::string>& lines) {
    std::string text;
    for (const auto& line : lines) text += line + "\n";
    return text;
}

std::filesystem::path write_finished(const Folder& folder, const std::string& name = "a.attempt") {
    AttemptWriter writer(folder / name, test_header(), test_key());
    for (int i = 1; i <= 8; ++i) REQUIRE(writer.window(busy_window(64 * i, 3)));
    REQUIRE(writer.end(600, true));
    return folder / name;
}

}  // namespace

TEST_CASE("what is written is read back to the same bits", "[files][attempt]") {
    const Folder folder;
    const auto path = write_finished(folder);
    const auto attempt = files::read_attempt(path);
    CHECK(attempt.report.verdict() == "intact, finished");
    CHECK(attempt.report.sealed);
    CHECK(attempt.header.scenario == test_header().scenario);
    CHECK(attempt.header.public_key == test_key().public_key);
    CHECK(attempt.header.variant_seed == test_header().variant_seed);
    CHECK(attempt.scenario.scenario.patient.variant_seed == test_header().variant_seed);
    const auto& recording = attempt.recording;
    CHECK(recording.finished);
    CHECK(recording.steps == 600);
    CHECK(recording.mode == sim::PracticeMode::solo);
    CHECK(recording.tray.size() == 2);
    CHECK(recording.ligaments.at(0).name == "cord, \"the\"");
    CHECK(recording.structures.at(0).least_depth_m == 0.004);
    REQUIRE(recording.rows.size() == 24);
    const auto wanted = busy_window(128, 3);
    for (std::size_t i = 0; i < 3; ++i) {
        const sim::TraceRow& is = recording.rows[3 + i];
        const sim::TraceRow& row = wanted.rows[i];
        CHECK(is.step == row.step);
        CHECK(is.layers.layer == row.layers.layer);
        CHECK(is.layers.floor == row.layers.floor);
        CHECK(is.nearest.structure == row.nearest.structure);
        for (const auto member : {&sim::TraceRow::inserted_m, &sim::TraceRow::yaw_rad, &sim::TraceRow::pitch_rad,
                                  &sim::TraceRow::tip_force_n, &sim::TraceRow::friction_n, &sim::TraceRow::ligament_n,
                                  &sim::TraceRow::hand_n, &sim::TraceRow::tent_m})
            CHECK(same_bits(is.*member, row.*member));
        CHECK(same_bits(is.tip_m.z, row.tip_m.z));
        CHECK(same_bits(is.layers.fraction, row.layers.fraction));
        CHECK(same_bits(is.layers.bottom_m[3], row.layers.bottom_m[3]));
        CHECK(same_bits(is.nearest.distance_m, row.nearest.distance_m));
    }
    CHECK(attempt.commands.size() == 16);
    CHECK(attempt.commands[3] == wanted.commands[1]);
    CHECK(attempt.answers[1] == wanted.answers[0]);
    CHECK(attempt.about_threads.size() == 16);
    CHECK(attempt.about_threads[2] == wanted.about_threads[0]);
    CHECK(attempt.about_threads[3] == wanted.about_threads[1]);
    REQUIRE(recording.lifts.size() == 16);
    CHECK(recording.lifts[3].step == 128);
    CHECK(recording.lifts[3].thread == 2);
    CHECK(same_bits(recording.lifts[3].stroke_n, -3e-6));
    CHECK(same_bits(recording.lifts[3].hand_n, 0.25));
    CHECK(same_bits(recording.lifts[3].hold_n, 2.125));
    CHECK(recording.lifts[3].slipped == 4);
    CHECK(recording.lifts[3].out);
    CHECK(recording.lifts[3].moved_m == wanted.lifts[1].moved_m);
    REQUIRE(recording.concerns.size() == 1);
    CHECK(recording.concerns[0] == test_header().concerns[0]);
    CHECK(attempt.checkpoints.at(1) == files::Checkpoint{128, wanted.checkpoint_json});
    CHECK(recording.events[1].kind == sim::EventKind::ligament_parted);
    CHECK(same_bits(recording.events[1].place_m.z, 1.0 / 3.0));
    CHECK(same_bits(recording.events[1].value[3], -0.0));
    const auto& track = recording.tracks.at(1);
    CHECK(track.loaded);
    CHECK(track.pieces.at(0).clearance.at(1).distance_m == -0.001);
    CHECK(same_bits(track.pieces.at(1).deepest_m, 1.0 / 3.0));
    CHECK(track.barbs.at(0).seated);
}

TEST_CASE("any double survives the record", "[files][attempt]") {
    const Folder folder;
    sim::Random random(7);
    files::WindowData data;
    data.to_step = 64;
    const std::vector<double> awkward{0.0,
                                      -0.0,
                                      1e-10,
                                      -1e-10,
                                      1e-11,
                                      123456.7890123456,
                                      9e5,
                                      1e22,
                                      5e-324,
                                      std::numeric_limits<double>::max(),
                                      std::numeric_limits<double>::infinity(),
                                      -std::numeric_limits<double>::infinity(),
                                      std::numeric_limits<double>::quiet_NaN()};
    for (std::size_t i = 0; i < 500; ++i) {
        sim::TraceRow row;
        row.hand_n =
            i < awkward.size() ? awkward[i] : (random.uniform() - 0.5) * std::pow(10.0, 20 * random.uniform() - 14);
        row.tent_m = i % 2 == 0 ? sim::quantised(row.hand_n) : 0.001;
        data.rows.push_back(row);
    }
    {
        AttemptWriter writer(folder / "a", test_header(), test_key());
        REQUIRE(writer.window(data));
    }
    const auto attempt = files::read_attempt(folder / "a");
    REQUIRE(attempt.recording.rows.size() == data.rows.size());
    for (std::size_t i = 0; i < data.rows.size(); ++i) {
        const double is = attempt.recording.rows[i].hand_n, was = data.rows[i].hand_n;
        CHECK((same_bits(is, was) || (std::isnan(is) && std::isnan(was))));
        const double other = attempt.recording.rows[i].tent_m, wanted = data.rows[i].tent_m;
        CHECK((same_bits(other, wanted) || (std::isnan(other) && std::isnan(wanted))));
    }
}

TEST_CASE("a quiet attempt still writes at least each second", "[files][attempt]") {
    const Folder folder;
    AttemptWriter writer(folder / "a", test_header(), test_key());
    files::WindowData quiet;
    for (int i = 1; i <= 40; ++i) {
        quiet.to_step = 64 * i;
        REQUIRE(writer.window(quiet));
    }
    std::int64_t last = 0;
    const auto lines = lines_of(folder / "a");
    REQUIRE(lines.size() > 2);
    for (std::size_t i = 1; i < lines.size(); ++i) {
        const auto line = nlohmann::json::parse(lines[i]);
        CHECK(line.at("to").get<std::int64_t>() - last <= 250);
        last = line.at("to").get<std::int64_t>();
    }
    CHECK(64 * 40 - last < 250);
}

TEST_CASE("each change to a finished attempt is named with its line", "[files][attempt]") {
    const Folder folder;
    const auto path = write_finished(folder);
    auto lines = lines_of(path);
    REQUIRE(lines.size() == 10);
    const auto check = [&](const std::vector<std::string>& with, std::size_t line, const std::string& what) {
        static_cast<void>(folder.put("a.attempt", joined(with)));
        const auto report = files::verify(path);
        REQUIRE_FALSE(report.problems.empty());
        INFO(report.problems[0].what);
        CHECK(report.problems[0].line == line);
        CHECK_THAT(report.problems[0].what, Contains(what));
        CHECK_FALSE(report.intact());
        return report;
    };
    auto with = lines;
    SECTION("a changed figure") {
        with[4] = files_test::replaced(with[4], "\"push\",16", "\"push\",17");
        CHECK(check(with, 5, "changed").problems.size() == 1);
    }
    SECTION("a changed figure with its hash made to fit") {
        const auto chain = files::split_chain(joined(lines));
        const std::string body = files_test::replaced(chain.lines[4].body, "\"push\",16", "\"push\",17");
        with[4] = files::chain_line(body, files::chained(chain.lines[3].hash, body), nullptr);
        with[4].pop_back();
        CHECK(check(with, 6, "changed").problems.size() == 1);
    }
    SECTION("a changed hash") {
        const std::size_t at = with[4].size() - 10;
        with[4][at] = with[4][at] == '0' ? '1' : '0';
        CHECK(check(with, 5, "changed").problems.size() == 1);
    }
    SECTION("a line that is no longer JSON of an attempt") {
        with[4] = "hello";
        check(with, 5, "added or changed");
    }
    SECTION("a removed line") {
        with.erase(with.begin() + 3);
        CHECK(check(with, 4, "removed: the line with the number 3").problems.size() >= 1);
    }
    SECTION("several removed lines") {
        with.erase(with.begin() + 3, with.begin() + 6);
        check(with, 4, "removed: 3 lines with the numbers 3 to 5");
    }
    SECTION("the header removed") {
        with.erase(with.begin());
        check(with, 1, "removed: the line with the number 0");
        CHECK_THAT(refusal([&] { static_cast<void>(files::read_attempt(path)); }).what(), Contains("header"));
    }
    SECTION("swapped lines") {
        std::swap(with[3], with[4]);
        const auto report = check(with, 4, "swapped");
        CHECK(report.problems.size() == 2);
        CHECK(report.problems[1].line == 5);
    }
    SECTION("an added copy of a line") {
        with.insert(with.begin() + 5, with[2]);
        CHECK(check(with, 6, "added").problems.size() <= 2);
    }
    SECTION("an added line that was made up") {
        auto made_up = files::chain_line(R"({"seq":5,"to":320})", files::Hash{}, nullptr);
        made_up.pop_back();
        with.insert(with.begin() + 5, made_up);
        check(with, 6, "added");
    }
    SECTION("a line after the end") {
        auto more = files::chain_line(
            R"({"seq":10,"to":700})",
            files::chained(files::split_chain(joined(lines)).lines.back().hash, R"({"seq":10,"to":700})"), nullptr);
        more.pop_back();
        with.push_back(more);
        const auto report = check(with, 11, "lines stand after the signed end");
        CHECK_THAT(report.problems.back().what, Contains("not the end that was sealed"));
    }
    SECTION("a signature of somebody else") {
        const auto chain = files::split_chain(joined(lines));
        const auto other = files::sign(files::new_key_pair(), files::view_of(chain.lines.back().hash));
        with.back() = files::chain_line(chain.lines.back().body, chain.lines.back().hash, &other);
        with.back().pop_back();
        check(with, 10, "the signature of the end does not hold");
    }
    SECTION("the tail cut") {
        with.resize(7);
        const auto report = check(with, 7, "cut tail of a finished attempt");
        CHECK(report.verdict() == "cut tail of a finished attempt");
    }
    SECTION("the tail cut in the middle of a line") {
        with.resize(7);
        static_cast<void>(folder.put("a.attempt", joined(with) + lines[7].substr(0, 40)));
        CHECK(files::verify(path).verdict() == "cut tail of a finished attempt");
    }
}

TEST_CASE("a cut tail is seen by the user's ledger when the seal was thrown away", "[files][attempt]") {
    const Folder folder;
    const AttemptWriter::Options options{folder / "ledger.jsonl"};
    for (const char* name : {"other", "a"}) {
        AttemptWriter writer(folder / name, test_header(), test_key(), options);
        REQUIRE(writer.window(busy_window(64, 2)));
        REQUIRE(writer.end(80, true));
    }
    CHECK(files::verify(folder / "a", options.ledger).verdict() == "intact, finished");
    auto lines = lines_of(folder / "a");
    lines.pop_back();
    static_cast<void>(folder.put("a", joined(lines)));
    std::filesystem::remove(files::seal_path(folder / "a"));
    CHECK(files::verify(folder / "a", options.ledger).verdict() == "cut tail of a finished attempt");
    // without either it cannot be told from a killed attempt, and the report says on what its word rests
    const auto report = files::verify(folder / "a");
    CHECK(report.verdict() == "intact, unfinished");
    CHECK_THAT(report.notes.at(0), Contains("as far as this computer knows"));
    // and such a one is not resumed where the ledger knows better
    CHECK_THAT(refusal([&] { static_cast<void>(AttemptWriter::resume(folder / "a", test_key(), options)); }).what(),
               Contains("cut tail"));
}

TEST_CASE("a killed attempt is unfinished, is resumed, and loses its torn line only", "[files][attempt]") {
    const Folder folder;
    const auto path = folder / "a";
    {
        AttemptWriter writer(path, test_header(), test_key());
        for (int i = 1; i <= 4; ++i) REQUIRE(writer.window(busy_window(64 * i, 2)));
    }
    const std::string whole = bytes_of(path);
    // wherever in the last line the write stopped
    const std::size_t last = whole.rfind('\n', whole.size() - 2) + 1;
    for (std::size_t length = last; length < whole.size(); length += 97) {
        static_cast<void>(folder.put("a", whole.substr(0, length)));
        const auto attempt = files::read_attempt(path);
        CHECK(attempt.report.verdict() == "intact, unfinished");
        CHECK(attempt.recording.steps == 192);
        CHECK(attempt.report.torn == (length > last));
    }
    static_cast<void>(folder.put("a", whole.substr(0, whole.size() - 5)));
    {
        auto writer = AttemptWriter::resume(path, test_key());
        CHECK(writer.steps() == 192);
        REQUIRE(writer.window(busy_window(256, 2)));
        REQUIRE(writer.end(300, true));
    }
    const auto attempt = files::read_attempt(path);
    CHECK(attempt.report.verdict() == "intact, finished");
    CHECK(attempt.resumes == 1);
    CHECK(attempt.recording.rows.size() == 8);
    CHECK_THAT(refusal([&] { static_cast<void>(AttemptWriter::resume(path, test_key())); }).what(),
               Contains("finished"));
}

TEST_CASE("an attempt is resumed by its own key, intact, and by one program at a time", "[files][attempt]") {
    const Folder folder;
    const auto path = folder / "a";
    {
        AttemptWriter writer(path, test_header(), test_key());
        REQUIRE(writer.window(busy_window(64, 2)));
        CHECK_THAT(refusal([&] { static_cast<void>(AttemptWriter::resume(path, test_key())); }).what(),
                   Contains("another program"));
    }
    const std::string before = bytes_of(path);
    CHECK_THAT(refusal([&] { static_cast<void>(AttemptWriter::resume(path, files::new_key_pair())); }).what(),
               Contains("another key"));
    static_cast<void>(folder.put("a", files_test::replaced(before, "\"push\",16", "\"push\",17") + "torn"));
    const std::string changed = bytes_of(path);
    CHECK_THAT(refusal([&] { static_cast<void>(AttemptWriter::resume(path, test_key())); }).what(),
               Contains("not intact"));
    CHECK(bytes_of(path) == changed);
}

TEST_CASE("a new attempt never overwrites what is there", "[files][attempt]") {
    const Folder folder;
    static_cast<void>(folder.put("a", "precious"));
    CHECK_THAT(refusal([&] { AttemptWriter(folder / "a", test_header(), test_key()); }).what(), Contains("exists"));
    CHECK(bytes_of(folder / "a") == "precious");
    CHECK_THAT(refusal([&] { AttemptWriter(folder / "none/a", test_header(), test_key()); }).what(),
               Contains("No such file"));
}
