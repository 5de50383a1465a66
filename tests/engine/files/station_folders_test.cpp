#include "engine/files/station_folders.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "tests/engine/files/files_support.hpp"

using Catch::Matchers::Contains;
using files_test::Folder;

namespace {

const files::FoundAttempt& found(const files::FoundAttempts& all, const std::string& name) {
    const auto at = std::find_if(all.attempts.begin(), all.attempts.end(),
                                 [&](const files::FoundAttempt& one) { return one.file.filename() == name; });
    REQUIRE(at != all.attempts.end());
    return *at;
}

constexpr const char* kTwo =
    R"({"schema_version":1,"now":"2","learners":[{"id":"","name":"Ana"},{"id":"2","name":"Bo"}]})";

}  // namespace

TEST_CASE("a data folder's attempts are found with whose they are", "[files][stations]") {
    const Folder folder;
    static_cast<void>(folder.put("learners.json", kTwo));
    static_cast<void>(folder.put("attempts/a.attempt", "x"));
    static_cast<void>(folder.put("attempts/a.attempt.seal", "x"));
    static_cast<void>(folder.put("learners/2/attempts/b.attempt", "x"));
    static_cast<void>(folder.put("learners/9/attempts/c.attempt", "x"));
    static_cast<void>(folder.put("stations/0123/attempts/d.attempt", "x"));
    static_cast<void>(folder.put("stations/0123/journal", "x"));
    const files::FoundAttempts all = files::find_attempts(folder.path());
    CHECK(all.data_folders == 1);
    CHECK(all.attempts.size() == 4);
    CHECK(all.trouble.empty());
    CHECK(found(all, "a.attempt").learner == "Ana");
    CHECK(found(all, "b.attempt").learner == "Bo");
    CHECK(found(all, "c.attempt").learner == "Learner 9");
    CHECK(found(all, "d.attempt").learner.empty());
    CHECK(found(all, "d.attempt").station.empty());
}

TEST_CASE("a folder of several data folders names each by what holds it", "[files][stations]") {
    const Folder folder;
    static_cast<void>(folder.put("Room 1/planekeeper/attempts/a.attempt", "x"));
    static_cast<void>(folder.put("Room 2/attempts/b.attempt", "x"));
    static_cast<void>(folder.put("notes/todo.txt", "x"));
    std::filesystem::last_write_time(folder / "Room 1/planekeeper/attempts/a.attempt",
                                     std::filesystem::file_time_type::clock::now() - std::chrono::hours(1));
    const files::FoundAttempts all = files::find_attempts(folder.path());
    CHECK(all.data_folders == 2);
    REQUIRE(all.attempts.size() == 2);
    CHECK(all.attempts.front().file.filename() == "b.attempt");  // written last
    CHECK(found(all, "a.attempt").station == "Room 1");
    CHECK(found(all, "b.attempt").station == "Room 2");
    CHECK(found(all, "b.attempt").learner == "Learner 1");
}

TEST_CASE("folders and lists that cannot be read are told by name", "[files][stations]") {
    const Folder folder;
    CHECK(files::find_attempts(folder.path()).data_folders == 0);
    CHECK(files::find_attempts(folder.path()).trouble.empty());
    const files::FoundAttempts none = files::find_attempts(folder / "gone");
    REQUIRE(none.trouble.size() == 1);
    CHECK_THAT(none.trouble.front(), Contains("gone"));
    static_cast<void>(folder.put("learners.json", "{"));
    static_cast<void>(folder.put("attempts/a.attempt", "x"));
    const files::FoundAttempts all = files::find_attempts(folder.path());
    REQUIRE(all.trouble.size() == 1);
    CHECK_THAT(all.trouble.front(), Contains("learners.json"));
    CHECK(found(all, "a.attempt").learner == "Learner 1");
}
