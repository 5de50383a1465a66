#include <catch2/catch.hpp>

#include "engine/files/scenario.hpp"
#include "files_support.hpp"

using Catch::Matchers::Contains;

namespace {

files::LoadedScenario with_lesson(const std::string& steps) {
    const std::string text = files_test::replaced(files_test::scenario_text(), "\"schema_version\": 1",
                                                  "\"schema_version\": 1, \"lesson\": " + steps);
    return files::parse_scenario(files::source_text("x", text), std::nullopt, "x.json");
}

}  // namespace

TEST_CASE("a lesson's steps are read in order, each with its sign", "[files][lesson]") {
    const files::LoadedScenario loaded = with_lesson(
        R"([{"say": "Take it.", "why": "It opens.", "until": {"event": "instrument taken", "subject": 0}},
            {"say": "Go in.", "until": {"inserted_mm": 30}}, {"say": "Flatten.", "until": {"slope_at_most_deg": 0}}])");
    REQUIRE(loaded.lesson.size() == 3);
    CHECK(loaded.lesson[0].say == "Take it.");
    CHECK(loaded.lesson[0].event == sim::EventKind::instrument_taken);
    CHECK(loaded.lesson[0].subject == 0);
    CHECK_THAT(*loaded.lesson[1].inserted_m, Catch::Matchers::WithinRel(0.03, 1e-12));
    CHECK(*loaded.lesson[2].slope_at_most_rad == 0.0);
}

TEST_CASE("a lesson that says nothing that can be used is refused by place", "[files][lesson]") {
    const auto [steps, place] = GENERATE(table<std::string, std::string>({
        {R"([])", "lesson"},
        {R"([{"until": {"inserted_mm": 30}}])", "say"},
        {R"([{"say": "Go."}])", "until"},
        {R"([{"say": "Go.", "until": {}}])", "lesson[0].until"},
        {R"([{"say": "Go.", "until": {"inserted_mm": 30, "slope_at_most_deg": 1}}])", "lesson[0].until"},
        {R"([{"say": "Go.", "until": {"inserted_mm": 0}}])", "inserted_mm"},
        {R"([{"say": "Go.", "until": {"slope_at_most_deg": 91}}])", "slope_at_most_deg"},
        {R"([{"say": "Go.", "until": {"event": "applause"}}])", "event"},
        {R"([{"say": "Go.", "until": {"event": "plunge", "subject": -1}}])", "subject"},
        {R"([{"say": "Go.", "until": {"inserted_mm": 30, "subject": 1}}])", "subject"},
        {R"([{"say": "Go.", "hint": "x", "until": {"inserted_mm": 30}}])", "hint"},
    }));
    CAPTURE(steps);
    CHECK_THROWS_WITH(with_lesson(steps), Contains("x.json") && Contains(place));
}
