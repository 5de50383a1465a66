#include <algorithm>
#include <cmath>

#include "sim/instruments/gauge.hpp"
#include "sim/stages.hpp"

/// The pass with a rigid shaft in tissue that does not push back: pure geometry, the reference for everything else.

namespace sim {

namespace {

constexpr double kNodeM = 0.5 * kMm;
constexpr double kPieceM = 1.0 * kMm;
constexpr double kReachM = 15.0 * kMm;    // clearances beyond this are not recorded
constexpr double kSameHoleM = 2.0 * kMm;  // a tip this near an opening finds it; assumed

Vec3 tip_of(const State& s) { return s.hands.entry.position_m + shaft_direction(s.hands) * s.inserted_m; }

int hole_at(const State& s, double diameter_m) {
    for (std::size_t i = 0; i < s.holes.size(); ++i)
        if (glm::length(s.holes[i].at.position_m - s.hands.entry.position_m) <= kSameHoleM &&
            s.holes[i].diameter_m + 0.05 * kMm >= diameter_m)
            return static_cast<int>(i);
    return -1;
}

double nearest_hole_m(const State& s) {
    double best = 1.0;
    for (const EntryHole& hole : s.holes)
        best = std::min(best, glm::length(hole.at.position_m - s.hands.entry.position_m));
    return best;
}

void open_track(const StepContext& context) {
    State& s = context.state;
    Track track;
    track.index = s.tracks_opened++;
    track.loaded = context.instrument().loaded;
    track.nodes.push_back({s.hands.entry.position_m, 0.0, 0, 0, 0, 0});
    const auto& plan = context.model.scenario.plan;
    for (std::size_t i = 1; i < plan.size(); ++i)
        if (glm::length(plan[i].entry_m - s.hands.entry.position_m) <
            glm::length(plan[static_cast<std::size_t>(track.vector)].entry_m - s.hands.entry.position_m))
            track.vector = static_cast<int>(i);
    context.note(EventKind::track_opened, s.hands.entry.position_m, track.index, {track.loaded ? 1.0 : 0.0, 0, 0, 0});
    s.track = std::move(track);
}

/// Bring the pieces up to date with where the shaft lies now: each keeps the worst of what it has seen.
void update_pieces(const StepContext& context) {
    State& s = context.state;
    Track& track = *s.track;
    const double radius_m = 0.5 * outer_diameter_m(context.instrument().gauge);
    const Vec3 direction = shaft_direction(s.hands);
    const auto count = static_cast<std::size_t>(std::floor(s.inserted_m / kPieceM + 1e-9));
    std::vector<Clearance> found;
    for (std::size_t i = 0; i < count; ++i) {
        const double start_m = static_cast<double>(i) * kPieceM;
        const Vec3 a = s.hands.entry.position_m + direction * start_m;
        const Vec3 b = a + direction * kPieceM;
        const Vec3 middle = a + direction * (0.5 * kPieceM);
        const LayerPoint at = context.model.anatomy->layers_at(middle);
        if (i >= track.pieces.size()) {
            track.pieces.push_back({middle, at.depth_m, at.depth_m, at.bottom_m, {}});
        }
        TrackPiece& piece = track.pieces[i];
        piece.middle_m = middle;
        piece.bottom_m = at.bottom_m;
        piece.shallowest_m = std::min(piece.shallowest_m, at.depth_m);
        piece.deepest_m = std::max(piece.deepest_m, at.depth_m);
        found.clear();
        context.model.anatomy->clearances(a, b, kReachM, found);
        for (const Clearance& clearance : found) {
            const double wall_m = clearance.distance_m - radius_m;
            auto known = std::find_if(piece.clearance.begin(), piece.clearance.end(),
                                      [&](const RecordedClearance& r) { return r.structure == clearance.structure; });
            if (known == piece.clearance.end())
                piece.clearance.push_back({clearance.structure, wall_m});
            else
                known->distance_m = std::min(known->distance_m, wall_m);
        }
    }
}

}  // namespace

void shaft(const StepContext& context) {
    State& s = context.state;
    s.shaft_m.clear();
    if (s.hands.instrument < 0 || !s.hands.entry_chosen) return;
    const Vec3 direction = shaft_direction(s.hands);
    s.shaft_m.push_back(s.hands.entry.position_m - direction * (context.instrument().length_m - s.inserted_m));
    s.shaft_m.push_back(s.hands.entry.position_m);
    if (s.inserted_m > 0.0) s.shaft_m.push_back(tip_of(s));
}

void force(const StepContext& context, double push_m) {
    State& s = context.state;
    if (s.hands.instrument < 0 || !s.hands.entry_chosen || push_m == 0.0) return;
    const InstrumentSpec& instrument = context.instrument();
    const double diameter_m = outer_diameter_m(instrument.gauge);
    if (s.inserted_m == 0.0 && push_m > 0.0) {
        if (instrument.tip == TipShape::blunt) {
            s.open_hole = hole_at(s, diameter_m);
            if (s.open_hole < 0) {
                if (!s.refused_here) {
                    context.note(EventKind::entry_refused, s.hands.entry.position_m, -1, {nearest_hole_m(s), 0, 0, 0});
                    s.refused_here = true;
                }
                return;
            }
            s.hands.entry.position_m = s.holes[static_cast<std::size_t>(s.open_hole)].at.position_m;
            open_track(context);
        } else {
            context.note(EventKind::skin_punctured, s.hands.entry.position_m, -1, {s.hands.pitch_rad, 0, 0, 0});
            s.punctured = true;
        }
    }
    s.hands.hand_m = std::clamp(s.hands.hand_m + push_m, 0.0, instrument.length_m);
    const double before_m = s.inserted_m;
    s.inserted_m = s.hands.hand_m;
    s.travel_since_row_m += std::abs(s.inserted_m - before_m);
    if (instrument.tip == TipShape::bevel && s.inserted_m > 0.0)
        s.pilot_deepest_m = std::max(s.pilot_deepest_m, context.model.anatomy->layers_at(tip_of(s)).depth_m);
    if (s.track) {
        Track& track = *s.track;
        while (track.nodes.back().arc_m + kNodeM <= s.inserted_m + 1e-12) {
            const double arc_m = track.nodes.back().arc_m + kNodeM;
            track.nodes.push_back({s.hands.entry.position_m + shaft_direction(s.hands) * arc_m, arc_m, 0, 0, 0, 0});
        }
        track.farthest_m = std::max(track.farthest_m, s.inserted_m);
    }
}

void structures(const StepContext& context) {
    State& s = context.state;
    if (s.inserted_m <= 0.0) {
        if (s.track) close_track(context);
        if (s.punctured) {
            const InstrumentSpec& instrument = context.instrument();
            const double fat_bottom_m =
                context.model.anatomy->layers_at(s.hands.entry.position_m).bottom_of(Layer::superficial_fat);
            context.note(EventKind::entry_opened, s.hands.entry.position_m, static_cast<int>(s.holes.size()),
                         {s.hands.pitch_rad, s.pilot_deepest_m, fat_bottom_m, outer_diameter_m(instrument.gauge)});
            s.holes.push_back(
                {s.hands.entry, outer_diameter_m(instrument.gauge), s.pilot_deepest_m, s.hands.pitch_rad});
            s.punctured = false;
        }
        s.tip_layer = Layer::outside;
        return;
    }
    s.last_tip_m = tip_of(s);
    const LayerPoint at = context.model.anatomy->layers_at(s.last_tip_m);
    if (at.layer != s.tip_layer) {
        context.note(EventKind::layer_crossed, s.last_tip_m, static_cast<int>(at.layer), {at.depth_m, 0, 0, 0});
        s.tip_layer = at.layer;
    }
    if (s.track && !s.track->withdrawing) update_pieces(context);
    if (s.track && !s.track->withdrawing && s.inserted_m < 0.5 * s.track->farthest_m) {
        s.track->withdrawing = true;
        context.note(EventKind::withdrawal_began, s.last_tip_m, s.track->index);
    }
}

void thread(const StepContext&) {}

void close_track(const StepContext& context) {
    State& s = context.state;
    Track& track = *s.track;
    TrackRecord record;
    record.track = track.index;
    record.instrument = s.hands.instrument;
    record.vector = track.vector;
    record.loaded = track.loaded;
    record.shaft_radius_m = quantised(0.5 * outer_diameter_m(context.instrument().gauge));
    record.entry_m = track.nodes.front().centre_m;
    record.end_m = track.nodes.back().centre_m;
    record.length_m = quantised(track.farthest_m);
    record.re_angles = track.re_angles;
    record.pieces = track.pieces;
    for (TrackPiece& piece : record.pieces) {
        for (int i = 0; i < 3; ++i) piece.middle_m[i] = quantised(piece.middle_m[i]);
        piece.shallowest_m = quantised(piece.shallowest_m);
        piece.deepest_m = quantised(piece.deepest_m);
        for (double& bottom : piece.bottom_m) bottom = quantised(bottom);
        for (RecordedClearance& clearance : piece.clearance) clearance.distance_m = quantised(clearance.distance_m);
    }
    for (int i = 0; i < 3; ++i) {
        record.entry_m[i] = quantised(record.entry_m[i]);
        record.end_m[i] = quantised(record.end_m[i]);
    }
    context.report.tracks.push_back(std::move(record));
    context.note(EventKind::track_closed, s.last_tip_m, track.index);
    s.track.reset();
    s.open_hole = -1;
}

}  // namespace sim
