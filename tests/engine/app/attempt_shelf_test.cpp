#include "engine/app/attempt_shelf.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

using app::PastAttempt;
using Catch::Matchers::Contains;

namespace fs = std::filesystem;

namespace {

PastAttempt attempt(const std::string& name, bool passed, double points, bool finished = true) {
    PastAttempt out;
    out.file = name;
    out.scenario = "hold_the_plane";
    out.finished = finished;
    out.passed = passed;
    out.points = points;
    out.of = 100.0;
    return out;
}

}  // namespace

TEST_CASE("last is the newest finished attempt, best a pass before points", "[app][attempts]") {
    std::vector<PastAttempt> list{attempt("given_up", false, 0.0, false), attempt("newest", false, 90.0),
                                  attempt("passed", true, 82.0), attempt("oldest", true, 71.0)};
    list.push_back(attempt("broken", true, 100.0));
    list.back().trouble = "line 3: changed";
    const app::Standing standing = app::standing_of(list, "hold_the_plane");
    REQUIRE(standing.last);
    CHECK(standing.last->file == "newest");
    REQUIRE(standing.best);
    CHECK(standing.best->file == "passed");
    CHECK_FALSE(app::standing_of(list, "skirt_the_artery").last);
}

TEST_CASE("a moment is told in words, and what is none is not", "[app][attempts]") {
    setenv("TZ", "UTC", 1);
    CHECK(app::when_words("2026-03-01T10:05:00Z") == "1 Mar 2026, 10:05");
    CHECK(app::when_words("yesterday").empty());
    CHECK(app::when_words("2026-03-01T10:05:00Z and more").empty());
}

TEST_CASE("a folder that is not there holds no attempts; what cannot be read is named with the reason",
          "[app][attempts]") {
    const fs::path folder = fs::temp_directory_path() / ("pk_shelf_" + std::to_string(::getpid()));
    fs::remove_all(folder);
    app::AttemptShelf shelf(folder, {});
    shelf.refresh();
    shelf.wait();
    CHECK(shelf.attempts().empty());

    fs::create_directories(folder);
    std::ofstream(folder / "torn.attempt") << "not an attempt\n";
    std::ofstream(folder / "notes.txt") << "nor is this\n";
    shelf.refresh();
    shelf.wait();
    const std::vector<PastAttempt> list = shelf.attempts();
    REQUIRE(list.size() == 1);
    CHECK(list[0].file.filename() == "torn.attempt");
    CHECK_THAT(list[0].trouble, Contains("line 1") && Contains("Nothing was deleted"));
    fs::remove_all(folder);
}
