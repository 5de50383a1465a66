#include "engine/report/debrief_words.hpp"

#include <catch2/catch.hpp>

#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using sim::kMm;

namespace {

/// Too deep over six millimetres in the middle, near the artery later on.
sim::Recording deep_pass() {
    auto recording = support::plain_pass();
    auto& pieces = recording.tracks[0].pieces;
    for (std::size_t i = 30; i < 36; ++i) {
        pieces[i].deepest_m = 5.7 * kMm;
        pieces[i].middle_m.z = -5.7 * kMm;
    }
    pieces[40].clearance = {{0, 2.1 * kMm}};
    return recording;
}

}  // namespace

TEST_CASE("a loss knows the moment, the track and the distance it goes back to", "[report][words]") {
    const auto recording = deep_pass();
    const sim::Score score = sim::score(recording, support::shipped_rubric());
    const auto lost = report::losses(score, recording);
    REQUIRE(lost.size() == score.critical_faults.size() + score.deductions.size());
    const auto deep = std::find_if(lost.begin(), lost.end(), [](const report::Loss& l) {
        return l.what.find("too deep") != std::string::npos && l.what.find("of track") != std::string::npos;
    });
    REQUIRE(deep != lost.end());
    CHECK(deep->track == 0);
    REQUIRE(deep->along_m);
    CHECK_THAT(*deep->along_m / kMm, WithinAbs(30.5, 5.1));
    CHECK(deep->time_s > 0.0);
    CHECK_THAT(deep->place_words(), Contains("track 1 at 3"));
    CHECK_THAT(deep->detail, Contains("wanted at least 90 %"));
    for (std::size_t i = 0; i < lost.size(); ++i) CHECK(lost[i].number == static_cast<int>(i) + 1);
    for (const report::Loss& loss : report::costliest(lost, 3)) CHECK((loss.critical || loss.points >= 0.05));
    CHECK(report::costliest(lost, 2).size() <= 2);
}

TEST_CASE("the four large measures say what was wanted, or that nothing was measured", "[report][words]") {
    const sim::Rubric rubric = support::shipped_rubric();
    const auto large = report::headlines(sim::score(deep_pass(), rubric), rubric);
    REQUIRE(large.size() == 4);
    CHECK(large[0].title == "Plane accuracy");
    CHECK(large[0].value == "88 %");  // 6 of 50 mm past the ramp are out
    CHECK_THAT(large[0].wanted, Contains("90 %"));
    CHECK(large[1].value == "2.1 mm");
    CHECK_FALSE(large[2].measured());  // no ligament was met
    CHECK(large[2].value.empty());
}

TEST_CASE("the measure that cost most speaks for its heading, and a capped one says so", "[report][words]") {
    const sim::Rubric rubric = support::shipped_rubric();
    auto recording = support::plain_pass();
    const auto clear = report::headlines(sim::score(recording, rubric), rubric);
    CHECK(clear[1].value == "5 mm");
    CHECK(clear[1].measure == "or more, all along");
    // every barb holds, none of them in the plane
    recording.tray.push_back({});
    recording.tray.back().loaded = recording.tracks[0].loaded = true;
    for (int i = 0; i < 8; ++i)
        recording.tracks[0].barbs.push_back(
            {(10.0 + 5.0 * i) * kMm, i % 2 == 0 ? 1 : -1, sim::Layer::deep_fat, 0.5, true});
    const auto large = report::headlines(sim::score(recording, rubric), rubric);
    CHECK(large[3].measure == "Barbs in the fat");
    CHECK(large[3].value == "0 %");
}

TEST_CASE("the next step names the heading that cost most, its points and its cause", "[report][words]") {
    const sim::Rubric rubric = support::shipped_rubric();
    const std::string words = report::next_step_words(sim::score(deep_pass(), rubric));
    CHECK_THAT(words, Contains("cost most, ") && Contains("; first of all: ") && Contains(". Practise"));
    const sim::Score clean = sim::score(support::plain_pass(), rubric);
    REQUIRE(clean.total_of - clean.total_points < 0.05);
    CHECK(report::next_step_words(clean) == clean.next_step);
}

TEST_CASE("a table of measures keeps a row for what only one attempt has", "[report][words]") {
    const sim::Rubric rubric = support::shipped_rubric();
    const sim::Score one = sim::score(deep_pass(), rubric), other = sim::score(support::empty_recording(), rubric);
    const auto rows = report::measure_rows({&one, &other});
    REQUIRE(rows.size() >= one.measures.size());
    for (const report::MeasureRow& row : rows) CHECK(row.values.size() == 2);
    const auto clearance =
        std::find_if(rows.begin(), rows.end(), [](const auto& row) { return row.name == "least_clearance"; });
    REQUIRE(clearance != rows.end());
    CHECK(clearance->values[0] == "2.1 mm");
    CHECK(clearance->values[1] == "–");
    CHECK_THAT(clearance->points, Contains(" of "));
}
