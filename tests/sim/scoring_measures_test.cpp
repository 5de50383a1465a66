#include <catch2/catch.hpp>

#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"

using Catch::Matchers::WithinAbs;
using sim::EventKind;
using sim::kMm;
using support::event_of;
using support::has;
using support::plain_pass;
using support::run_track;
using support::shown;
using support::track_of;

namespace {
constexpr double kExactMm = 1e-6;
}

TEST_CASE("the target band follows the thickness of the fat", "[sim][scoring]") {
    const sim::Bands bands;
    const auto band = [&](double fat_mm, double radius_mm) {
        return sim::target_band({1.5 * kMm, (1.5 + fat_mm) * kMm, 9 * kMm, 10 * kMm, 11 * kMm}, radius_mm * kMm, bands);
    };
    // 4.5 mm of fat: 1 mm below the dermis and 0.5 mm above the SMAS, by the wall
    CHECK_THAT(band(4.5, 0.5).top_m / kMm, WithinAbs(3.0, kExactMm));
    CHECK_THAT(band(4.5, 0.5).bottom_m / kMm, WithinAbs(5.0, kExactMm));
    // under 3 mm: 0.5 each way
    CHECK_THAT(band(2.8, 0.5).top_m / kMm, WithinAbs(2.5, kExactMm));
    CHECK_THAT(band(2.8, 0.5).bottom_m / kMm, WithinAbs(3.3, kExactMm));
    // under 2.2 mm: the axis within 0.25 mm of the middle, whatever the radius
    CHECK_THAT(band(2.0, 0.7).top_m / kMm, WithinAbs(2.25, kExactMm));
    CHECK_THAT(band(2.0, 0.7).bottom_m / kMm, WithinAbs(2.75, kExactMm));
    // a shaft too thick for the rule: 3 mm of fat less 1.5 leaves no room for 1.65 mm
    CHECK_THAT(band(3.0, 0.825).middle_m() / kMm, WithinAbs(3.0, kExactMm));
}

TEST_CASE("a straight pass at a known depth gives what geometry gives", "[sim][scoring]") {
    // band 3 to 5 mm for the axis, middle 4 mm; past the ramp 50 of 60 mm
    struct Case {
        double depth_mm, in_band, bias_mm, deep_mm, shallow_mm, smas_mm, below_mm, dermis_mm;
    };
    const Case one =
        GENERATE(Case{4.0, 100, 0, 0, 0, 0, 0, 0}, Case{5.0, 100, 1, 0, 0, 0, 0, 0}, Case{3.0, 100, -1, 0, 0, 0, 0, 0},
                 Case{5.2, 0, 1.2, 0.2, 0, 0, 0, 0}, Case{5.5, 0, 1.5, 0.5, 0, 52, 0, 0},
                 Case{7.5, 0, 3.5, 2.5, 0, 52, 52, 0}, Case{1.9, 0, -2.1, 0, 1.1, 0, 0, 50});
    const auto measured = sim::measure(plain_pass(one.depth_mm * kMm));
    CHECK_THAT(shown(measured, "track_in_band"), WithinAbs(one.in_band, kExactMm));
    CHECK_THAT(shown(measured, "depth_bias"), WithinAbs(one.bias_mm, kExactMm));
    CHECK_THAT(shown(measured, "depth_rms"), WithinAbs(std::abs(one.bias_mm), kExactMm));
    CHECK_THAT(shown(measured, "worst_deep"), WithinAbs(one.deep_mm, kExactMm));
    CHECK_THAT(shown(measured, "worst_shallow"), WithinAbs(one.shallow_mm, kExactMm));
    CHECK_THAT(shown(measured, "smas_contact"), WithinAbs(one.smas_mm, kExactMm));
    CHECK_THAT(shown(measured, "below_smas"), WithinAbs(one.below_mm, kExactMm));
    CHECK_THAT(shown(measured, "dermis_length"), WithinAbs(one.dermis_mm, kExactMm));
    CHECK_THAT(shown(measured, "planned_length_reached"), WithinAbs(100.0, kExactMm));
}

TEST_CASE("bias and scatter are told apart", "[sim][scoring]") {
    auto recording = plain_pass();
    auto& pieces = recording.tracks[0].pieces;
    // ten pieces 0.8 mm deep and ten 0.8 mm shallow of 50: no bias, RMS 0.8 * sqrt(20 / 50)
    for (std::size_t i = 20; i < 30; ++i) pieces[i].deepest_m = pieces[i].shallowest_m = 4.8 * kMm;
    for (std::size_t i = 30; i < 40; ++i) pieces[i].deepest_m = pieces[i].shallowest_m = 3.2 * kMm;
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "depth_bias"), WithinAbs(0.0, kExactMm));
    CHECK_THAT(shown(measured, "depth_rms"), WithinAbs(0.8 * std::sqrt(0.4), kExactMm));
    CHECK_THAT(shown(measured, "track_in_band"), WithinAbs(100.0, kExactMm));
}

TEST_CASE("excursions are told with side, length, place and time", "[sim][scoring]") {
    auto recording = plain_pass();
    auto& pieces = recording.tracks[0].pieces;
    for (std::size_t i = 25; i < 30; ++i) pieces[i].deepest_m = 5.4 * kMm;
    pieces[27].deepest_m = 5.9 * kMm;
    for (std::size_t i = 30; i < 32; ++i) pieces[i].shallowest_m = 2.7 * kMm;
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "track_in_band"), WithinAbs(100.0 * 43 / 50, kExactMm));
    CHECK(shown(measured, "excursions_deep") == 1.0);
    CHECK(shown(measured, "excursions_shallow") == 1.0);
    CHECK_THAT(shown(measured, "worst_deep"), WithinAbs(0.9, kExactMm));
    CHECK(shown(measured, "layers_breached") == 1.0);  // the wall reached 6.4 mm: into the SMAS

    std::vector<sim::Finding> band;
    for (const auto& finding : measured.findings)
        if (finding.measure == "track_in_band") band.push_back(finding);
    REQUIRE(band.size() == 2);
    CHECK(band[0].what == "5.0 mm of track too deep, up to 0.9 mm past the band");
    CHECK(band[1].what == "2.0 mm of track too shallow, up to 0.3 mm past the band");
    CHECK_THAT(band[0].weight, WithinAbs(5.0, 1e-9));
    CHECK_THAT(band[0].place_m.x / kMm, WithinAbs(27.5, kExactMm));
    // rows lie 25 steps of 4 ms apart, the first at step 125 with nothing inserted
    CHECK_THAT(band[0].time_s, WithinAbs((125 + 27 * 25) * 0.004, 1e-9));
}

TEST_CASE("what was not made counts as out of band, what was made beyond the plan does not count", "[sim][scoring]") {
    CHECK_THAT(shown(sim::measure(plain_pass(4 * kMm, 50)), "track_in_band"), WithinAbs(80.0, kExactMm));
    CHECK_THAT(shown(sim::measure(plain_pass(4 * kMm, 50)), "planned_length_reached"),
               WithinAbs(100.0 * 50 / 60, kExactMm));
    auto longer = plain_pass(4 * kMm, 70);
    for (std::size_t i = 20; i < 30; ++i) longer.tracks[0].pieces[i].deepest_m = 5.5 * kMm;
    CHECK_THAT(shown(sim::measure(longer), "track_in_band"), WithinAbs(80.0, kExactMm));
    auto none = support::empty_recording();
    CHECK_THAT(shown(sim::measure(none), "track_in_band"), WithinAbs(0.0, kExactMm));
    CHECK_THAT(shown(sim::measure(none), "planned_length_reached"), WithinAbs(0.0, kExactMm));
    CHECK_FALSE(has(sim::measure(none), "least_clearance"));
}

TEST_CASE("length made by wandering does not reach the planned end", "[sim][scoring]") {
    auto recording = plain_pass();
    recording.tracks[0].end_m = {25.5 * kMm, 20 * kMm, -4 * kMm};
    // 25.5 mm of progress of 0.85 * 60 mm
    CHECK_THAT(shown(sim::measure(recording), "planned_length_reached"), WithinAbs(50.0, kExactMm));
}

TEST_CASE("entry and pilot are measured from their events", "[sim][scoring]") {
    auto recording = plain_pass();
    recording.tracks[0].entry_m = {0, 4.5 * kMm, 0};
    recording.events.push_back(
        event_of(60, EventKind::entry_opened, 1, {20.0 * sim::kPi / 180, 6.7 * kMm, 6.0 * kMm, 1.2 * kMm}));
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "entry_distance"), WithinAbs(4.5, kExactMm));
    CHECK_THAT(shown(measured, "pilot_angle"), WithinAbs(20.0, kExactMm));
    CHECK_THAT(shown(measured, "pilot_past_fat"), WithinAbs(0.7, kExactMm));
}

TEST_CASE("clearance is the least of all tracks to structures that the plane does not keep safe", "[sim][scoring]") {
    auto recording = support::empty_recording();
    auto abandoned = track_of(30);
    abandoned.final = false;
    abandoned.pieces[20].clearance = {{0, 1.4 * kMm}};
    run_track(recording, abandoned);
    auto track = track_of(60);
    track.pieces[40].clearance = {{0, 2.5 * kMm}, {1, 0.5 * kMm}};
    run_track(recording, track);
    auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "least_clearance"), WithinAbs(1.4, kExactMm));
    CHECK_THAT(shown(measured, "clearance_facial_artery_left"), WithinAbs(1.4, kExactMm));
    CHECK_THAT(shown(measured, "length_in_margins"), WithinAbs(1.0, kExactMm));
    // the nerve is deep and the plane was kept: 0.5 mm to it is no fault
    CHECK_THAT(shown(measured, "deep_margin_intrusion"), WithinAbs(0.0, kExactMm));
    // where the wall leaves the fat, 0.5 mm of a margin of 2 mm is left
    recording.tracks[1].pieces[40].deepest_m = 5.8 * kMm;
    measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "deep_margin_intrusion"), WithinAbs(75.0, kExactMm));
}

TEST_CASE("clearance beyond the cap is not told apart", "[sim][scoring]") {
    const auto capped = [](const sim::Recording& recording) {
        const auto measured = sim::measure(recording);
        return std::any_of(measured.measures.begin(), measured.measures.end(),
                           [](const sim::Measure& m) { return m.name == "least_clearance" && m.capped; });
    };
    auto recording = plain_pass();
    CHECK_THAT(shown(sim::measure(recording), "least_clearance"), WithinAbs(5.0, kExactMm));
    CHECK(capped(recording));
    recording.tracks[0].pieces[40].clearance = {{0, 4.9 * kMm}};
    CHECK_FALSE(capped(recording));
}

TEST_CASE("what was not made is found where the tip came farthest, not where it left the skin", "[sim][scoring]") {
    auto recording = plain_pass(4 * kMm, 40);
    std::int64_t farthest = 0;
    for (const sim::TraceRow& row : recording.rows)
        if (farthest == 0 && row.inserted_m > 40 * kMm - 1e-9) farthest = row.step;
    REQUIRE(farthest > 0);
    recording.tracks[0].length_m = 40.2 * kMm;  // past the last row
    auto out = recording.rows.back();
    out.step += 500;
    out.inserted_m = 0.2 * kMm;
    recording.rows.push_back(out);
    const auto measured = sim::measure(recording);
    const auto missing = std::find_if(measured.findings.begin(), measured.findings.end(), [](const sim::Finding& f) {
        return f.what.find("was not made") != std::string::npos;
    });
    REQUIRE(missing != measured.findings.end());
    CHECK_THAT(missing->time_s, WithinAbs(static_cast<double>(farthest) * sim::kStepS, 1e-9));
}

TEST_CASE("the response to a ligament is judged, newtons are shown", "[sim][scoring]") {
    const sim::Event met = event_of(0, EventKind::ligament_met, 0, {1.5, 0, 0, 0});
    const sim::Event stopped = event_of(0, EventKind::ligament_stopped, 0, {2.5, 0, 0, 0});
    const sim::Event skirted = event_of(0, EventKind::ligament_skirted, 0, {2.5, 0.002, 0, 0});
    const auto parted = [](double plunge_mm) {
        return event_of(0, EventKind::ligament_parted, 0, {6.0, 0.01, plunge_mm * kMm, 0});
    };
    const auto response = [&](std::vector<sim::Event> during) {
        return shown(sim::measure(plain_pass(4 * kMm, 60, std::move(during))), "ligament_response");
    };
    CHECK_THAT(response({met, stopped, skirted}), WithinAbs(100, 1e-9));
    CHECK_THAT(response({met, stopped}), WithinAbs(100, 1e-9));
    CHECK_THAT(response({met, stopped, parted(0.5)}), WithinAbs(60, 1e-9));
    CHECK_THAT(response({met, parted(0.5)}), WithinAbs(25, 1e-9));
    CHECK_THAT(response({met, stopped, parted(2.5)}), WithinAbs(0, 1e-9));
    // a plunge told by its own event within a second of parting belongs to it
    CHECK_THAT(response({met, stopped, parted(0.0), event_of(0, EventKind::plunge, -1, {4.0 * kMm, 6.0, 0, 0})}),
               WithinAbs(0, 1e-9));

    const auto measured = sim::measure(plain_pass(4 * kMm, 60, {met, parted(2.5)}));
    CHECK_THAT(shown(measured, "ligament_peak_force"), WithinAbs(6.0, 1e-12));
    CHECK_THAT(shown(measured, "ligament_work"), WithinAbs(10.0, 1e-9));
    CHECK_THAT(shown(measured, "plunge_travel"), WithinAbs(2.5, kExactMm));
    CHECK_FALSE(has(sim::measure(plain_pass()), "ligament_response"));
}

TEST_CASE("what a plunge takes from the plane is lost under ligaments, once", "[sim][scoring]") {
    // at 29 mm it gives way: 4 mm towards the skin, and back by hand over 3 more
    auto recording = plain_pass(4 * kMm, 60,
                                {event_of(0, EventKind::ligament_met, 0, {1.5, 0, 0, 0}),
                                 event_of(0, EventKind::ligament_parted, 0, {6.0, 0.01, 4.0 * kMm, 0})});
    for (std::size_t i = 29; i < 36; ++i) recording.tracks[0].pieces[i].shallowest_m = 2.5 * kMm;
    recording.tracks[0].pieces[32].shallowest_m = 1.8 * kMm;  // the worst of it in the plunge: 1.2 mm past the band
    const auto measured = sim::measure(recording);
    const auto steered = [&](const std::string& name) {
        for (const sim::Measure& one : measured.measures)
            if (one.name == name) return one.steered.value();
        throw std::runtime_error(name);
    };
    CHECK_THAT(shown(measured, "track_in_band"), WithinAbs(100.0 * 43 / 50, kExactMm));
    CHECK_THAT(steered("track_in_band"), WithinAbs(100.0 * 47 / 50, kExactMm));
    CHECK_THAT(shown(measured, "worst_shallow"), WithinAbs(1.2, kExactMm));
    CHECK_THAT(steered("worst_shallow"), WithinAbs(0.5, kExactMm));

    const sim::Rubric rubric = support::shipped_rubric();
    const sim::Score now = sim::score(recording, rubric);
    recording.scoring_version = 1;  // an attempt of the first version keeps what it was told
    const sim::Score then = sim::score(recording, rubric);
    CHECK_THAT(now.total_points, WithinAbs(then.total_points, 1e-9));
    CHECK_THAT(now.total_of, WithinAbs(then.total_of, 1e-9));
    const auto of = [](const sim::Score& score, sim::Heading heading) {
        return score.heading_of[static_cast<std::size_t>(heading)];
    };
    const double moved = of(now, sim::Heading::ligament_resistance) - of(then, sim::Heading::ligament_resistance);
    CHECK(moved > 5.0);
    CHECK_THAT(of(then, sim::Heading::plane_accuracy) - of(now, sim::Heading::plane_accuracy), WithinAbs(moved, 1e-9));
    double told = 0.0;
    for (const sim::Deduction& one : now.deductions)
        if (one.what.find("lost to the plunge") != std::string::npos) told += one.points;
    CHECK_THAT(told, WithinAbs(moved, 1e-9));

    // travel of a millimetre or less is no plunge
    recording.scoring_version = sim::kScoringVersion;
    for (sim::Event& event : recording.events)
        if (event.kind == EventKind::ligament_parted) event.value[2] = 1.0 * kMm;
    for (const sim::Measure& one : sim::measure(recording).measures) CHECK_FALSE(one.steered.has_value());
}

TEST_CASE("barbs are counted by seat, plane, quarter and direction", "[sim][scoring]") {
    auto recording = support::empty_recording();
    auto track = track_of(60);
    support::add_barbs(track);
    // the first quarter holds barbs 0 to 9: four of them do not seat; two of the second quarter lie in the SMAS
    for (std::size_t i = 0; i < 4; ++i) track.barbs[i].seated = false;
    track.barbs[12].layer = track.barbs[13].layer = sim::Layer::smas;
    run_track(recording, track);
    const auto measured = sim::measure(recording);
    CHECK_THAT(shown(measured, "barbs_seated"), WithinAbs(90.0, 1e-9));
    CHECK_THAT(shown(measured, "barbs_in_plane"), WithinAbs(85.0, 1e-9));
    CHECK_THAT(shown(measured, "seated_in_worst_quarter"), WithinAbs(60.0, 1e-9));
    CHECK_THAT(shown(measured, "hold"), WithinAbs(1.6, 1e-9));  // 16 of 20 toward the entry, 20 the other way
}

TEST_CASE("a thread that the tray holds and nobody left holds nothing", "[sim][scoring]") {
    auto recording = plain_pass();
    CHECK_FALSE(has(sim::measure(recording), "barbs_seated"));
    recording.tray.push_back({"Loaded cannula", sim::TipShape::blunt, 19, 0.09, true, {}});
    CHECK_THAT(shown(sim::measure(recording), "barbs_seated"), WithinAbs(0.0, 1e-9));
}
