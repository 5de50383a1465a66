#include "engine/graded/regrade.hpp"

#include <catch2/catch.hpp>
#include <map>
#include <nlohmann/json.hpp>

#include "engine/files/bytes.hpp"
#include "sim/core/errors.hpp"
#include "tests/engine/files/files_support.hpp"

using files_test::Folder;

namespace {

std::vector<std::filesystem::path> some_attempts(const Folder& folder, int count) {
    std::vector<std::filesystem::path> out;
    for (int i = 0; i < count; ++i) {
        files::AttemptHeader header = files_test::test_header();
        header.rubric = files::load_source("scenarios/rubrics/one_pass.json");
        const auto path = folder / ("a" + std::to_string(i) + ".attempt");
        files::AttemptWriter writer(path, header, files_test::test_key());
        files::WindowData data;
        data.to_step = 64;
        data.commands = {{i, {sim::Verb::push, {16, 0, 0}}}};
        REQUIRE(writer.window(data));
        REQUIRE(writer.end(100 + i, true));
        out.push_back(path);
    }
    return out;
}

/// Lines of an output by file; each must come once.
std::map<std::string, nlohmann::json> rows_of(const std::filesystem::path& output) {
    std::map<std::string, nlohmann::json> out;
    std::istringstream in(files_test::bytes_of(output));
    for (std::string line; std::getline(in, line);) {
        const auto row = nlohmann::json::parse(line);
        CHECK(out.emplace(row.at("file"), row).second);
    }
    return out;
}

}  // namespace

TEST_CASE("every attempt is scored once, however many threads there are", "[graded][regrade]") {
    const Folder folder;
    const auto attempts = some_attempts(folder, 9);
    const auto report = graded::regrade(attempts, folder / "out", 3);
    CHECK(report.done == 9);
    const auto alone = graded::regrade(attempts, folder / "alone", 1);
    CHECK(alone.done == 9);
    const auto rows = rows_of(folder / "out");
    CHECK(rows.size() == 9);
    CHECK(rows == rows_of(folder / "alone"));
    CHECK(rows.begin()->second.at("verdict") == "incomplete");
}

TEST_CASE("a run that was stopped is gone on with, and what has changed is scored anew", "[graded][regrade]") {
    const Folder folder;
    const auto attempts = some_attempts(folder, 6);
    const auto output = folder / "out";
    static_cast<void>(graded::regrade({attempts.begin(), attempts.begin() + 4}, output, 2));
    // killed in the middle of a line
    const std::string text = files_test::bytes_of(output);
    files::write_atomically(output, text.substr(0, text.size() - 20));
    const auto rest = graded::regrade(attempts, output, 2);
    CHECK(rest.before == 3);
    CHECK(rest.done == 3);
    CHECK(rows_of(output).size() == 6);
    CHECK(graded::regrade(attempts, output, 2).done == 0);
}

TEST_CASE("what is damaged or no attempt is named and stops nothing", "[graded][regrade]") {
    const Folder folder;
    auto attempts = some_attempts(folder, 2);
    files::write_atomically(attempts[0],
                            files_test::replaced(files_test::bytes_of(attempts[0]), "\"to\":64", "\"to\":63"));
    attempts.push_back(folder.put("x.attempt", "nothing"));
    attempts.push_back(folder / "missing.attempt");
    const auto report = graded::regrade(attempts, folder / "out", 2);
    CHECK(report.done == 4);
    CHECK(report.not_intact == 1);
    CHECK(report.unreadable == 2);
    CHECK(rows_of(folder / "out").at(attempts[2].string()).contains("trouble"));
    CHECK_THROWS_AS(graded::regrade(attempts, folder / "out", 0), sim::InputError);
    CHECK_THROWS_AS(graded::regrade(attempts, folder.put("letters", "abc\n"), 1), files::FileError);
    CHECK(files_test::bytes_of(folder / "letters") == "abc\n");
    CHECK_THROWS_AS(graded::regrade(attempts, folder.path() / "no" / "folder", 1), files::FileError);
}
