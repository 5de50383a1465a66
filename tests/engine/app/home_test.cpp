#include "engine/app/home.hpp"

#include <catch2/catch.hpp>

/// What a learner is told to do next, and how coaching fades.

namespace {

app::Entry entry(const std::string& id, const std::string& kind, int level, sim::Heading heading) {
    app::Entry out;
    out.id = out.title = id;
    out.kind = kind;
    out.level = level;
    out.heading_points[static_cast<std::size_t>(heading)] = 20.0;
    out.heading_points[static_cast<std::size_t>(sim::Heading::economy)] = 5.0;
    return out;
}

std::vector<app::Entry> library() {
    std::vector<app::Entry> out{
        entry("lesson", "drill", 1, sim::Heading::plane_accuracy), entry("artery", "drill", 1, sim::Heading::clearance),
        entry("anchor", "drill", 1, sim::Heading::barb_engagement), entry("visit", "case", 1, sim::Heading::asepsis)};
    out[0].lesson = true;
    return out;
}

/// @param share of every heading named
app::PastAttempt attempt(const std::string& scenario, const std::string& when, bool passed, sim::Heading heading,
                         double share) {
    app::PastAttempt out;
    out.scenario = out.title = scenario;
    out.started_at = when;
    out.finished = true;
    out.passed = passed;
    out.points = 100.0 * share;
    out.of = 100.0;
    out.heading_points[static_cast<std::size_t>(heading)] = 20.0 * share;
    out.heading_of[static_cast<std::size_t>(heading)] = 20.0;
    out.devices[static_cast<std::size_t>(sim::Device::keys)] = true;
    return out;
}

const std::int64_t kNow = *app::seconds_of("2026-06-01T12:00:00Z");

using Kind = app::NextStep::Kind;

}  // namespace

TEST_CASE("who has never practised begins with the lesson", "[app][home]") {
    const auto next = app::next_step(library(), {}, kNow, true);
    REQUIRE(next);
    CHECK(next->kind == Kind::lesson);
    CHECK(next->scenario == "lesson");
    CHECK_FALSE(app::next_step({}, {}, kNow, false));
}

TEST_CASE("a controller that is new is got used to in the lesson first", "[app][home]") {
    std::vector<app::PastAttempt> past{
        attempt("lesson", "2026-05-31T12:00:00Z", true, sim::Heading::plane_accuracy, 1)};
    CHECK(app::is_new(sim::Device::controller, past));
    CHECK_FALSE(app::is_new(sim::Device::keys, past));
    CHECK(app::next_step(library(), past, kNow, true)->kind == Kind::device);
    CHECK(app::next_step(library(), past, kNow, false)->kind == Kind::next);
    past[0].devices[static_cast<std::size_t>(sim::Device::controller)] = true;
    CHECK_FALSE(app::is_new(sim::Device::controller, past));
}

TEST_CASE("a drill passed and left for four weeks is offered again, before that it is not", "[app][home]") {
    const std::vector<app::PastAttempt> past{
        attempt("artery", "2026-05-04T12:00:00Z", true, sim::Heading::clearance, 1.0),  // 28 days
        attempt("lesson", "2026-05-04T12:00:01Z", true, sim::Heading::plane_accuracy, 1.0)};
    const auto due = app::next_step(library(), past, kNow, false);
    REQUIRE(due);
    CHECK(due->kind == Kind::retention);
    CHECK(due->scenario == "artery");
    CHECK(due->why.find("4 weeks") != std::string::npos);
    CHECK(app::next_step(library(), past, kNow - 1, false)->kind == Kind::next);
}

TEST_CASE("the weakest heading names its drill, until that was passed", "[app][home]") {
    std::vector<app::PastAttempt> past{
        attempt("artery", "2026-05-30T12:00:00Z", false, sim::Heading::clearance, 0.3),
        attempt("visit", "2026-05-29T12:00:00Z", false, sim::Heading::clearance, 0.5),
        attempt("anchor", "2026-05-28T12:00:00Z", true, sim::Heading::barb_engagement, 0.9),
        attempt("lesson", "2026-05-27T12:00:00Z", true, sim::Heading::plane_accuracy, 1.0)};
    const auto records = app::heading_records(past);
    REQUIRE(app::weakest_heading(records) == sim::Heading::clearance);
    for (const app::HeadingRecord& record : records)
        if (record.heading == sim::Heading::clearance) {
            REQUIRE(record.points.size() == 2);
            CHECK(record.points[0].share == Approx(0.5));  // oldest first
            CHECK(record.now() == Approx(0.4));
        }
    const auto train = app::next_step(library(), past, kNow, false);
    CHECK(train->kind == Kind::train);
    CHECK(train->scenario == "artery");
    CHECK(train->why.find("clearance") != std::string::npos);
    past.insert(past.begin(), attempt("artery", "2026-05-31T12:00:00Z", true, sim::Heading::clearance, 0.8));
    CHECK(app::next_step(library(), past, kNow, false)->scenario == "visit");
}

TEST_CASE("a heading that no drill has is practised in a case; one attempt alone says nothing of a heading",
          "[app][home]") {
    CHECK(app::drill_for(library(), sim::Heading::asepsis)->id == "visit");
    CHECK(app::drill_for(library(), sim::Heading::comfort_and_dose) == nullptr);
    const std::vector<app::PastAttempt> past{
        attempt("visit", "2026-05-29T12:00:00Z", false, sim::Heading::asepsis, 0.1)};
    CHECK_FALSE(app::weakest_heading(app::heading_records(past)));
}

TEST_CASE("an attempt made after weeks is marked in the plots", "[app][home]") {
    const std::vector<app::PastAttempt> past{
        attempt("artery", "2026-05-30T12:00:00Z", true, sim::Heading::clearance, 0.9),
        attempt("artery", "2026-04-01T12:00:00Z", true, sim::Heading::clearance, 0.9),
        attempt("artery", "2026-03-31T12:00:00Z", true, sim::Heading::clearance, 0.9)};
    const auto records = app::heading_records(past);
    REQUIRE(records.size() == 1);
    CHECK_FALSE(records[0].points[0].after_weeks);
    CHECK_FALSE(records[0].points[1].after_weeks);
    CHECK(records[0].points[2].after_weeks);
}

TEST_CASE("coaching fades by one aid a pass, and says so", "[app][home]") {
    CHECK(app::coaching_after(0) == app::Coaching{true, true, true});
    CHECK(app::coaching_after(1) == app::Coaching{false, true, true});
    CHECK(app::coaching_after(2) == app::Coaching{false, false, true});
    CHECK(app::coaching_after(9) == app::Coaching{false, false, false});
    CHECK(app::coaching_words(0).empty());
    CHECK(app::coaching_words(2) == "Passed twice: cut-away and depth trace are off until you ask.");
    // of aids that a scenario does not allow, nothing is said
    files::AllowedAids few;
    few.set(files::kAidTrace).set(files::kAidForce);
    CHECK(app::coaching_words(1, few).empty());
    CHECK(app::coaching_words(3, few) == "Off until you ask: depth trace.");
    CHECK(app::aids_words(few) == "Aids here: depth trace, force.");
    CHECK(app::aids_words({}) == "No aids here.");
    CHECK(app::coaching_words(3, {}).empty());
    CHECK(app::aids_words(files::kAllAids).empty());
    const std::vector<app::PastAttempt> past{
        attempt("artery", "2026-05-30T12:00:00Z", true, sim::Heading::clearance, 0.9),
        attempt("artery", "2026-04-01T12:00:00Z", false, sim::Heading::clearance, 0.4),
        attempt("visit", "2026-03-31T12:00:00Z", true, sim::Heading::clearance, 0.9)};
    CHECK(app::passes_of(past, "artery") == 1);
}
