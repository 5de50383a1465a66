#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "engine/files/scenario.hpp"
#include "files_support.hpp"

/// What a scenario says of the aids that it allows.

namespace {

files::LoadedScenario with(const std::string& members) {
    const std::string text =
        files_test::replaced(files_test::scenario_text(), "\"schema_version\": 1", "\"schema_version\": 1, " + members);
    return files::parse_scenario(files::source_text("x", text), std::nullopt, "x.json");
}

/// A lesson of one step that waits for the use of an aid.
std::string lesson_about(const std::string& subject) {
    return R"("lesson": [{"say": "Look.", "until": {"event": "aid used")" + subject + "}}]";
}

}  // namespace

TEST_CASE("a scenario that says nothing of aids allows all of them, an empty list none", "[files][aids]") {
    const std::string plain = files_test::scenario_text();
    CHECK(files::parse_scenario(files::source_text("x", plain), std::nullopt, "x").aids.all());
    CHECK(with(R"("aids": [])").aids.none());
}

TEST_CASE("aids that are named are allowed, and no others", "[files][aids]") {
    const files::AllowedAids aids = with(R"("aids": ["section", "cut-away"])").aids;
    CHECK(aids.count() == 2);
    CHECK(aids.test(files::kAidCutaway));
    CHECK(aids.test(files::kAidSection));
    // each by its name, in the order of their numbers
    const std::vector<std::pair<std::string, int>> kEach{
        {"depth trace", files::kAidTrace}, {"cut-away", files::kAidCutaway}, {"structures", files::kAidVessels},
        {"force", files::kAidForce},       {"advice", files::kAidWords},     {"section", files::kAidSection}};
    for (const auto& [name, number] : kEach) {
        const files::AllowedAids one = with("\"aids\": [\"" + name + "\"]").aids;
        CHECK(one.count() == 1);
        CHECK(one.test(static_cast<std::size_t>(number)));
    }
}

TEST_CASE("aids that are not known, or named twice, are refused by place, value and what is accepted",
          "[files][aids]") {
    struct Refused {
        std::string list, place, value, accepted;
    };
    const std::vector<Refused> kRefused{
        {R"(["force", "ghost"])", "aids[1]", "ghost", "one of \"depth trace\" \"cut-away\""},
        {R"(["forse"])", "aids[0]", "forse", "did you mean \"force\"?"},
        {R"(["advice", "force", "advice"])", "aids[2]", "advice", "not named before"},
        {R"(["Force"])", "aids[0]", "Force", "one of"},
        {R"(["probe"])", "aids[0]", "probe", "one of"},
        {R"([3])", "aids[0]", "3", "one of"},
        {R"("force")", "aids", "force", "a list of 0 to 6"},
        {R"({"allowed": []})", "aids", "an object", "a list of 0 to 6"},
        {R"(null)", "aids", "null", "a list of 0 to 6"},
        {R"(["force", "force", "force", "force", "force", "force", "force"])", "aids", "a list of 7",
         "a list of 0 to 6"},
    };
    for (const Refused& one : kRefused) {
        INFO(one.list);
        const files::FileError error = files_test::refusal([&] { static_cast<void>(with("\"aids\": " + one.list)); });
        CHECK(error.file() == "x.json");
        CHECK(error.place() == one.place);
        CHECK(error.value().find(one.value) != std::string::npos);
        CHECK(error.accepted().find(one.accepted) != std::string::npos);
    }
}

TEST_CASE("a lesson does not wait for an aid that nobody may ask for", "[files][aids][lesson]") {
    const std::string section = lesson_about(", \"subject\": 5"), any = lesson_about("");
    CHECK(with(section).lesson.size() == 1);
    CHECK(with(R"("aids": ["section"], )" + section).lesson.size() == 1);
    CHECK(with(R"("aids": ["force"], )" + any).lesson.size() == 1);
    // the probe is no aid: the tray has it or has not
    CHECK(with(R"("aids": [], )" + lesson_about(", \"subject\": 6")).lesson.size() == 1);
    const std::vector<std::pair<std::string, std::string>> kRefused{
        {R"("aids": ["force"], )" + section, "lesson[0].until.subject"},
        {R"("aids": [], )" + any, "lesson[0].until.event"}};
    for (const auto& [members, place] : kRefused) {
        INFO(members);
        const files::FileError error = files_test::refusal([&words = members] { static_cast<void>(with(words)); });
        CHECK(error.place() == place);
        CHECK(error.accepted() == "an aid that the scenario allows");
    }
}

TEST_CASE("the schema knows the aids that the reader knows, and that all hold where none is named",
          "[files][aids][schema]") {
    const auto schema = nlohmann::json::parse(files_test::bytes_of("scenarios/schema/scenario.schema.json"));
    const std::vector<std::string> names(files::kAidNames.begin(), files::kAidNames.end());
    CHECK(schema.at("properties").at("aids").at("items").at("enum") == names);
    CHECK(schema.at("properties").at("aids").at("default") == names);
}
