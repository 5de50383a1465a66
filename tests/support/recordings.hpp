#pragma once

#include <string>
#include <vector>

#include "sim/scoring/rubric.hpp"

/// Records built by hand: a straight pass along x in flat tissue, with everything around it that scoring reads.
///
/// Skin 1.5 mm, fat to 6 mm, SMAS to 7 mm, deep fat to 10 mm, muscle to 15 mm. A shaft of 0.5 mm radius has its target
/// band for the axis from 1.5 + 1 + 0.5 = 3 mm to 6 - 0.5 - 0.5 = 5 mm.

namespace support {

using sim::kMm;

inline constexpr std::array<double, sim::kTissueLayers> kBottomsM{1.5 * kMm, 6.0 * kMm, 7.0 * kMm, 10.0 * kMm,
                                                                  15.0 * kMm};
inline constexpr double kMidBandM = 4.0 * kMm;
inline constexpr int kPlannedMm = 60;

/// Depth of the axis in the ramp: straight down to the middle of the band over the first 8 mm.
inline double ramp_depth_m(int piece) { return kMidBandM * std::min(1.0, (piece + 0.5) / 8.0); }

inline sim::TrackRecord track_of(int length_mm, double depth_m = kMidBandM) {
    sim::TrackRecord track;
    track.shaft_radius_m = 0.5 * kMm;
    track.length_m = length_mm * kMm;
    track.end_m = {length_mm * kMm, 0.0, -depth_m};
    for (int i = 0; i < length_mm; ++i) {
        const double at_m = i < 8 ? std::min(depth_m, ramp_depth_m(i)) : depth_m;
        track.pieces.push_back({{(i + 0.5) * kMm, 0.0, -at_m}, at_m, at_m, kBottomsM, {}});
    }
    return track;
}

inline void add_rows(sim::Recording& recording, const sim::TrackRecord& track) {
    for (std::size_t i = 0; i <= track.pieces.size(); ++i) {
        sim::TraceRow row;
        row.step = recording.steps += 25;
        row.track = track.track;
        row.inserted_m = static_cast<double>(i) * kMm;
        row.tip_m = {row.inserted_m, 0.0, i > 0 ? track.pieces[i - 1].middle_m.z : 0.0};
        row.layers.depth_m = -row.tip_m.z;
        row.layers.bottom_m = kBottomsM;
        row.layers.layer = sim::Layer::superficial_fat;
        row.hand_n = 0.8;
        row.tip_force_n = 0.5;
        row.friction_n = 0.3;
        recording.rows.push_back(row);
    }
}

inline sim::Event event_of(std::int64_t step, sim::EventKind kind, int subject = -1, std::array<double, 4> value = {},
                           sim::Vec3 place_m = {}) {
    return {step, kind, subject, place_m, value};
}

/// Without a track: add one with close_with().
inline sim::Recording empty_recording() {
    sim::Recording recording;
    recording.scenario_id = "hold_the_plane";
    recording.scenario_title = "Hold the plane";
    recording.rubric_id = "one_pass";
    recording.tray.push_back({"Blunt cannula", sim::TipShape::blunt, 19, 90.0 * kMm, false, {}});
    sim::PlannedVector vector;
    vector.end_m = {kPlannedMm * kMm, 0.0, 0.0};
    vector.length_m = kPlannedMm * kMm;
    recording.plan.push_back(vector);
    recording.structures.push_back(
        {"facial artery", sim::StructureKind::artery, sim::Side::left, 3.0 * kMm, 4.0 * kMm, true});
    recording.structures.push_back(
        {"marginal mandibular nerve", sim::StructureKind::nerve, sim::Side::left, 2.0 * kMm, 8.0 * kMm, false});
    recording.ligaments.push_back({"mandibular ligament", sim::Side::left, 6.0});
    recording.finished = true;
    recording.steps = 100;
    constexpr double kRadPerDegree = sim::kPi / 180.0;
    recording.events.push_back(
        event_of(50, sim::EventKind::entry_opened, 0, {38.0 * kRadPerDegree, 4.0 * kMm, kBottomsM[1], 1.2 * kMm}));
    return recording;
}

/// Open, run and close a track, so that rows, events and the record agree. Events given fall halfway along it.
inline void run_track(sim::Recording& recording, sim::TrackRecord track, std::vector<sim::Event> during = {}) {
    track.track = static_cast<int>(recording.tracks.size());
    recording.events.push_back(event_of(recording.steps, sim::EventKind::track_opened, track.track));
    const std::int64_t halfway = recording.steps + 25 * static_cast<std::int64_t>(track.pieces.size()) / 2;
    add_rows(recording, track);
    for (sim::Event& event : during) {
        if (event.step == 0) event.step = halfway;
        recording.events.push_back(event);
    }
    recording.events.push_back(event_of(recording.steps, sim::EventKind::withdrawal_began, track.track));
    recording.steps += 100;
    recording.events.push_back(event_of(recording.steps, sim::EventKind::track_closed, track.track));
    recording.tracks.push_back(std::move(track));
}

/// A finished bare pass of the whole planned length at one depth.
inline sim::Recording plain_pass(double depth_m = kMidBandM, int length_mm = kPlannedMm,
                                 std::vector<sim::Event> during = {}) {
    sim::Recording recording = empty_recording();
    run_track(recording, track_of(length_mm, depth_m), std::move(during));
    recording.events.push_back(event_of(recording.steps, sim::EventKind::finished));
    return recording;
}

/// A thread of 40 barbs over 60 mm, all seated in the fat, 0.1 N each: 2 N each way.
inline void add_barbs(sim::TrackRecord& track) {
    track.loaded = true;
    for (int i = 0; i < 40; ++i)
        track.barbs.push_back({i * 1.5 * kMm, i < 20 ? 1 : -1, sim::Layer::superficial_fat, 0.1, true});
}

/// The value shown of a measure. Fails the test when there is none.
inline double shown(const sim::MeasuredAttempt& attempt, const std::string& name) {
    for (const sim::Measure& measure : attempt.measures)
        if (measure.name == name) return measure.shown;
    throw std::runtime_error("no measure " + name);
}

inline bool has(const sim::MeasuredAttempt& attempt, const std::string& name) {
    for (const sim::Measure& measure : attempt.measures)
        if (measure.name == name) return true;
    return false;
}

/// Of a plan that holds so much lift of the left jowl to be within reach; the right one lies a little lower.
inline sim::Recording recording_with_target(double lift_m) {
    sim::Recording recording = empty_recording();
    recording.plan[0].lift = {{"jowl", lift_m}};
    recording.concerns = {{"jowl", sim::Side::left, {0.04, -0.070, 0.06}},
                          {"jowl", sim::Side::right, {-0.04, -0.0715, 0.06}}};
    return recording;
}

}  // namespace support
