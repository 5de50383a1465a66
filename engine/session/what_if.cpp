#include "engine/session/what_if.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>

#include "sim/barbed_thread/barbs.hpp"
#include "sim/core/errors.hpp"

namespace session {

namespace {

using sim::kMm;

constexpr double kPieceM = 1.0 * kMm;
constexpr double kMostM = 5.0 * kMm;
constexpr double kReachM = 15.0 * kMm;  // as the record's own
constexpr double kSlackM = 1.0 * kMm;   // a piece's ends are known to its neighbours' middles only

sim::Vec3 quantised(const sim::Vec3& p) { return {sim::quantised(p.x), sim::quantised(p.y), sim::quantised(p.z)}; }

/// Ends of a millimetre, from the middles around it.
struct Ends {
    sim::Vec3 a{}, b{};
};
Ends ends_of(const std::vector<sim::Vec3>& middles, const sim::Vec3& entry_m, std::size_t i) {
    const sim::Vec3 before = i > 0 ? middles[i - 1] : 2.0 * entry_m - middles[0];
    const sim::Vec3 after = i + 1 < middles.size() ? middles[i + 1] : 2.0 * middles[i] - before;
    return {0.5 * (before + middles[i]), 0.5 * (middles[i] + after)};
}

double clearance_to(const std::vector<sim::Clearance>& found, int structure) {
    for (const sim::Clearance& one : found)
        if (one.structure == structure) return one.distance_m;
    return std::numeric_limits<double>::infinity();
}

/// What the move changes about the structures that are near.
void move_clearances(const sim::Anatomy& anatomy, const Ends& was, const Ends& is, double shaft_radius_m,
                     double shift_m, sim::TrackPiece& piece) {
    std::vector<sim::Clearance> before, after;
    const double reach_m = kReachM + std::abs(shift_m) + kSlackM;
    anatomy.clearances(was.a, was.b, reach_m, before);
    anatomy.clearances(is.a, is.b, reach_m, after);
    for (sim::RecordedClearance& known : piece.clearance) {
        const double change_m = clearance_to(after, known.structure) - clearance_to(before, known.structure);
        if (std::isfinite(change_m)) known.distance_m = sim::quantised(known.distance_m + change_m);
    }
    // what was out of reach and has come within it
    for (const sim::Clearance& near : after) {
        const bool known = std::any_of(piece.clearance.begin(), piece.clearance.end(),
                                       [&](const auto& r) { return r.structure == near.structure; });
        if (!known && near.distance_m <= kReachM && clearance_to(before, near.structure) > kReachM)
            piece.clearance.push_back({near.structure, sim::quantised(near.distance_m - shaft_radius_m)});
    }
}

void move_track(const sim::Model& model, double ramp_m, double shift_m, sim::TrackRecord& track) {
    const sim::Anatomy& anatomy = *model.anatomy;
    const auto shift_at = [&](double along_m) {
        return ramp_m > 0.0 ? shift_m * std::min(1.0, along_m / ramp_m) : shift_m;
    };
    std::vector<sim::Vec3> was, is;
    for (std::size_t i = 0; i < track.pieces.size(); ++i) {
        const sim::Vec3 middle = track.pieces[i].middle_m;
        was.push_back(middle);
        is.push_back(middle + anatomy.inward_at(middle) * shift_at((static_cast<double>(i) + 0.5) * kPieceM));
    }
    for (std::size_t i = 0; i < track.pieces.size(); ++i) {
        sim::TrackPiece& piece = track.pieces[i];
        const sim::LayerPoint before = anatomy.layers_at(was[i]), after = anatomy.layers_at(is[i]);
        const double change_m = after.depth_m - before.depth_m;
        piece.middle_m = quantised(is[i]);
        piece.shallowest_m = sim::quantised(piece.shallowest_m + change_m);
        piece.deepest_m = sim::quantised(piece.deepest_m + change_m);
        for (std::size_t layer = 0; layer < sim::kTissueLayers; ++layer)
            piece.bottom_m[layer] =
                sim::quantised(piece.bottom_m[layer] + after.bottom_m[layer] - before.bottom_m[layer]);
        move_clearances(anatomy, ends_of(was, track.entry_m, i), ends_of(is, track.entry_m, i), track.shaft_radius_m,
                        shift_m, piece);
    }
    track.end_m = quantised(track.end_m + anatomy.inward_at(track.end_m) * shift_at(track.length_m));
}

/// A crooked withdrawal drags every second barb: the record shows whether this one did.
bool dragged(const sim::TrackRecord& track) {
    return std::any_of(track.barbs.begin(), track.barbs.end(), [](const sim::BarbRecord& barb) {
        return barb.capacity_n > 0.0 && barb.layer != sim::Layer::muscle && !barb.seated;
    });
}

void seat_again(const sim::Recording& recording, sim::TrackRecord& track) {
    if (track.barbs.empty() || track.instrument < 0 || track.instrument >= static_cast<int>(recording.tray.size()))
        return;
    const sim::ThreadSpec& thread = recording.tray[static_cast<std::size_t>(track.instrument)].thread;
    track.barbs = sim::seat_barbs(thread, track.pieces, dragged(track) ? sim::kPi : 0.0);
}

}  // namespace

WhatIf what_if(const sim::Model& model, const sim::Recording& recording, const sim::Rubric& rubric, double shift_m) {
    if (!(std::abs(shift_m) <= kMostM)) throw sim::InputError("shift_m", shift_m, "-0.005 to 0.005");
    WhatIf out{shift_m, recording, {}};
    for (sim::TrackRecord& track : out.recording.tracks) {
        move_track(model, rubric.bands.ramp_m.value, shift_m, track);
        seat_again(recording, track);
    }
    out.score = sim::score(out.recording, rubric);
    return out;
}

bool is_recomputed(const std::string& measure) {
    static constexpr std::string_view kFromPlace[] = {"track_in_band",
                                                      "planned_length_reached",
                                                      "worst_deep",
                                                      "worst_shallow",
                                                      "smas_contact",
                                                      "below_smas",
                                                      "dermis_length",
                                                      "depth_bias",
                                                      "depth_rms",
                                                      "excursions_deep",
                                                      "excursions_shallow",
                                                      "layers_breached",
                                                      "least_clearance",
                                                      "length_in_margins",
                                                      "deep_margin_intrusion",
                                                      "barbs_seated",
                                                      "barbs_in_plane",
                                                      "hold",
                                                      "seated_in_worst_quarter"};
    return measure.starts_with("clearance_") ||
           std::find(std::begin(kFromPlace), std::end(kFromPlace), measure) != std::end(kFromPlace);
}

std::string what_if_limits() {
    return "Same path, shifted. Depth, clearance and barb layer are recomputed; force, ligaments and walls stay as "
           "recorded.";
}

}  // namespace session
