#pragma once

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <memory>
#include <sstream>
#include <string>

#include "engine/files/attempt.hpp"
#include "engine/records/store.hpp"
#include "tests/support/postgres_server.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/scratch.hpp"

namespace records_test {

inline std::string bytes_of_file(const std::string& path) {
    std::ostringstream out;
    out << std::ifstream(path, std::ios::binary).rdbuf();
    return out.str();
}

inline files::KeyPair key_of(std::uint8_t who) { return files::key_pair_of_seed({who, 1, 2, 3}); }
inline std::string fingerprint(std::uint8_t who) { return records::fingerprint_of(files::hex(key_of(who).public_key)); }

/// A drill in flat tissue, small, with the plan that support::plain_pass() follows.
inline const std::string& scenario_text() {
    static const std::string text = R"({
  "schema_version": 1, "title": "Test", "goal": "Pass", "kind": "drill",
  "patient": { "name": "slab", "variant_seed": 3, "floor": "lining" },
  "tray": [ { "name": "Cannula", "tip": "blunt", "gauge": 19, "length_mm": 90 } ],
  "plan": [ { "entry_mm": [0, 0, 0], "end_mm": [60, 0, 0], "side": "midline", "length_mm": 60 } ],
  "rubric": "one_pass", "headings": ["plane_accuracy", "clearance"]
})";
    return text;
}

struct AttemptMaker {
    std::uint8_t who = 1;
    double depth_m = support::kMidBandM;
    std::string started_at = "2026-03-01T10:15:00Z";
    std::uint64_t seed = 3;
    sim::PracticeMode mode = sim::PracticeMode::solo;
    bool end = true;   ///< sign its end
    std::string id{};  ///< 32 hexadecimal digits; drawn when empty
    std::string scenario = "flat_pass";
    std::filesystem::path under = support::Scratch::in_memory();  ///< where it is written for a moment

    /// Written by the real writer, signed, scored by the rubric that ships.
    [[nodiscard]] std::string bytes() const {
        static const std::string rubric = bytes_of_file("scenarios/rubrics/one_pass.json");
        const support::Scratch scratch(under);
        const std::string path = scratch.path("a.attempt");
        const sim::Recording recording = support::plain_pass(depth_m);
        files::AttemptHeader header;
        header.attempt_id = id;
        header.program_version = "0.1.0";
        header.build_id = "test";
        header.scenario = files::source_text(scenario, scenario_text());
        header.rubric = files::source_text("one_pass", rubric);
        header.mode = mode;
        header.variant_seed = seed;
        header.structures = recording.structures;
        header.ligaments = recording.ligaments;
        header.started_at = started_at;
        files::AttemptWriter writer(path, header, key_of(who));
        files::WindowData data;
        data.to_step = recording.steps;
        data.rows = recording.rows;
        data.events = recording.events;
        data.events.push_back(support::event_of(recording.steps, sim::EventKind::device_changed, 1));
        data.tracks = recording.tracks;
        REQUIRE(writer.window(data));
        if (end) REQUIRE(writer.end(recording.steps, true));
        return bytes_of_file(path);
    }
};

/// Where a test keeps its records: a file, or a database of the one server that this program starts.
class TestPlace {
 public:
    enum class Kind { sqlite, postgres };
    explicit TestPlace(Kind kind) {
        if (kind == Kind::sqlite) {
            place_ = scratch_.path("school.db");
            return;
        }
        static int count = 0;
        const std::string name = "school_" + std::to_string(++count);
        records::open_postgres(records::place_of(server().url("postgres")))->run("CREATE DATABASE " + name);
        place_ = server().url(name);
    }
    [[nodiscard]] const std::string& operator()() const { return place_; }
    [[nodiscard]] const support::Scratch& scratch() const { return scratch_; }

    /// Why there is no PostgreSQL to test with; empty when there is.
    [[nodiscard]] static std::string no_postgres() {
        if (!records::postgres_built_in()) return "this build has no libpqxx";
        if (support::PostgresServer::programs().empty()) return "the package postgresql is not installed";
        return "";
    }
    [[nodiscard]] static support::PostgresServer& server() {
        static support::PostgresServer server;
        return server;
    }

 private:
    support::Scratch scratch_{support::Scratch::in_memory()};
    std::string place_;
};

/// Both back ends in turn; says so where one is left out.
#define ON_BOTH_BACK_ENDS()                                                                                         \
    const auto back_end = GENERATE(records_test::TestPlace::Kind::sqlite, records_test::TestPlace::Kind::postgres); \
    if (back_end == records_test::TestPlace::Kind::postgres && !records_test::TestPlace::no_postgres().empty()) {   \
        WARN("skipped on PostgreSQL: " << records_test::TestPlace::no_postgres());                                  \
        return;                                                                                                     \
    }                                                                                                               \
    const records_test::TestPlace place(back_end)

/// Options with a clock that a test turns, and pass phrases hashed with the least that Argon2id takes.
struct Clock {
    std::shared_ptr<std::int64_t> now_s = std::make_shared<std::int64_t>(1'800'000'000);  // 2027-01-15T08:00:00Z

    [[nodiscard]] records::StoreOptions options() const {
        records::StoreOptions out;
        out.now_s = [now = now_s] { return *now; };
        out.passphrase.operations = 1;
        out.passphrase.memory_bytes = 8192;
        return out;
    }
};

/// The RecordsError that `act` throws.
template <typename Act>
records::RecordsError refusal(Act act) {
    try {
        act();
    } catch (const records::RecordsError& error) {
        return error;
    }
    FAIL("nothing was refused");
    throw std::logic_error("unreachable");
}

inline const records::Actor& desk() {
    static const records::Actor actor = records::desk_actor();
    return actor;
}

}  // namespace records_test
