#include "sim/instruments/track.hpp"

#include <algorithm>
#include <cmath>

#include "sim/barbed_thread/left_behind.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/instruments/second_hand.hpp"

namespace sim {

namespace {

constexpr double kReachM = 15.0 * kMm;            // clearances beyond this are not recorded
constexpr double kNewWayRad = 2.0 * kPi / 180.0;  // a smaller turn finds the old way again; assumed
constexpr double kThreadHoldsM = 3.0 * kMm;       // a loaded cannula drawn back by more leaves its thread; assumed

int vector_served(const Model& model, const Vec3& entry_m) {
    const auto& plan = model.scenario.plan;
    std::size_t best = 0;
    for (std::size_t i = 1; i < plan.size(); ++i)
        if (glm::length(plan[i].entry_m - entry_m) < glm::length(plan[best].entry_m - entry_m)) best = i;
    return static_cast<int>(best);
}

/// Let a millimetre remember what it sees now.
void note_piece(const StepContext& context, std::size_t index) {
    Track& track = *context.state.track;
    const double start_m = static_cast<double>(index) * kPieceM;
    const Vec3 a = way_at(track, start_m);
    const Vec3 b = way_at(track, start_m + kPieceM);
    const Vec3 middle = way_at(track, start_m + 0.5 * kPieceM);
    const LayerPoint at = context.model.anatomy->layers_at(middle);
    if (index >= track.pieces.size()) track.pieces.push_back({middle, at.depth_m, at.depth_m, at.bottom_m, {}});
    TrackPiece& piece = track.pieces[index];
    piece.middle_m = middle;
    piece.bottom_m = at.bottom_m;
    piece.shallowest_m = std::min(piece.shallowest_m, at.depth_m);
    piece.deepest_m = std::max(piece.deepest_m, at.depth_m);

    std::vector<Clearance> found;
    context.model.anatomy->clearances(a, b, kReachM, found);
    const double radius_m = gauge(context.instrument().gauge).radius_m();
    for (const Clearance& clearance : found) {
        const double wall_m = clearance.distance_m - radius_m;
        const auto known = std::find_if(piece.clearance.begin(), piece.clearance.end(),
                                        [&](const RecordedClearance& r) { return r.structure == clearance.structure; });
        if (known == piece.clearance.end())
            piece.clearance.push_back({clearance.structure, wall_m});
        else
            known->distance_m = std::min(known->distance_m, wall_m);
    }
}

void note_new_pieces(const StepContext& context, double from_m, double to_m) {
    // pieces complete when the tip passes their far end; a nanometre of slack, so that 10.000 mm counts ten
    const auto count = [](double m) { return static_cast<std::size_t>(std::floor(m / kPieceM + 1e-6)); };
    for (std::size_t i = count(from_m); i < count(to_m); ++i) note_piece(context, i);
}

Vec3 quantised_point(const Vec3& p) { return {quantised(p.x), quantised(p.y), quantised(p.z)}; }

TrackPiece quantised_piece(TrackPiece piece) {
    piece.middle_m = quantised_point(piece.middle_m);
    piece.shallowest_m = quantised(piece.shallowest_m);
    piece.deepest_m = quantised(piece.deepest_m);
    for (double& bottom : piece.bottom_m) bottom = quantised(bottom);
    for (RecordedClearance& clearance : piece.clearance) clearance.distance_m = quantised(clearance.distance_m);
    return piece;
}

/// Of the open track as far as it has been made, whole but for its barbs.
TrackRecord record_of(const StepContext& context) {
    const State& s = context.state;
    const Track& track = *s.track;
    TrackRecord record;
    record.track = track.index;
    record.instrument = s.hands.instrument;
    record.vector = track.vector;
    record.loaded = track.loaded;
    record.final = !track.thread_left;
    record.shaft_radius_m = quantised(gauge(context.instrument().gauge).radius_m());
    record.entry_m = quantised_point(track.nodes.front().centre_m);
    record.end_m = quantised_point(track.end_m);
    record.length_m = quantised(track.farthest_m);
    record.re_angles = track.re_angles;
    const auto whole = static_cast<std::size_t>(std::floor(track.farthest_m / kPieceM + 1e-6));
    for (std::size_t i = 0; i < std::min(whole, track.pieces.size()); ++i)
        record.pieces.push_back(quantised_piece(track.pieces[i]));
    return record;
}

/// A loaded cannula that turns off its way leaves its thread where the tissue holds it. That way is closed with its
/// thread; what the cannula makes from here on, empty, is a way of its own along the old one up to here.
void leave_thread_behind(const StepContext& context) {
    State& s = context.state;
    Track& track = *s.track;
    TrackRecord record = record_of(context);
    if (!leave_behind(context, record)) return;
    context.report.tracks.push_back(std::move(record));
    context.note(EventKind::track_closed, s.tip_m, track.index, {1.0, 0, 0, 0});
    track.index = s.tracks_opened++;
    track.loaded = false;
    track.thread_left = true;
    track.re_angles = 0;
    track.pieces.resize(std::min(track.pieces.size(), static_cast<std::size_t>(s.inserted_m / kPieceM + 1e-6)));
    s.withdrawal_turn_rad = 0.0;
    context.note(EventKind::track_opened, s.hands.entry.position_m, track.index, {0.0, 0, 0, 0});
}

/// After a withdrawal and a turn the tip makes a way of its own: what lay ahead is given up.
void branch(const StepContext& context) {
    State& s = context.state;
    Track& track = *s.track;
    context.note(EventKind::re_angled, s.tip_m, track.index, {s.aim_turn_rad, s.withdrawn_m, 0, 0});
    if (track.loaded && s.withdrawn_m > kThreadHoldsM) leave_thread_behind(context);
    ++track.re_angles;
    while (track.nodes.size() > 1 && track.nodes.back().arc_m > s.inserted_m) track.nodes.pop_back();
    track.farthest_m = s.inserted_m;
    // the tissue ahead is another one now: ask again from here
    track.stations_asked = std::min(track.stations_asked, static_cast<int>(s.inserted_m / kStationM) + 1);
}

}  // namespace

Vec3 way_at(const Track& track, double arc_m) {
    const auto& nodes = track.nodes;
    const auto after = std::lower_bound(nodes.begin(), nodes.end(), arc_m,
                                        [](const TrackNode& node, double arc) { return node.arc_m < arc; });
    if (after == nodes.begin()) return nodes.front().centre_m;
    if (after == nodes.end()) {
        // the last stretch ends at the tip, which is kept beside the nodes
        const TrackNode& last = nodes.back();
        const double rest_m = track.end_arc_m - last.arc_m;
        if (!(rest_m > 0.0)) return last.centre_m;
        return last.centre_m + (track.end_m - last.centre_m) * ((arc_m - last.arc_m) / rest_m);
    }
    const TrackNode& low = *(after - 1);
    const double t = (arc_m - low.arc_m) / (after->arc_m - low.arc_m);
    return low.centre_m + t * (after->centre_m - low.centre_m);
}

void open_track(const StepContext& context) {
    State& s = context.state;
    Track track;
    track.index = s.tracks_opened++;
    track.loaded = context.instrument().loaded;
    track.vector = vector_served(context.model, s.hands.entry.position_m);
    track.nodes.push_back({s.hands.entry.position_m, 0.0, 0, 0, 0, 0});
    track.end_m = s.hands.entry.position_m;
    context.note(EventKind::track_opened, s.hands.entry.position_m, track.index, {track.loaded ? 1.0 : 0.0, 0, 0, 0});
    s.track = std::move(track);
    forget_way(s.hand);
    s.walls.clear();
    s.ligaments_passed.clear();
    s.floor_noted = s.lining_noted = s.skin_noted = false;
    s.withdrawal_turn_rad = 0.0;
}

void advance_tip(const StepContext& context, double by_m) {
    State& s = context.state;
    if (!s.track) {
        s.tip_m += s.tip_heading * by_m;
        return;
    }
    Track& track = *s.track;
    if (s.inserted_m < track.farthest_m - 1e-9) {
        if (s.withdrawn_m > kPieceM && s.aim_turn_rad > kNewWayRad) {
            branch(context);
        } else {  // the old way again, as far as it goes
            const double on_m = std::min(by_m, track.farthest_m - s.inserted_m);
            s.tip_m = way_at(track, s.inserted_m + on_m);
            s.inserted_m += on_m;
            by_m -= on_m;
        }
    }
    s.withdrawn_m = 0.0;
    s.aim_turn_rad = 0.0;
    track.withdrawing = false;
    if (!(by_m > 0.0)) return;

    const double from_m = s.inserted_m;
    const Vec3 start = s.tip_m;
    s.tip_m = start + s.tip_heading * by_m;
    s.inserted_m = from_m + by_m;
    track.end_m = s.tip_m;
    track.end_arc_m = s.inserted_m;
    for (;;) {
        const double arc_m = track.nodes.back().arc_m + kTrackNodeM;
        if (arc_m > s.inserted_m) break;
        TrackNode node = track.nodes.back();  // the predecessor's answers serve until its own are there
        node.arc_m = arc_m;
        node.centre_m = start + s.tip_heading * (arc_m - from_m);
        track.nodes.push_back(node);
    }
    track.farthest_m = s.inserted_m;
    note_new_pieces(context, from_m, s.inserted_m);
}

void retract_tip(const StepContext& context, double by_m) {
    State& s = context.state;
    s.withdrawn_m += by_m;
    s.inserted_m = std::max(0.0, s.inserted_m - by_m);
    s.tip_m = s.track ? way_at(*s.track, s.inserted_m) : s.tip_m - s.tip_heading * by_m;
}

void sweep_rigid_track(const StepContext& context) {
    State& s = context.state;
    Track& track = *s.track;
    const Vec3 direction = shaft_direction(s.hands);
    while (track.nodes.size() > 1 && track.nodes.back().arc_m > s.inserted_m) track.nodes.pop_back();
    for (TrackNode& node : track.nodes) node.centre_m = s.hands.entry.position_m + direction * node.arc_m;
    s.tip_m = s.hands.entry.position_m + direction * s.inserted_m;
    s.tip_heading = direction;
    track.end_m = s.tip_m;
    track.end_arc_m = track.farthest_m = s.inserted_m;
    s.aim_turn_rad = 0.0;
    const auto whole = static_cast<std::size_t>(std::floor(s.inserted_m / kPieceM + 1e-6));
    for (std::size_t i = 0; i < whole; ++i) note_piece(context, i);
}

void close_track(const StepContext& context) {
    State& s = context.state;
    Track& track = *s.track;
    TrackRecord record = record_of(context);
    if (track.loaded) leave_thread(context, record);
    context.report.tracks.push_back(std::move(record));
    context.note(EventKind::track_closed, s.tip_m, track.index);
    s.track.reset();
    forget_way(s.hand);
}

}  // namespace sim
