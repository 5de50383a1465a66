#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/instruments/gauge.hpp"
#include "sim/scoring/figures.hpp"

/// Heading 1: did the final track stay in the superficial fat?

namespace sim::figures {

namespace {

/// One piece of a final track against its band, past the ramp.
struct PieceDepth {
    std::size_t index = 0;
    double shallow_m = 0.0;      ///< past the band, >= 0
    double deep_m = 0.0;         ///< past the band, >= 0
    double from_middle_m = 0.0;  ///< worst signed distance of the axis from the band's middle, deep positive
    [[nodiscard]] bool out() const { return shallow_m > kSlackM || deep_m > kSlackM; }
    [[nodiscard]] bool too_deep() const { return deep_m >= shallow_m; }
    [[nodiscard]] double worst_m() const { return std::max(shallow_m, deep_m); }
};

bool past_ramp(std::size_t piece, const Bands& bands) {
    return kPieceM * static_cast<double>(piece) >= bands.ramp_m.value - kSlackM;
}

/// Made by a plunge: that is no steering.
bool plunged_through(std::span<const PlungeStretch> plunges, const TrackRecord& track, std::size_t piece) {
    const double from_m = kPieceM * static_cast<double>(piece), to_m = from_m + kPieceM;
    return std::any_of(plunges.begin(), plunges.end(), [&](const PlungeStretch& one) {
        return one.track == track.track && one.to_m > from_m + kSlackM && one.from_m < to_m - kSlackM;
    });
}

/// @param steered leave out what a plunge made
std::vector<PieceDepth> depths_past_ramp(const Recording& recording, const TrackRecord& track, const Bands& bands,
                                         bool steered) {
    std::vector<PlungeStretch> plunges;
    if (steered) plunges = plunge_stretches(recording);
    std::vector<PieceDepth> depths;
    for (std::size_t i = 0; i < track.pieces.size(); ++i) {
        if (!past_ramp(i, bands) || plunged_through(plunges, track, i)) continue;
        const TrackPiece& piece = track.pieces[i];
        const AxisBand band = target_band(piece.bottom_m, track.shaft_radius_m, bands);
        const double up_m = piece.shallowest_m - band.middle_m(), down_m = piece.deepest_m - band.middle_m();
        depths.push_back({i, std::max(0.0, band.top_m - piece.shallowest_m),
                          std::max(0.0, piece.deepest_m - band.bottom_m),
                          std::abs(up_m) > std::abs(down_m) ? up_m : down_m});
    }
    return depths;
}

/// A stretch of track out of band on one side.
struct Excursion {
    const TrackRecord* track = nullptr;
    std::size_t first = 0, last = 0, worst = 0;  ///< pieces
    double worst_m = 0.0;
    bool deep = false;
    [[nodiscard]] double length_m() const { return kPieceM * static_cast<double>(last - first + 1); }
};

void append_excursions(const TrackRecord& track, const std::vector<PieceDepth>& depths, std::vector<Excursion>& out) {
    bool open = false;
    for (const PieceDepth& depth : depths) {
        if (!depth.out()) {
            open = false;
            continue;
        }
        if (!open || out.back().deep != depth.too_deep())
            out.push_back({&track, depth.index, depth.index, depth.index, 0.0, depth.too_deep()});
        open = true;
        out.back().last = depth.index;
        if (depth.worst_m() > out.back().worst_m) {
            out.back().worst_m = depth.worst_m();
            out.back().worst = depth.index;
        }
    }
}

/// What the plane figures of one vector come from: the worst of its final tracks.
struct VectorPlane {
    const TrackRecord* track = nullptr;  ///< nullptr: the vector was planned and never made
    double planned_m = 0.0;              ///< past the ramp
    double out_m = 0.0, missing_m = 0.0;
    std::vector<PieceDepth> depths;
    [[nodiscard]] double lost_m() const { return out_m + missing_m; }
};

VectorPlane plane_of(const Recording& recording, const TrackRecord& track, const Bands& bands, bool steered) {
    VectorPlane plane;
    plane.track = &track;
    plane.depths = depths_past_ramp(recording, track, bands, steered);
    const double planned_m = planned_length_m(recording, track), ramp_m = bands.ramp_m.value;
    const double made_m = std::max(track.length_m, kPieceM * static_cast<double>(track.pieces.size()));
    plane.planned_m = std::max(0.0, planned_m - ramp_m);
    plane.missing_m = std::max(0.0, planned_m - std::max(made_m, ramp_m));
    for (const PieceDepth& depth : plane.depths) plane.out_m += depth.out() ? kPieceM : 0.0;
    return plane;
}

std::vector<VectorPlane> planes_of(const Recording& recording, const Bands& bands, bool steered) {
    std::vector<VectorPlane> planes;
    for (int vector = 0; vector < vector_count(recording); ++vector) {
        VectorPlane worst;
        for (const TrackRecord* track : final_tracks(recording, vector)) {
            VectorPlane plane = plane_of(recording, *track, bands, steered);
            if (worst.track == nullptr || plane.lost_m() > worst.lost_m()) worst = std::move(plane);
        }
        if (worst.track == nullptr && vector < static_cast<int>(recording.plan.size())) {
            const double planned_m = recording.plan[static_cast<std::size_t>(vector)].length_m;
            worst.planned_m = worst.missing_m = std::max(0.0, planned_m - bands.ramp_m.value);
        }
        planes.push_back(std::move(worst));
    }
    return planes;
}

/// Share of the planned way in the band; nothing where nothing was planned or made.
std::optional<double> in_band(const std::vector<VectorPlane>& planes) {
    double planned_m = 0.0, lost_m = 0.0;
    for (const VectorPlane& plane : planes) {
        planned_m += plane.planned_m;
        lost_m += plane.lost_m();
    }
    if (!(planned_m > 0.0)) return std::nullopt;
    return std::max(0.0, 1.0 - lost_m / planned_m);
}

/// A piece that left the band both ways counts for its worse side in runs, and for both here.
double worst_past_band_m(const std::vector<VectorPlane>& planes, bool deep) {
    double worst_m = 0.0;
    for (const VectorPlane& plane : planes)
        for (const PieceDepth& depth : plane.depths) worst_m = std::max(worst_m, deep ? depth.deep_m : depth.shallow_m);
    return worst_m;
}

/// The same without what plunges made, where there were any.
void measure_steered(Sheet& sheet, const Bands& bands) {
    const Recording& recording = sheet.recording();
    if (recording.scoring_version < 2 || plunge_stretches(recording).empty()) return;
    const std::vector<VectorPlane> steered = planes_of(recording, bands, true);
    if (const auto share = in_band(steered)) sheet.set_steered("track_in_band", *share);
    sheet.set_steered("worst_deep", worst_past_band_m(steered, true));
    sheet.set_steered("worst_shallow", worst_past_band_m(steered, false));
}

void measure_band(Sheet& sheet, const std::vector<VectorPlane>& planes) {
    const Recording& recording = sheet.recording();
    const auto share = in_band(planes);
    if (!share) return;
    sheet.add("track_in_band", *share);

    std::vector<Excursion> excursions;
    for (const VectorPlane& plane : planes)
        if (plane.track != nullptr) append_excursions(*plane.track, plane.depths, excursions);
    for (const Excursion& out : excursions) {
        const TrackPiece& worst = out.track->pieces[out.worst];
        sheet.find("track_in_band",
                   mm_text(out.length_m()) + " of track too " + (out.deep ? "deep" : "shallow") + ", up to " +
                       mm_text(out.worst_m) + " past the band",
                   step_at(recording, *out.track, kPieceM * static_cast<double>(out.worst)), worst.middle_m,
                   out.length_m() / kMm);
    }
    for (const VectorPlane& plane : planes)
        if (plane.missing_m > kSlackM)
            sheet.find(
                "track_in_band", mm_text(plane.missing_m) + " of the planned track was not made",
                plane.track != nullptr ? step_at(recording, *plane.track, plane.track->length_m) : recording.steps,
                plane.track != nullptr ? plane.track->end_m : Vec3{}, plane.missing_m / kMm);

    for (const bool deep : {true, false}) {
        int count = 0;
        const Excursion* worst = nullptr;
        for (const Excursion& out : excursions) {
            if (out.deep != deep) continue;
            ++count;
            if (worst == nullptr || out.worst_m > worst->worst_m) worst = &out;
        }
        sheet.add(deep ? "worst_deep" : "worst_shallow", worst_past_band_m(planes, deep));
        if (worst != nullptr)
            sheet.find(deep ? "worst_deep" : "worst_shallow",
                       mm_text(worst->worst_m) + (deep ? " too deep" : " too shallow"),
                       step_at(recording, *worst->track, kPieceM * static_cast<double>(worst->worst)),
                       worst->track->pieces[worst->worst].middle_m);
        sheet.add(deep ? "excursions_deep" : "excursions_shallow", count);
    }
}

void measure_bias(Sheet& sheet, const std::vector<VectorPlane>& planes) {
    double sum_m = 0.0, square_m2 = 0.0;
    int count = 0;
    for (const VectorPlane& plane : planes)
        for (const PieceDepth& depth : plane.depths) {
            sum_m += depth.from_middle_m;
            square_m2 += depth.from_middle_m * depth.from_middle_m;
            ++count;
        }
    if (count == 0) return;
    sheet.add("depth_bias", sum_m / count);
    sheet.add("depth_rms", std::sqrt(square_m2 / count));
}

/// Length of track for which a test holds, worst track of each vector, and where it is worst.
struct Stretch {
    double length_m = 0.0;
    const TrackRecord* track = nullptr;
    std::size_t worst = 0;
};

/// @param past how far a piece is past the limit, m; > 0 counts
template <class Past>
Stretch stretch_where(const Recording& recording, Past past) {
    Stretch total;
    double worst_m = 0.0;
    for (int vector = 0; vector < vector_count(recording); ++vector) {
        double longest_m = 0.0;
        for (const TrackRecord* track : final_tracks(recording, vector)) {
            double length_m = 0.0;
            for (std::size_t i = 0; i < track->pieces.size(); ++i) {
                const double past_m = past(*track, i);
                if (!(past_m > kSlackM)) continue;
                length_m += kPieceM;
                if (past_m > worst_m) {
                    worst_m = past_m;
                    total.track = track;
                    total.worst = i;
                }
            }
            longest_m = std::max(longest_m, length_m);
        }
        total.length_m += longest_m;
    }
    return total;
}

template <class Past>
void add_stretch(Sheet& sheet, std::string_view name, std::string_view what, Past past) {
    const Stretch stretch = stretch_where(sheet.recording(), past);
    sheet.add(name, stretch.length_m);
    if (stretch.track == nullptr) return;
    sheet.find(name, mm_text(stretch.length_m) + " of track " + std::string(what),
               step_at(sheet.recording(), *stretch.track, kPieceM * static_cast<double>(stretch.worst)),
               stretch.track->pieces[stretch.worst].middle_m);
}

void measure_layers(Sheet& sheet, const Bands& bands) {
    add_stretch(sheet, "smas_contact", "touched the SMAS or platysma", [](const TrackRecord& track, std::size_t i) {
        // contact is a wall that has come to the fascia: the limit itself counts
        return track.pieces[i].deepest_m + track.shaft_radius_m - track.pieces[i].bottom_m[1] + 2.0 * kSlackM;
    });
    add_stretch(sheet, "below_smas", "ran below the SMAS or platysma", [](const TrackRecord& track, std::size_t i) {
        return track.pieces[i].deepest_m - track.pieces[i].bottom_m[2];
    });
    const auto in_dermis = [&bands](const TrackRecord& track, std::size_t i) {
        if (!past_ramp(i, bands)) return 0.0;
        return track.pieces[i].bottom_m[0] - (track.pieces[i].shallowest_m - track.shaft_radius_m);
    };
    add_stretch(sheet, "dermis_length", "ran in the dermis", in_dermis);

    std::array<bool, kTissueLayers> entered{};
    for (const TrackRecord* track : final_tracks(sheet.recording()))
        for (std::size_t i = 0; i < track->pieces.size(); ++i) {
            if (in_dermis(*track, i) > kSlackM) entered[0] = true;
            for (std::size_t layer = 2; layer < kTissueLayers; ++layer)
                if (track->pieces[i].deepest_m + track->shaft_radius_m > track->pieces[i].bottom_m[layer - 1] + kSlackM)
                    entered[layer] = true;
        }
    sheet.add("layers_breached", static_cast<double>(std::count(entered.begin(), entered.end(), true)));
}

void measure_reach(Sheet& sheet, const Bands& bands) {
    const Recording& recording = sheet.recording();
    double planned_m = 0.0, reached_m = 0.0;
    for (int vector = 0; vector < static_cast<int>(recording.plan.size()); ++vector) {
        const double length_m = recording.plan[static_cast<std::size_t>(vector)].length_m;
        planned_m += length_m;
        reached_m += length_m * reached_share(recording, vector, bands);
    }
    if (!(planned_m > 0.0)) return;
    sheet.add("planned_length_reached", reached_m / planned_m);
    if (reached_m < planned_m - kSlackM) {
        const auto tracks = final_tracks(recording);
        sheet.find("planned_length_reached",
                   "the planned end was not reached: " + mm_text(reached_m) + " of " + mm_text(planned_m),
                   tracks.empty() ? recording.steps : step_at(recording, *tracks.back(), tracks.back()->length_m),
                   tracks.empty() ? recording.plan.front().end_m : tracks.back()->end_m);
    }
}

void measure_entry(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    const TrackRecord* worst = nullptr;
    double worst_m = 0.0;
    for (const TrackRecord* track : final_tracks(recording)) {
        if (track->vector < 0 || track->vector >= static_cast<int>(recording.plan.size())) continue;
        const double distance_m =
            glm::length(track->entry_m - recording.plan[static_cast<std::size_t>(track->vector)].entry_m);
        if (worst == nullptr || distance_m > worst_m) {
            worst = track;
            worst_m = distance_m;
        }
    }
    if (worst == nullptr) return;
    sheet.add("entry_distance", worst_m);
    sheet.find("entry_distance", "entry " + mm_text(worst_m) + " from the planned place",
               step_at(recording, *worst, 0.0), worst->entry_m, 1.0, "enter");
}

/// A needle much thinner than every cannula of the tray makes a bleb, not an entry. @param outer_m 0: not recorded
bool opens_for_cannula(const Recording& recording, double outer_m) {
    if (!(outer_m > 0.0)) return true;
    for (const InstrumentSpec& spec : recording.tray)
        if (spec.tip == TipShape::blunt && outer_m > 0.7 * gauge(spec.gauge).outer_m) return true;
    return false;
}

void measure_pilot(Sheet& sheet) {
    constexpr double kMiddleRad = 37.5 * kPi / 180.0;  // of the band of 30 to 45 degrees: what "worst" is measured from
    const Event* worst_angle = nullptr;
    const Event* deepest = nullptr;
    for (const Event& event : sheet.recording().events) {
        if (event.kind != EventKind::entry_opened || !opens_for_cannula(sheet.recording(), event.value[3])) continue;
        const auto off_rad = [](const Event& e) { return std::abs(e.value[0] - kMiddleRad); };
        if (worst_angle == nullptr || off_rad(event) > off_rad(*worst_angle)) worst_angle = &event;
        const auto past_m = [](const Event& e) { return e.value[1] - e.value[2]; };
        if (deepest == nullptr || past_m(event) > past_m(*deepest)) deepest = &event;
    }
    if (worst_angle == nullptr) return;
    char angle[48];
    std::snprintf(angle, sizeof angle, "pilot at %.0f degrees to the skin", worst_angle->value[0] * 180.0 / kPi);
    sheet.add("pilot_angle", worst_angle->value[0]);
    sheet.find("pilot_angle", angle, worst_angle->step, worst_angle->place_m, 1.0, "enter");
    const double past_m = deepest->value[1] - deepest->value[2];
    sheet.add("pilot_past_fat", past_m);
    sheet.find("pilot_past_fat", "pilot went " + mm_text(std::max(0.0, past_m)) + " past the superficial fat",
               deepest->step, deepest->place_m, 1.0, "enter");
}

}  // namespace

void measure_plane(Sheet& sheet, const Bands& bands) {
    const Recording& recording = sheet.recording();
    const std::vector<VectorPlane> planes = planes_of(recording, bands, false);
    measure_band(sheet, planes);
    measure_steered(sheet, bands);
    measure_reach(sheet, bands);
    if (!final_tracks(recording).empty()) {
        measure_bias(sheet, planes);
        measure_layers(sheet, bands);
    }
    measure_entry(sheet);
    measure_pilot(sheet);
}

}  // namespace sim::figures
