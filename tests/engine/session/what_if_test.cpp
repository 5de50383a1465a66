#include "engine/session/what_if.hpp"

#include <catch2/catch.hpp>
#include <limits>

#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/core/errors.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"

using Catch::Matchers::WithinAbs;
using sim::kMm;

namespace {

/// The flat patient that the hand-made recordings lie in, with an artery across the way at x = 40 mm, 8 mm deep.
std::shared_ptr<sim::Model> flat_model() {
    sim::SlabParameters slab;
    sim::Structure artery;
    artery.name = "facial artery";
    artery.margin_m = 3.0 * kMm;
    artery.line = {{{40 * kMm, -50 * kMm, -8 * kMm}, 1.0 * kMm}, {{40 * kMm, 50 * kMm, -8 * kMm}, 1.0 * kMm}};
    slab.structures = {artery};
    auto model = std::make_shared<sim::Model>();
    model->anatomy = std::make_shared<sim::Slab>(slab);
    return model;
}

/// A pass at 4 mm whose pieces know the artery.
sim::Recording pass_over_artery() {
    sim::Recording recording = support::plain_pass();
    for (sim::TrackPiece& piece : recording.tracks[0].pieces) {
        // centre line to centre line, less the artery's radius and the shaft's: worked out by Pythagoras
        const double dx_m = std::max(0.0, std::abs(piece.middle_m.x - 40 * kMm) - 0.5 * kMm);
        const double wall_m = std::hypot(dx_m, piece.middle_m.z + 8 * kMm) - 1.5 * kMm;
        if (wall_m < 14.5 * kMm) piece.clearance = {{0, sim::quantised(wall_m)}};
    }
    return recording;
}

void check_same(const sim::Score& a, const sim::Score& b) {
    CHECK(a.total_points == b.total_points);
    CHECK(a.verdict == b.verdict);
    REQUIRE(a.measures.size() == b.measures.size());
    for (std::size_t i = 0; i < a.measures.size(); ++i) {
        INFO(a.measures[i].measure.name);
        CHECK(a.measures[i].measure.value == b.measures[i].measure.value);
        CHECK(a.measures[i].points == b.measures[i].points);
    }
    REQUIRE(a.deductions.size() == b.deductions.size());
    for (std::size_t i = 0; i < a.deductions.size(); ++i) CHECK(a.deductions[i].what == b.deductions[i].what);
}

}  // namespace

TEST_CASE("a path moved by nothing keeps its score to the last bit", "[session][what_if]") {
    const std::string name = GENERATE("hold_the_plane", "skirt_the_artery", "single_vector");
    const std::string skill = GENERATE("capable", "careless");
    INFO(name << " " << skill);
    const session::Prepared prepared = session::prepare(name, std::nullopt, {});
    const files::Script script = files::load_script(files::find_script(name + "." + skill));
    session::Session live(prepared.model, {sim::PracticeMode::solo, nullptr, nullptr});
    session::play_commands(live, script.commands, script.steps + 1);
    const sim::Score score = sim::score(live.recording(), prepared.rubric.rubric);
    check_same(session::what_if(*prepared.model, live.recording(), prepared.rubric.rubric, 0.0).score, score);
}

TEST_CASE("in flat tissue a moved path has the depths that geometry gives it", "[session][what_if]") {
    const auto model = flat_model();
    const sim::Rubric rubric = support::shipped_rubric();
    const sim::Recording recording = pass_over_artery();
    const double shift_mm = GENERATE(-1.0, 0.4, 1.0);
    INFO(shift_mm);
    const session::WhatIf moved = session::what_if(*model, recording, rubric, shift_mm * kMm);
    const auto& pieces = moved.recording.tracks[0].pieces;
    for (std::size_t i = 0; i < pieces.size(); ++i) {
        // the ramp of 10 mm takes the shift in; then it is whole
        const double share = std::min(1.0, (static_cast<double>(i) + 0.5) / 10.0);
        const double was_mm = recording.tracks[0].pieces[i].deepest_m / kMm;
        CHECK_THAT(pieces[i].deepest_m / kMm, WithinAbs(was_mm + share * shift_mm, 1e-6));
        CHECK_THAT(pieces[i].middle_m.z / kMm, WithinAbs(-(was_mm + share * shift_mm), 1e-6));
        CHECK(pieces[i].bottom_m == support::kBottomsM);
    }
    // straight over the artery: centre line 8 mm deep, artery 1 mm and shaft 0.5 mm thick to each side
    CHECK_THAT(pieces[39].clearance.at(0).distance_m / kMm, WithinAbs(8.0 - (4.0 + shift_mm) - 1.5, 1e-6));
    // 4 mm lies in the middle of the band, 1 mm from either end of it
    const auto figure = [&](const std::string& name) { return support::shown(sim::measure(moved.recording), name); };
    CHECK_THAT(figure("track_in_band"), WithinAbs(100.0, 1e-9));
    CHECK_THAT(figure("depth_bias"), WithinAbs(shift_mm, 1e-6));
    CHECK_THAT(figure("least_clearance"), WithinAbs(std::min(5.0, 2.5 - shift_mm), 1e-6));
}

TEST_CASE("a path moved past the band leaves it by what geometry says", "[session][what_if]") {
    const auto model = flat_model();
    const sim::Rubric rubric = support::shipped_rubric();
    const session::WhatIf deep = session::what_if(*model, support::plain_pass(), rubric, 1.6 * kMm);
    // axis at 5.6 mm, band to 5.0 mm, SMAS from 6.0 mm: the wall of the 0.5 mm shaft is in it
    CHECK_THAT(support::shown(sim::measure(deep.recording), "worst_deep"), WithinAbs(0.6, 1e-6));
    CHECK_THAT(support::shown(sim::measure(deep.recording), "track_in_band"), WithinAbs(0.0, 1e-9));
    // 0.1 mm into the SMAS past the ramp, and in the ramp's last piece: 5.6 - 0.05 * 1.6 = 5.52 + 0.5 > 6.0
    CHECK_THAT(support::shown(sim::measure(deep.recording), "smas_contact"), WithinAbs(51.0, 1e-9));
    const sim::Score as_made = sim::score(support::plain_pass(), rubric);
    CHECK(deep.score.total_points < as_made.total_points);
}

TEST_CASE("barbs of a moved path sit in the layers that it comes to", "[session][what_if]") {
    const auto model = flat_model();
    sim::Recording recording = support::plain_pass();
    recording.tray[0].loaded = true;
    sim::TrackRecord& track = recording.tracks[0];
    track.loaded = true;
    sim::ThreadSpec& thread = recording.tray[0].thread;
    thread.barb_free_m = 12.0 * kMm;
    const auto barb = [](double along_mm, bool seated) {
        return sim::BarbRecord{along_mm * kMm, 1, sim::Layer::superficial_fat, 0.12, seated};
    };
    const bool crooked = GENERATE(false, true);
    track.barbs = {barb(12.75, true), barb(14.25, !crooked)};
    const session::WhatIf moved = session::what_if(*model, recording, support::shipped_rubric(), 2.5 * kMm);
    const auto& barbs = moved.recording.tracks[0].barbs;
    REQUIRE(barbs.size() == 32);  // (60 - 12) mm of track at 1.5 mm
    for (std::size_t i = 0; i < barbs.size(); ++i) {
        CHECK(barbs[i].layer == sim::Layer::smas);  // 4 + 2.5 mm lies between 6 and 7 mm
        CHECK(barbs[i].seated == !(crooked && i % 2 == 1));
    }
}

TEST_CASE("a shift that is none is refused, and what stays as recorded is told apart", "[session][what_if]") {
    const auto model = flat_model();
    const sim::Rubric rubric = support::shipped_rubric();
    for (const double shift_m : {0.006, -0.0051, std::numeric_limits<double>::quiet_NaN()})
        CHECK_THROWS_AS(session::what_if(*model, support::plain_pass(), rubric, shift_m), sim::InputError);
    CHECK(session::is_recomputed("track_in_band"));
    CHECK(session::is_recomputed("clearance_facial_artery_left"));
    for (const char* kept : {"ligament_response", "plunge_travel", "walls_touched", "pilot_angle", "entry_distance"})
        CHECK_FALSE(session::is_recomputed(kept));
    CHECK(session::what_if_limits().find("as recorded") != std::string::npos);
}
