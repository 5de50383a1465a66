#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>

#include "engine/report/debrief_pdf.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/report/score_text.hpp"
#include "tests/support/pdf_text.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"

using Catch::Matchers::Contains;
using sim::EventKind;
using sim::kMm;
using sim::Vec3;
using support::event_of;
using support::squeezed;
using support::text_of_pdf;
using support::written_pdf;

namespace {

/// Careless: deep in the middle, shallow later, near the artery, a forced ligament, a thread half seated.
sim::Recording careless_pass() {
    auto recording = support::empty_recording();
    recording.tray.push_back({"Loaded cannula", sim::TipShape::blunt, 19, 0.09, true, {}});
    auto track = support::track_of(58);
    support::add_barbs(track);
    for (std::size_t b = 0; b < 12; ++b) track.barbs[b].seated = false;
    for (std::size_t i = 22; i < 34; ++i) {
        const double rise_m = 2.0 * kMm * std::sin(sim::kPi * static_cast<double>(i - 22) / 12.0);
        track.pieces[i].shallowest_m = track.pieces[i].deepest_m += rise_m;
        track.pieces[i].middle_m.z -= rise_m;
    }
    for (std::size_t i = 46; i < 51; ++i) track.pieces[i].shallowest_m = track.pieces[i].deepest_m = 2.6 * kMm;
    for (std::size_t i = 30; i < 52; ++i)
        track.pieces[i].clearance = {{0, (1.6 + 0.35 * std::abs(static_cast<double>(i) - 41.0)) * kMm}};
    support::run_track(recording, track,
                       {event_of(0, EventKind::ligament_met, 0, {2.0, 0, 0, 0}, {28 * kMm, 0, -5 * kMm}),
                        event_of(0, EventKind::ligament_parted, 0, {5.6, 0.012, 2.2 * kMm, 0}, {29 * kMm, 0, -5 * kMm}),
                        event_of(0, EventKind::thread_left, 0, {1, 0, 0, 0})});
    for (sim::TraceRow& row : recording.rows) {
        const double into_mm = row.inserted_m / kMm - 26.0;
        row.ligament_n = into_mm > 0.0 && into_mm < 4.0 ? 1.2 * into_mm : 0.0;
        row.friction_n = 0.012 * row.inserted_m / kMm;
        row.hand_n = row.tip_force_n + row.friction_n + row.ligament_n;
    }
    return recording;
}

report::DebriefFacts facts() { return {"5f0c9a1e77b2", "intact, finished", "planekeeper 0.1.0", "One pass", {}}; }

}  // namespace

TEST_CASE("the debrief holds verdict, every measure and every deduction on two pages", "[report][pdf]") {
    const sim::Rubric rubric = support::shipped_rubric();
    const sim::Recording recording = careless_pass();
    const sim::Score score = sim::score(recording, rubric);
    REQUIRE(score.verdict == sim::Verdict::fail);
    REQUIRE(score.deductions.size() >= 6);
    const auto path = written_pdf(report::debrief_pdf(recording, score, rubric, facts()), "debrief_careless.pdf");
    const std::string text = text_of_pdf(path);
    CHECK(std::count(text.begin(), text.end(), '\f') == 2);
    const std::string all = squeezed(text);
    CHECK_THAT(all, Contains("Notpassed"));
    for (const auto& measure : score.measures) {
        const sim::MeasureSpec* spec = sim::measure_named(measure.measure.name);
        CHECK_THAT(all, Contains(squeezed(spec != nullptr ? std::string(spec->title)
                                                          : report::measure_words(measure.measure.name))));
        CHECK_THAT(all, Contains(squeezed(report::figure(measure.measure.shown, measure.measure.unit))));
    }
    for (const auto& deduction : score.deductions) {
        // the list begins its lines with a capital
        CHECK_THAT(all, Contains(squeezed(deduction.what.substr(1))));
        CHECK_THAT(all, Contains(squeezed(deduction.accepted)));
    }
    CHECK_THAT(all, Contains(squeezed(report::next_step_words(score))));
    CHECK_THAT(all, Contains("5f0c9a1e77b2"));
    CHECK_THAT(all, Contains("Trainingaid:notamedicaldevice"));
}

TEST_CASE("the debrief of a clean pass and of nothing at all still has two pages", "[report][pdf]") {
    const sim::Rubric rubric = support::shipped_rubric();
    const auto recording = GENERATE(support::plain_pass(), support::empty_recording());
    const sim::Score score = sim::score(recording, rubric);
    const auto name = recording.tracks.empty() ? "debrief_nothing.pdf" : "debrief_clean.pdf";
    const std::string text =
        text_of_pdf(written_pdf(report::debrief_pdf(recording, score, rubric, facts(), report::Paper::letter), name));
    CHECK(std::count(text.begin(), text.end(), '\f') == 2);
    CHECK_THAT(text, Contains(recording.tracks.empty() ? "Not finished" : "Passed"));
}

TEST_CASE("where threads were pulled a third page tells what they hold and lift", "[report][pdf]") {
    const sim::Rubric rubric = support::shipped_rubric();
    sim::Recording recording = support::plain_pass();
    recording.plan = {{{0.06, 0.0, 0.0}, {0.0, 0.0, 0.0}, sim::Side::left}};
    recording.concerns = {{"jowl", sim::Side::left, {}}, {"jowl", sim::Side::right, {}}};
    sim::LiftRow pulled, let_go;
    pulled.step = 2500;
    pulled.moved_m = {Vec3(2.0, 1.5, 0.0) * kMm, Vec3(0.0)};
    let_go.step = 5000;
    let_go.moved_m = {Vec3(0.4, 0.0, 0.3) * kMm, Vec3(0.0)};
    recording.lifts = {pulled, let_go};
    report::DebriefFacts with = facts();
    sim::HeldThread& thread = with.threads.emplace_back();
    thread.in_tissue_m = 58.0 * kMm;
    thread.tail_out_m = 2.9 * kMm;
    for (int i = 0; i < 12; ++i) {
        sim::HeldBarb& barb = thread.barbs.emplace_back();
        barb.along_m = (55.0 - 4.0 * i) * kMm;
        barb.force_n = i < 6 ? 0.08 : -0.08;
        barb.state = i == 3 ? sim::BarbState::slipped : sim::BarbState::seated;
    }
    const auto score = sim::score(recording, rubric);
    const auto pages = [&] {
        return text_of_pdf(written_pdf(report::debrief_pdf(recording, score, rubric, with), "debrief_lift.pdf"));
    };
    const std::string text = pages();
    CHECK(std::count(text.begin(), text.end(), '\f') == 3);
    const std::string all = squeezed(text);
    CHECK_THAT(all, Contains("2.5mm,along2.0mm"));  // 3-4-5, and its part along the vector
    CHECK_THAT(all, Contains("0.5mm,along0.4mm"));
    CHECK_THAT(all, Contains("underthehands,00:10"));
    CHECK_THAT(all, Contains("58mmlieinthetissue"));
    CHECK_THAT(all, Contains("11seated"));
    CHECK_THAT(all, Contains("1slipped"));
    // what finds no room is told
    with.threads.assign(9, sim::HeldThread(thread));
    CHECK_THAT(squeezed(pages()), Contains("furtherthreads"));
}

TEST_CASE("pictures are printed, and one whose pixels do not fit its size is refused", "[report][pdf]") {
    const sim::Rubric rubric = support::shipped_rubric();
    const sim::Recording recording = support::plain_pass();
    const sim::Score score = sim::score(recording, rubric);
    report::DebriefFacts with = facts();
    with.pictures.push_back({40, 30, std::vector<std::uint8_t>(40 * 30 * 4, 128), "Front"});
    CHECK_THAT(text_of_pdf(written_pdf(report::debrief_pdf(recording, score, rubric, with), "debrief_picture.pdf")),
               Contains("Front"));
    with.pictures[0].rgba.pop_back();
    CHECK_THROWS_WITH(report::debrief_pdf(recording, score, rubric, with), Contains("picture"));
}

TEST_CASE("the section along the shaft is printed with its moment, in a window that holds a deep tip", "[report]") {
    const auto recording = careless_pass();
    const auto rubric = support::shipped_rubric();
    const sim::Score score = sim::score(recording, rubric);
    report::DebriefFacts with = facts();
    constexpr double kTipDepthMm = 24.0;
    std::optional<view::SliceWindow> asked;
    with.section = report::ShaftSection{"Number 1: track 1 at 31 mm, 00:31", kTipDepthMm,
                                        [&](const view::SliceWindow& window) -> std::optional<view::Slice> {
                                            asked = window;
                                            return std::nullopt;
                                        }};
    const std::string text =
        squeezed(text_of_pdf(written_pdf(report::debrief_pdf(recording, score, rubric, with), "section.pdf")));
    CHECK_THAT(text, Contains("Sectionalongtheshaft"));
    CHECK_THAT(text, Contains("Number1:track1at31mm,00:31"));
    REQUIRE(asked);
    CHECK(asked->bottom_mm > kTipDepthMm);
    CHECK(asked->left_mm < asked->right_mm);
    const std::string without =
        squeezed(text_of_pdf(written_pdf(report::debrief_pdf(recording, score, rubric, facts()), "no_section.pdf")));
    CHECK_THAT(without, !Contains("Sectionalongtheshaft"));
}
