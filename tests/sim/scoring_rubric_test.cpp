#include <catch2/catch.hpp>
#include <limits>

#include "sim/core/errors.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using sim::kMm;
using sim::Verdict;

namespace {

/// One item: share in band, nothing below 80 %, full from 90 %.
sim::Rubric small_rubric() {
    sim::Rubric rubric;
    rubric.id = "small";
    rubric.items.push_back(
        {"track_in_band", sim::Heading::plane_accuracy, 10.0, {{80, 0, 0}, {90, 1, 0}}, "at least 90 %", ""});
    rubric.critical.push_back({"forced_plunge", "forced", 3.0, 0.0});
    return rubric;
}

template <class Spoil>
void refuses(Spoil spoil, const std::string& place) {
    sim::Rubric rubric = small_rubric();
    REQUIRE_NOTHROW(sim::validate(rubric));
    spoil(rubric);
    CHECK_THROWS_AS(sim::validate(rubric), sim::InputError);
    CHECK_THROWS_WITH(sim::validate(rubric), Contains(place));
}

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// `out` of the 50 mm past the ramp 0.5 mm too deep.
sim::Recording with_out_of_band(std::size_t out) {
    auto recording = support::plain_pass();
    for (std::size_t i = 20; i < 20 + out; ++i) recording.tracks[0].pieces[i].deepest_m = 5.5 * kMm;
    return recording;
}

}  // namespace

TEST_CASE("the rubric that ships is accepted", "[sim][scoring]") {
    CHECK_NOTHROW(sim::validate(support::shipped_rubric()));
}

TEST_CASE("a rubric that cannot be used is refused by item and value", "[sim][scoring]") {
    const double bad_points = GENERATE(0.0, -1.0, kNan, std::numeric_limits<double>::infinity());
    refuses([&](auto& r) { r.items[0].points = bad_points; }, "items[0].points");
    refuses([](auto& r) { r.id.clear(); }, "id");
    refuses([](auto& r) { r.items.clear(); }, "items");
    refuses([](auto& r) { r.items[0].measure = "beauty"; }, "beauty");
    refuses([](auto& r) { r.items[0].heading = sim::Heading::clearance; }, "items[0].heading");
    refuses([](auto& r) { r.items[0].accepted.clear(); }, "items[0].accepted");
    refuses([](auto& r) { r.items.push_back(r.items[0]); }, "items[1].measure");
    refuses([](auto& r) { r.items[0].curve.pop_back(); }, "items[0].curve");
    refuses([](auto& r) { r.items[0].curve[1].at = 80; }, "items[0].curve[1].at");
    refuses([](auto& r) { r.items[0].curve[1].at = kNan; }, "items[0].curve[1].at");
    refuses([](auto& r) { r.items[0].curve[1].share = 1.1; }, "items[0].curve[1].share");
    refuses([](auto& r) { r.items[0].curve[0].share = kNan; }, "items[0].curve[0].share");
    refuses([](auto& r) { r.items[0].curve[1].share = 0.9; }, "items[0].curve");
    refuses([](auto& r) { r.items[0].curve[0].spread = -1; }, "items[0].curve[0].spread");
    refuses([](auto& r) { r.items[0].in_proportion_to = "worst_deep"; }, "in_proportion_to");
    refuses([](auto& r) { r.items[0].in_proportion_to = "track_in_band"; }, "in_proportion_to");
    refuses([](auto& r) { r.critical[0].event = "sneezed"; }, "critical[0].event");
    refuses([](auto& r) { r.critical[0].words.clear(); }, "critical[0].words");
    refuses([](auto& r) { r.critical[0].threshold = kNan; }, "critical[0].threshold");
    refuses([](auto& r) { r.critical[0].spread = -0.1; }, "critical[0].threshold.spread");
    refuses([](auto& r) { r.critical.push_back(r.critical[0]); }, "critical[1].event");
    refuses([](auto& r) { r.pass_share = 0.0; }, "pass_share");
    refuses([](auto& r) { r.pass_share = kNan; }, "pass_share");
    refuses([](auto& r) { r.heading_share = 1.01; }, "heading_share");
    refuses([](auto& r) { r.bands.ramp_m.value = -1.0 * kMm; }, "bands.ramp_mm");
    refuses([](auto& r) { r.bands.above_smas_m.value = kNan; }, "bands.above_smas_mm");
    refuses([](auto& r) { r.bands.thin_fat_m.spread = kNan; }, "bands.thin_fat_mm");
}

TEST_CASE("points follow the curve", "[sim][scoring]") {
    struct Case {
        std::size_t out;
        double points;
    };
    // 2 % of the 50 mm for each piece out: 94, 90, 86, 80, 60 %
    const Case one = GENERATE(Case{3, 10}, Case{5, 10}, Case{7, 6}, Case{10, 0}, Case{20, 0});
    const sim::Score score = sim::score(with_out_of_band(one.out), small_rubric());
    CHECK_THAT(score.total_points, WithinAbs(one.points, 1e-9));
    CHECK_THAT(score.total_of, WithinAbs(10.0, 1e-9));
}

TEST_CASE("a verdict near a threshold is less stable than one far from it", "[sim][scoring]") {
    sim::Rubric rubric = small_rubric();
    for (auto& point : rubric.items[0].curve) point.spread = 2.0;
    // pass needs 8 of 10 points: 88 %
    const sim::Score near = sim::score(with_out_of_band(6), rubric), far = sim::score(with_out_of_band(0), rubric);
    CHECK(near.verdict == Verdict::pass);
    CHECK(near.verdict_stability < 0.9);
    CHECK(near.verdict_stability > 0.1);
    CHECK(far.verdict_stability == 1.0);
    // the same record scores the same again, to the bit
    CHECK(sim::score(with_out_of_band(6), rubric).verdict_stability == near.verdict_stability);
    // without spread there is nothing to draw
    sim::Rubric fixed = small_rubric();
    for (const auto& field : sim::band_fields()) (fixed.bands.*field.field).spread = 0.0;
    CHECK(sim::score(with_out_of_band(6), fixed).verdict_stability == 1.0);
}

TEST_CASE("each heading needs its own share", "[sim][scoring]") {
    sim::Rubric rubric = small_rubric();
    rubric.items[0].points = 90.0;
    rubric.items.push_back({"least_clearance", sim::Heading::clearance, 10.0, {{1, 0, 0}, {3, 1, 0}}, "3 mm", ""});
    auto recording = support::plain_pass();
    recording.tracks[0].pieces[30].clearance = {{0, 2.0 * kMm}};  // half of a tenth lost: 95 %, but 50 % in clearance
    CHECK(sim::score(recording, rubric).verdict == Verdict::fail);
    rubric.heading_share = 0.5;
    CHECK(sim::score(recording, rubric).verdict == Verdict::pass);
    // a heading that the scenario leaves out is left out of total and rule
    rubric.heading_share = 0.7;
    recording.headings = {"plane_accuracy"};
    const sim::Score score = sim::score(recording, rubric);
    CHECK(score.verdict == Verdict::pass);
    CHECK_THAT(score.total_of, WithinAbs(90.0, 1e-9));
}

TEST_CASE("a score says what to practise next from what cost most", "[sim][scoring]") {
    CHECK_THAT(sim::score(support::plain_pass(), small_rubric()).next_step, Contains("variant"));
    CHECK_THAT(sim::score(with_out_of_band(30), small_rubric()).next_step, Contains("superficial fat"));
    auto unfinished = support::plain_pass();
    unfinished.finished = false;
    CHECK_THAT(sim::score(unfinished, small_rubric()).next_step, Contains("finish"));
}
