#include <fcntl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>
#include <catch2/catch.hpp>

#include "engine/files/json_reader.hpp"
#include "engine/files/rubric.hpp"
#include "files_support.hpp"

/// One kind of refusal a test: file, place, value and what is accepted are named, and nothing on disk changes.

using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using files::FileError;
using files::JsonDocument;
using files_test::bytes_of;
using files_test::Folder;
using files_test::refusal;
using files_test::replaced;
using files_test::scenario_text;

namespace {

FileError parse_refusal(const std::string& text) {
    return refusal([&] { static_cast<void>(JsonDocument::parse("x.json", text)); });
}

FileError scenario_refusal(const std::string& from, const std::string& to) {
    const std::string text = replaced(scenario_text(), from, to);
    return refusal(
        [&] { static_cast<void>(files::parse_scenario(files::source_text("x", text), std::nullopt, "x.json")); });
}

void check(const FileError& error, const std::string& place, const std::string& value, const std::string& accepted) {
    INFO(error.what());
    CHECK(error.place() == place);
    CHECK_THAT(error.value(), Contains(value));
    CHECK_THAT(error.accepted(), Contains(accepted));
    CHECK_THAT(error.what(), Contains(error.file()) && Contains(value) && Contains("accepted: "));
}

/// Runs as somebody whom file permissions bind, where the tests run as root.
class Unprivileged {
 public:
    Unprivileged() : changed_(geteuid() == 0 && seteuid(65534) == 0) {}
    ~Unprivileged() {
        if (changed_ && seteuid(0) != 0) std::abort();
    }
    Unprivileged(const Unprivileged&) = delete;
    Unprivileged& operator=(const Unprivileged&) = delete;

 private:
    bool changed_;
};

}  // namespace

TEST_CASE("a directory is no scenario", "[files][refusal]") {
    const Folder folder;
    check(refusal([&] { static_cast<void>(files::load_scenario(folder.path())); }), "", "a directory", "a file");
}

TEST_CASE("a missing file is named", "[files][refusal]") {
    const Folder folder;
    const auto error = refusal([&] { static_cast<void>(files::load_scenario(folder / "none.json")); });
    check(error, "", "No such file", "can be read");
    CHECK(error.file() == (folder / "none.json").string());
}

TEST_CASE("a file that may not be read is named", "[files][refusal]") {
    const Folder folder;
    const auto path = folder.put("secret.json", scenario_text());
    REQUIRE(chmod(folder.path().c_str(), 0755) == 0);
    REQUIRE(chmod(path.c_str(), 0) == 0);
    const Unprivileged somebody;
    check(refusal([&] { static_cast<void>(files::load_scenario(path)); }), "", "Permission denied", "can be read");
}

TEST_CASE("a pipe is refused and not waited for", "[files][refusal]") {
    const Folder folder;
    const auto path = folder / "pipe";
    REQUIRE(mkfifo(path.c_str(), 0600) == 0);
    check(refusal([&] { static_cast<void>(files::load_scenario(path)); }), "", "pipe", "a regular file");
}

TEST_CASE("a file of 1 GB is refused by its size", "[files][refusal]") {
    const Folder folder;
    const auto path = folder.put("big.json", "");
    std::filesystem::resize_file(path, 1'000'000'000);  // sparse: no room is taken
    check(refusal([&] { static_cast<void>(files::load_scenario(path)); }), "", "1000000000 bytes", "at most 4194304");
    check(refusal([&] { static_cast<void>(files::read_attempt(path)); }), "", "1000000000 bytes", "at most 67108864");
}

TEST_CASE("an empty file is said to be empty", "[files][refusal]") {
    check(parse_refusal(""), "", "an empty file", "JSON");
    check(parse_refusal(" \n\t"), "", "an empty file", "JSON");
}

TEST_CASE("bytes that are not UTF-8 are refused with their place", "[files][refusal]") {
    check(parse_refusal("{\n \"a\": \"\xc3\x28\"}"), "line 2, column 8", "byte 0xc3", "UTF-8");
    // RFC 3629: overlong forms, surrogates and what lies past U+10FFFF are not UTF-8 either
    for (const char* bad : {"\"\xc0\x80\"", "\"\xed\xa0\x80\"", "\"\xf4\x90\x80\x80\"", "\"\xe2\x82\"", "\"\xff\""})
        check(parse_refusal(bad), "line 1, column 2", "byte 0x", "UTF-8");
}

TEST_CASE("malformed JSON is refused with line and column", "[files][refusal]") {
    check(parse_refusal("{\n  \"a\": 1,,\n}"), "line 2, column 10", ",,", "RFC 8259");
    check(parse_refusal("{'a': 1}"), "line 1, column 2", "'", "RFC 8259");
    check(parse_refusal("{\"a\": 1} x"), "line 1, column 10", "x", "RFC 8259");
    check(parse_refusal("{\"a\": 01}"), "line 1, column 8", "1", "RFC 8259");
    check(parse_refusal("[1, // two\n 2]"), "line 1, column 5", "/", "RFC 8259");
}

TEST_CASE("truncated JSON is refused at every length", "[files][refusal]") {
    const std::string& text = scenario_text();
    for (std::size_t length = 1; length < text.size(); length += 7) {
        const auto error = parse_refusal(text.substr(0, length));
        CHECK_THAT(error.place(), Contains("line "));
    }
    check(parse_refusal("{\"a\": [1, 2"), "line 1, column 12", "the end of the file", "rest");
}

TEST_CASE("nesting past 32 levels is refused", "[files][refusal]") {
    CHECK_NOTHROW(JsonDocument::parse("x", std::string(32, '[') + std::string(32, ']')));
    const auto error = parse_refusal(std::string(100'000, '['));
    CHECK_THAT(error.value(), Contains("deeper nesting"));
    CHECK_THAT(error.accepted(), Contains("32 levels"));
}

TEST_CASE("a key that comes twice is refused", "[files][refusal]") {
    check(parse_refusal(R"({"a": {"b": 1, "b": 2}})"), "a.b", "key \"b\" twice", "each key once");
    // the same key spelled with an escape
    check(parse_refusal(R"({"b": 1, "\u0062": 2})"), "b", "twice", "each key once");
}

TEST_CASE("what is not a number in JSON is refused", "[files][refusal]") {
    for (const char* text : {"{\"a\": NaN}", "{\"a\": Infinity}", "{\"a\": -Infinity}", "{\"a\": nan}", "{\"a\": +1}"})
        CHECK_THAT(parse_refusal(text).place(), Contains("line 1, column "));
}

TEST_CASE("a number that no double holds is refused", "[files][refusal]") {
    check(parse_refusal(R"({"a": [1, 1e999]})"), "a[1]", "1e999", "a number that a double can hold");
    check(parse_refusal(R"({"a": -1e999})"), "a", "-1e999", "a number that a double can hold");
    // too long for an integer: read as a double, then out of range
    check(scenario_refusal("\"length_mm\": 40", "\"length_mm\": 99999999999999999999999"), "tray[0].length_mm", "e+22",
          "10 to 150");
}

TEST_CASE("a wrong type is refused", "[files][refusal]") {
    check(scenario_refusal("\"gauge\": 18", "\"gauge\": \"18\""), "tray[0].gauge", "\"18\"",
          "whole number from 16 to 30");
    check(scenario_refusal("\"gauge\": 18", "\"gauge\": 18.5"), "tray[0].gauge", "18.5", "whole number");
    check(scenario_refusal("\"gauge\": 18", "\"gauge\": null"), "tray[0].gauge", "null", "whole number");
    check(scenario_refusal("\"bending\": false", "\"bending\": 0"), "mechanics.bending", "0", "true or false");
    check(scenario_refusal("\"title\": \"Test\"", "\"title\": 7"), "title", "7", "text");
    check(scenario_refusal("\"entry_mm\": [-30, 0, 0]", "\"entry_mm\": [-30, 0]"), "plan[0].entry_mm", "a list of 2",
          "3");
    check(scenario_refusal("\"entry_mm\": [-30, 0, 0]", "\"entry_mm\": {}"), "plan[0].entry_mm", "an object", "3");
    check(scenario_refusal("\"variant_seed\": 3", "\"variant_seed\": -3"), "patient.variant_seed", "-3", "0 to");
    check(refusal([] { static_cast<void>(files::parse_scenario(files::source_text("x", "[]"), std::nullopt, "x")); }),
          "", "a list of 0", "an object");
}

TEST_CASE("an unknown key is refused and the nearest known one suggested", "[files][refusal]") {
    check(scenario_refusal("\"gauge\": 18", "\"guage\": 18, \"gauge\": 18"), "tray[0].guage", "unknown key",
          "did you mean \"gauge\"");
    check(scenario_refusal("\"title\"", "\"colour\": 1, \"title\""), "colour", "unknown key", "known keys only: ");
    check(scenario_refusal("\"bending\": false", "\"bendin\": false"), "mechanics.bendin", "unknown key",
          "\"bending\"");
}

TEST_CASE("a missing key is refused", "[files][refusal]") {
    check(scenario_refusal("\"gauge\": 18, ", ""), "tray[0].gauge", "missing", "a value");
    check(scenario_refusal("\"rubric\": \"single_pass\", ", ""), "rubric", "missing", "a value");
}

TEST_CASE("a value out of range is refused", "[files][refusal]") {
    check(scenario_refusal("\"gauge\": 18", "\"gauge\": 99"), "tray[0].gauge", "99", "16 to 30");
    check(scenario_refusal("\"skin_mm\": 2", "\"skin_mm\": 0"), "patient.layers.skin_mm", "0", "0.01 to 99");
    check(scenario_refusal("\"hand_stiffness_n_per_m\": 800", "\"hand_stiffness_n_per_m\": 1e300"),
          "mechanics.hand_stiffness_n_per_m", "1e+300", "10 to");
    check(scenario_refusal("[30, 0, 0]", "[30, 0, 1e9]"), "plan[0].end_mm[2]", "1000000000", "-400 to 400");
    check(scenario_refusal("\"kind\": \"drill\"", "\"kind\": \"dril\""), "kind", "dril", "did you mean \"drill\"");
}

TEST_CASE("what sim refuses is refused with the file's name", "[files][refusal]") {
    // the end of a planned vector on its entry: each value is within its range, both together are not
    const auto error = scenario_refusal("\"end_mm\": [30, 0, 0]", "\"end_mm\": [-30, 0, 0]");
    CHECK(error.file() == "x.json");
    CHECK_THAT(error.place(), Contains("plan[0].end_m"));
}

TEST_CASE("another schema version is refused", "[files][refusal]") {
    for (const char* version : {"2", "0", "\"1\"", "1.5", "-1"})
        check(scenario_refusal("\"schema_version\": 1", std::string("\"schema_version\": ") + version),
              "schema_version", version, "1, the version that this program reads");
}

TEST_CASE("a source that belongs to nothing is refused", "[files][refusal]") {
    check(scenario_refusal("\"sources\": { \"hand_stiffness_n_per_m\"", "\"sources\": { \"hand_stifness\""),
          "mechanics.sources.hand_stifness", "assumed", "a key that stands beside it");
}

TEST_CASE("a name that would leave its folder is refused", "[files][refusal]") {
    for (const char* name : {"../../etc/passwd", "", ".hidden", "a/b", "A b"})
        CHECK(scenario_refusal("\"rubric\": \"single_pass\"", std::string("\"rubric\": \"") + name + "\"").place() ==
              "rubric");
}

TEST_CASE("a head's parameters are read within their ranges", "[files][refusal]") {
    const auto head = files::parse_patient(
        files::source_text("a", R"({"schema_version":1,"age_years":50,"jowl_left":0.5})"), "a.json");
    CHECK(head.age_years == 50);
    CHECK(head.jowl_left == 0.5);
    const auto refused = [](const std::string& text) {
        return refusal([&] { static_cast<void>(files::parse_patient(files::source_text("a", text), "a.json")); });
    };
    check(refused(R"({"schema_version":1,"age_years":5000})"), "age_years", "5000", "a number from");
    check(refused(R"({"schema_version":1,"jowl_lft":0.5})"), "jowl_lft", "unknown key", "jowl_left");
}

TEST_CASE("a scenario asks for a patient file beside its folder", "[files][refusal]") {
    const Folder folder;
    std::string text = scenario_text();
    const std::size_t at = text.find("\"patient\""), end = text.find("\"tray\"");
    text.replace(at, end - at, "\"patient\": { \"name\": \"ada\", \"variant_seed\": 5 },\n");
    const auto path = folder.put("drills/x.json", text);
    check(refusal([&] { static_cast<void>(files::load_scenario(path)); }), "", "No such file", "can be read");
    static_cast<void>(folder.put("patients/ada.json", R"({"schema_version":1,"about":"invented","male":1})"));
    const auto loaded = files::load_scenario(path);
    REQUIRE(loaded.head);
    CHECK(loaded.head->male == 1.0);
    CHECK(loaded.scenario.patient.variant_seed == 5);
    CHECK_FALSE(loaded.scenario.patient.slab);
    CHECK(loaded.content_hash != loaded.source.hash);
}

TEST_CASE("every field of a slab scenario is read, in SI units", "[files][scenario]") {
    const auto loaded = files::parse_scenario(files::source_text("test", scenario_text()), std::nullopt, "test.json");
    const sim::Scenario& s = loaded.scenario;
    CHECK(s.id == "test");
    CHECK(s.patient.variant_seed == 3);
    const sim::SlabParameters& slab = s.patient.slab_parameters;
    CHECK_THAT(slab.thickness_m[0], WithinRel(0.002, 1e-12));
    CHECK_THAT(slab.thickness_m[1], WithinRel(0.0045, 1e-12));  // not given: the default
    CHECK(slab.floor == sim::FloorKind::lining);
    REQUIRE(slab.structures.size() == 2);
    CHECK_THAT(slab.structures[0].line[1].position_m.y, WithinRel(0.05, 1e-12));
    CHECK(slab.structures[0].wall_force_n == 2.5);
    CHECK(slab.structures[1].kind == sim::StructureKind::nerve);
    CHECK_THAT(slab.structures[1].line[1].radius_m, WithinRel(0.00025, 1e-12));
    REQUIRE(slab.ligaments.size() == 1);
    CHECK_THAT(slab.ligaments[0].stretch_m, WithinRel(0.002, 1e-12));
    CHECK_FALSE(s.tray[0].loaded);
    CHECK(s.tray[1].loaded);
    CHECK(s.tray[1].thread.usp_size == "1");
    CHECK_THAT(s.tray[1].thread.barb_pitch_m, WithinRel(0.002, 1e-12));
    CHECK(s.plan[0].side == sim::Side::midline);
    CHECK_THAT(s.plan[0].length_m, WithinRel(0.055, 1e-12));
    CHECK_FALSE(s.mechanics.bending);
    CHECK(s.mechanics.tissue_response);
    CHECK(s.mechanics.hand_stiffness_n_per_m == 800);
    CHECK(s.headings == std::vector<std::string>{"plane_accuracy"});
}

TEST_CASE("a rubric with a measure that nobody knows is refused", "[files][refusal]") {
    const std::string text = bytes_of("scenarios/rubrics/one_pass.json");
    const auto error = refusal([&] {
        static_cast<void>(files::parse_rubric(
            files::source_text("r", replaced(text, "\"track_in_band\"", "\"track_in_bend\"")), "r.json"));
    });
    CHECK(error.file() == "r.json");
    check(error, "items[0].measure", "track_in_bend", "track_in_band");
}

TEST_CASE("refused files are left as they were", "[files][refusal]") {
    const Folder folder;
    const std::string text = replaced(scenario_text(), "\"gauge\": 18", "\"gauge\": 99");
    const auto path = folder.put("x.json", text);
    const auto before = std::filesystem::last_write_time(path);
    CHECK_THROWS_AS(files::load_scenario(path), FileError);
    CHECK(bytes_of(path) == text);
    CHECK(std::filesystem::last_write_time(path) == before);
    CHECK(std::distance(std::filesystem::directory_iterator(folder.path()), {}) == 1);
}

namespace {

/// Files of this process may grow to `bytes` while this lives, as if the disk were full beyond.
class FullDisk {
 public:
    explicit FullDisk(rlim_t bytes) {
        getrlimit(RLIMIT_FSIZE, &before_);
        const rlimit limit{bytes, before_.rlim_max};
        setrlimit(RLIMIT_FSIZE, &limit);
    }
    ~FullDisk() { setrlimit(RLIMIT_FSIZE, &before_); }
    FullDisk(const FullDisk&) = delete;
    FullDisk& operator=(const FullDisk&) = delete;

 private:
    rlimit before_{};
};

files::WindowData command_window(std::int64_t to_step) {
    files::WindowData data;
    data.to_step = to_step;
    for (std::int64_t i = 0; i < 40; ++i) data.commands.push_back({to_step - 40 + i, {sim::Verb::push, {i, 0, 0}}});
    return data;
}

}  // namespace

TEST_CASE("on a full disk an attempt stays valid, says so, and goes on when there is room", "[files][refusal]") {
    const Folder folder;
    const auto path = folder / "a.attempt";
    files::AttemptWriter writer(path, files_test::test_header(), files_test::test_key());
    REQUIRE(writer.window(command_window(64)));
    const std::string whole = bytes_of(path);
    {
        const FullDisk full(whole.size() + 100);  // room for a piece of the next line
        CHECK_FALSE(writer.window(command_window(128)));
        CHECK_THAT(writer.trouble(), Contains("a.attempt") && Contains("File too large"));
        CHECK_FALSE(writer.window(command_window(192)));
        CHECK(bytes_of(path) == whole);
        CHECK(files::verify(path).verdict() == "intact, unfinished");
    }
    CHECK(writer.window(command_window(256)));
    CHECK(writer.trouble().empty());
    REQUIRE(writer.end(300, true));
    const auto attempt = files::read_attempt(path);
    CHECK(attempt.report.verdict() == "intact, finished");
    CHECK(attempt.commands.size() == 160);
}

TEST_CASE("a full disk at the end leaves the attempt intact, unfinished", "[files][refusal]") {
    const Folder folder;
    const auto path = folder / "a.attempt";
    {
        files::AttemptWriter writer(path, files_test::test_header(), files_test::test_key());
        REQUIRE(writer.window(command_window(64)));
        const FullDisk full(writer.bytes() + 10);
        CHECK_FALSE(writer.end(300, true));
        CHECK_FALSE(writer.trouble().empty());
    }
    CHECK(files::verify(path).verdict() == "intact, unfinished");
    CHECK_FALSE(std::filesystem::exists(files::seal_path(path)));
}

TEST_CASE("no room for the first line: the attempt is refused and no file is left", "[files][refusal]") {
    const Folder folder;
    const FullDisk full(100);
    const auto error =
        refusal([&] { files::AttemptWriter(folder / "a", files_test::test_header(), files_test::test_key()); });
    CHECK_THAT(error.what(), Contains("File too large"));
    CHECK_FALSE(std::filesystem::exists(folder / "a"));
}

TEST_CASE("a device without room is reported", "[files][refusal]") {
    const int device = open("/dev/full", O_WRONLY);
    REQUIRE(device >= 0);
    CHECK(files::words_of_errno(files::write_all(device, "x")) == "No space left on device");
    close(device);
}

TEST_CASE("replacing a file on a full disk keeps the old one", "[files][refusal]") {
    const Folder folder;
    const auto path = folder.put("a", "old");
    {
        const FullDisk full(1);
        check(refusal([&] { files::write_atomically(path, "new and longer"); }), "", "File too large", "room");
    }
    CHECK(bytes_of(path) == "old");
    CHECK(std::distance(std::filesystem::directory_iterator(folder.path()), {}) == 1);
    files::write_atomically(path, "new");
    CHECK(bytes_of(path) == "new");
}
