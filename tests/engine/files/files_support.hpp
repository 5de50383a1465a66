#pragma once

#include <catch2/catch.hpp>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>
#include <string>

#include "engine/files/attempt.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/file_error.hpp"
#include "tests/support/scratch.hpp"

namespace files_test {

/// A folder of a test's own, with a way to put files into it.
class Folder {
 public:
    [[nodiscard]] std::filesystem::path operator/(const std::string& name) const { return scratch_.folder() / name; }
    [[nodiscard]] const std::filesystem::path& path() const { return scratch_.folder(); }

    [[nodiscard]] std::filesystem::path put(const std::string& name, const std::string& bytes) const {
        const std::filesystem::path file = *this / name;
        std::filesystem::create_directories(file.parent_path());
        std::ofstream(file, std::ios::binary) << bytes;
        return file;
    }

 private:
    support::Scratch scratch_;
};

inline std::string bytes_of(const std::filesystem::path& path) {
    std::ostringstream out;
    out << std::ifstream(path, std::ios::binary).rdbuf();
    return out.str();
}

/// The FileError that `act` throws.
template <typename Act>
files::FileError refusal(Act act) {
    try {
        act();
    } catch (const files::FileError& error) {
        INFO(error.what());
        CHECK_FALSE(error.accepted().empty());
        CHECK_FALSE(error.value().empty());
        CHECK_FALSE(error.file().empty());
        return error;
    }
    FAIL("nothing was refused");
    throw std::logic_error("unreachable");
}

inline std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

/// A slab scenario with a vessel and a ligament.
inline const std::string& scenario_text() {
    static const std::string text = R"({
  "schema_version": 1, "title": "Test", "goal": "Pass", "kind": "drill",
  "patient": {
    "name": "slab", "variant_seed": 3,
    "layers": { "skin_mm": 2, "smas_mm": 1.25, "source": "assumed" }, "floor": "lining",
    "structures": [
      { "name": "artery", "kind": "artery", "side": "right", "margin_mm": 3, "wall_force_n": 2.5,
        "cylinder": { "from_mm": [0, -50, -5], "to_mm": [0, 50, -5], "radius_mm": 1 }, "source": "assumed" },
      { "name": "nerve", "kind": "nerve",
        "line": [ { "at_mm": [1, 2, -3], "radius_mm": 0.5 }, { "at_mm": [4, 5, -6], "radius_mm": 0.25 } ] } ],
    "ligaments": [
      { "name": "cord", "deep_mm": [[10, -5, -9], [10, 5, -9]], "superficial_mm": [[10, -5, -2], [10, 5, -2]],
        "half_thickness_mm": 1, "strength_n": 3, "stretch_mm": 2 } ]
  },
  "tray": [
    { "name": "Pilot", "tip": "bevel", "gauge": 18, "length_mm": 40 },
    { "name": "Cannula", "tip": "blunt", "gauge": 21, "length_mm": 90,
      "thread": { "usp_size": "1", "length_mm": 100, "barb_pitch_mm": 2 } } ],
  "plan": [ { "entry_mm": [-30, 0, 0], "end_mm": [30, 0, 0], "side": "midline", "length_mm": 55 } ],
  "mechanics": { "bending": false, "hand_stiffness_n_per_m": 800,
                 "sources": { "hand_stiffness_n_per_m": "assumed" } },
  "rubric": "single_pass", "headings": ["plane_accuracy"]
})";
    return text;
}

inline bool same_bits(double a, double b) { return std::memcmp(&a, &b, sizeof a) == 0; }

inline files::KeyPair test_key() { return files::key_pair_of_seed({1, 2, 3, 4}); }

inline files::AttemptHeader test_header() {
    files::AttemptHeader header;
    header.program_version = "0.1.0";
    header.build_id = "test";
    header.scenario = files::source_text("test", scenario_text());
    header.rubric = files::source_text("single_pass", "{}");
    header.mode = sim::PracticeMode::solo;
    header.variant_seed = 18'446'744'073'709'551'615U;
    header.structures = {{"artery", sim::StructureKind::artery, sim::Side::right, 0.003, 0.004, true}};
    header.ligaments = {{"cord, \"the\"", sim::Side::left, 3.0}};
    header.concerns = {{"mouth \"corner\"", sim::Side::right, {-0.02, 0.5, 0.06}}};
    return header;
}

/// An environment variable set for as long as this lives.
class Environment {
 public:
    Environment(const char* name, const std::string& value) : name_(name) {
        if (const char* before = std::getenv(name)) before_ = before;
        setenv(name, value.c_str(), 1);
    }
    ~Environment() {
        if (before_)
            setenv(name_, before_->c_str(), 1);
        else
            unsetenv(name_);
    }
    Environment(const Environment&) = delete;
    Environment& operator=(const Environment&) = delete;

 private:
    const char* name_;
    std::optional<std::string> before_;
};

}  // namespace files_test
