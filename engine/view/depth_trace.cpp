#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/view/depth_plot.hpp"

/// What the depth plot shows, gathered from the record.

namespace view {

namespace {

constexpr double kStuckM = 0.1 * sim::kMm;  // a tip that gave back so little has not been drawn back

std::string structure_words(const sim::Recording& recording, int structure) {
    const bool known = structure >= 0 && structure < static_cast<int>(recording.structures.size());
    return known ? recording.structures[static_cast<std::size_t>(structure)].name : std::string("structure");
}

double margin_of_m(const sim::Recording& recording, int structure) {
    const bool known = structure >= 0 && structure < static_cast<int>(recording.structures.size());
    return known ? recording.structures[static_cast<std::size_t>(structure)].margin_m : 0.0;
}

double planned_length_m(const sim::Recording& recording, int vector) {
    const bool known = vector >= 0 && vector < static_cast<int>(recording.plan.size());
    return known ? recording.plan[static_cast<std::size_t>(vector)].length_m : 0.0;
}

}  // namespace

double DepthSample::excess_m() const {
    const double up_m = std::min(0.0, band.excess_m(shallowest_m)), down_m = std::max(0.0, band.excess_m(deepest_m));
    return -up_m > down_m ? up_m : down_m;
}

double DepthSample::told_m() const {
    const double middle_m = band.middle_m();
    return middle_m - shallowest_m > deepest_m - middle_m ? shallowest_m : deepest_m;
}

DepthTrace depth_trace_of(const sim::Recording& recording, const sim::TrackRecord& track, const sim::Bands& bands) {
    constexpr double kPieceM = 1.0 * sim::kMm;
    DepthTrace trace{{}, track.shaft_radius_m, planned_length_m(recording, track.vector), bands.ramp_m.value};
    for (std::size_t i = 0; i < track.pieces.size(); ++i) {
        const sim::TrackPiece& piece = track.pieces[i];
        DepthSample sample{(static_cast<double>(i) + 0.5) * kPieceM,
                           piece.shallowest_m,
                           piece.deepest_m,
                           piece.bottom_m,
                           sim::target_band(piece.bottom_m, track.shaft_radius_m, bands),
                           {},
                           {},
                           0.0};
        for (const sim::RecordedClearance& clearance : piece.clearance) {
            if (sample.clearance_m && *sample.clearance_m <= clearance.distance_m) continue;
            sample.clearance_m = clearance.distance_m;
            sample.structure = structure_words(recording, clearance.structure);
            sample.margin_m = margin_of_m(recording, clearance.structure);
        }
        trace.samples.push_back(std::move(sample));
    }
    return trace;
}

DepthTrace depth_trace_of(const sim::Recording& recording, int track, double shaft_radius_m, const sim::Bands& bands) {
    DepthTrace trace{{}, shaft_radius_m, planned_length_m(recording, 0), bands.ramp_m.value};
    for (const sim::TraceRow& row : recording.rows) {
        if (row.track != track) continue;
        if (!trace.samples.empty() && !(row.inserted_m > trace.samples.back().along_m)) continue;
        const double depth_m = row.layers.depth_m;
        DepthSample sample{row.inserted_m,
                           depth_m,
                           depth_m,
                           row.layers.bottom_m,
                           sim::target_band(row.layers.bottom_m, shaft_radius_m, bands),
                           {},
                           {},
                           0.0};
        if (row.nearest.structure >= 0) {
            sample.clearance_m = row.nearest.distance_m;
            sample.structure = structure_words(recording, row.nearest.structure);
            sample.margin_m = margin_of_m(recording, row.nearest.structure);
        }
        trace.samples.push_back(std::move(sample));
    }
    return trace;
}

std::string moment_words(const DepthTrace& trace, double along_m) {
    constexpr double kTold = 6.0 * sim::kMm;  // farther walls are no news
    if (trace.samples.empty()) return "No track yet";
    const auto nearest = std::min_element(
        trace.samples.begin(), trace.samples.end(),
        [&](const auto& a, const auto& b) { return std::abs(a.along_m - along_m) < std::abs(b.along_m - along_m); });
    const double excess_m = nearest->excess_m();
    std::string words =
        fmt::format("{:.1f} mm from the entry: depth {:.1f} mm, ", along_m / sim::kMm, nearest->told_m() / sim::kMm);
    if (nearest->along_m <= trace.ramp_m)
        words += "in the entry ramp";
    else if (excess_m == 0.0)
        words += "in the target band";
    else
        words += fmt::format("{:.1f} mm {} the target band", std::abs(excess_m) / sim::kMm,
                             excess_m < 0.0 ? "above" : "below");
    if (nearest->clearance_m && *nearest->clearance_m < kTold)
        words += *nearest->clearance_m <= 0.0
                     ? fmt::format("; {} met", nearest->structure)
                     : fmt::format("; {} {:.1f} mm away", nearest->structure, *nearest->clearance_m / sim::kMm);
    return words;
}

ForceCurve force_curve_of(const sim::Recording& recording, int track) {
    ForceCurve curve;
    for (const sim::TraceRow& row : recording.rows) {
        if (row.track != track) continue;
        if (!curve.samples.empty() && !(row.inserted_m > curve.samples.back().along_m)) {
            // the hand pushes and the tip does not go on: what it met there is as much as the hand gave
            ForceCurve::Sample& last = curve.samples.back();
            if (row.inserted_m > last.along_m - kStuckM && row.hand_n > last.hand_n)
                last = {last.along_m, row.hand_n, row.tip_force_n, row.ligament_n};
            continue;
        }
        curve.samples.push_back({row.inserted_m, row.hand_n, row.tip_force_n, row.ligament_n});
    }
    return curve;
}

}  // namespace view
