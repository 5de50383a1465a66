#include <algorithm>
#include <limits>
#include <set>

#include "sim/scoring/figures.hpp"

/// Heading 2: how near did the shaft's wall come to walls that must not be met? Every track of the attempt counts,
/// also those taken out: the patient underwent them.

namespace sim::figures {

namespace {

/// Where something was least over all tracks.
struct Nearest {
    double distance_m = std::numeric_limits<double>::infinity();
    const TrackRecord* track = nullptr;
    std::size_t piece = 0;
    int structure = -1;

    void take(double candidate_m, const TrackRecord& from, std::size_t index, int which) {
        if (!(candidate_m < distance_m)) return;
        *this = {candidate_m, &from, index, which};
    }
};

template <class Visit>
void for_each_clearance(const Recording& recording, Visit visit) {
    for (const TrackRecord& track : recording.tracks)
        for (std::size_t i = 0; i < track.pieces.size(); ++i)
            for (const RecordedClearance& clearance : track.pieces[i].clearance)
                if (clearance.structure >= 0 && clearance.structure < static_cast<int>(recording.structures.size()))
                    visit(track, i, clearance, recording.structures[static_cast<std::size_t>(clearance.structure)]);
}

std::string key_of(const StructureFacts& structure) {
    std::string key = "clearance_" + structure.name + "_" + std::string(name_of(structure.side));
    std::replace_if(
        key.begin(), key.end(), [](char c) { return c == ' ' || c == '-'; }, '_');
    return key;
}

void find_at(Sheet& sheet, std::string_view name, std::string what, const Nearest& at) {
    sheet.find(name, std::move(what), step_at(sheet.recording(), *at.track, kPieceM * static_cast<double>(at.piece)),
               at.track->pieces[at.piece].middle_m);
}

void measure_superficial(Sheet& sheet, const Bands& bands) {
    const Recording& recording = sheet.recording();
    std::vector<Nearest> nearest(recording.structures.size());
    for_each_clearance(recording, [&](const TrackRecord& track, std::size_t i, const RecordedClearance& clearance,
                                      const StructureFacts& structure) {
        if (structure.superficial)
            nearest[static_cast<std::size_t>(clearance.structure)].take(clearance.distance_m, track, i,
                                                                        clearance.structure);
    });
    Nearest least;
    for (const Nearest& one : nearest)
        if (one.track != nullptr) least.take(one.distance_m, *one.track, one.piece, one.structure);

    const double cap_m = bands.clearance_cap_m.value;
    sheet.add("least_clearance", std::min(least.distance_m, cap_m));
    if (least.distance_m >= cap_m) sheet.cap_last();
    if (least.track != nullptr)
        find_at(sheet, "least_clearance",
                least.distance_m < 0.0 ? "shaft ran " + mm_text(-least.distance_m) + " into the " +
                                             structure_text(recording, least.structure)
                                       : "shaft came within " + mm_text(least.distance_m) + " of the " +
                                             structure_text(recording, least.structure),
                least);
    for (std::size_t i = 0; i < nearest.size(); ++i)
        if (nearest[i].track != nullptr && nearest[i].distance_m < cap_m)
            sheet.add_extra(*measure_named("least_clearance"), key_of(recording.structures[i]), nearest[i].distance_m);
}

/// Longest inside any margin in one track of each vector, summed over vectors: a bare track and the loaded one that
/// follows it are the same way.
void measure_margins(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    double total_m = 0.0;
    for (int vector = 0; vector < vector_count(recording); ++vector) {
        double longest_m = 0.0;
        for (const TrackRecord& track : recording.tracks) {
            if (track.vector != vector) continue;
            double length_m = 0.0;
            for (const TrackPiece& piece : track.pieces)
                length_m +=
                    std::any_of(piece.clearance.begin(), piece.clearance.end(),
                                [&](const RecordedClearance& c) {
                                    if (c.structure < 0 || c.structure >= static_cast<int>(recording.structures.size()))
                                        return false;
                                    const auto& facts = recording.structures[static_cast<std::size_t>(c.structure)];
                                    return facts.superficial && c.distance_m < facts.margin_m - kSlackM;
                                })
                        ? kPieceM
                        : 0.0;
            longest_m = std::max(longest_m, length_m);
        }
        total_m += longest_m;
    }
    sheet.add("length_in_margins", total_m);
    if (total_m > 0.0)
        sheet.find("length_in_margins", mm_text(total_m) + " of track inside the margin of a structure", 0, {});
}

/// Deeper structures are kept safe by the plane; where it is left, their own margin counts.
void measure_deep(Sheet& sheet) {
    Nearest worst;
    for_each_clearance(sheet.recording(), [&](const TrackRecord& track, std::size_t i,
                                              const RecordedClearance& clearance, const StructureFacts& structure) {
        if (structure.superficial) return;
        const TrackPiece& piece = track.pieces[i];
        if (!(piece.deepest_m + track.shaft_radius_m > piece.bottom_m[1] + kSlackM)) return;
        const double left = structure.margin_m > 0.0 ? clearance.distance_m / structure.margin_m
                                                     : (clearance.distance_m < 0.0 ? 0.0 : 1.0);
        worst.take(std::clamp(left, 0.0, 1.0), track, i, clearance.structure);
    });
    const double used = worst.track == nullptr ? 0.0 : 1.0 - worst.distance_m;
    sheet.add("deep_margin_intrusion", used);
    if (used > 0.0)
        find_at(sheet, "deep_margin_intrusion",
                "below the fat, inside the margin of the " + structure_text(sheet.recording(), worst.structure), worst);
}

void count_structures(Sheet& sheet, EventKind kind, std::string_view name, std::string_view verb) {
    const Recording& recording = sheet.recording();
    std::set<int> structures;
    std::vector<const Event*> firsts;
    for (const Event& event : recording.events)
        if (event.kind == kind && structures.insert(event.subject).second) firsts.push_back(&event);
    sheet.add(name, static_cast<double>(structures.size()));
    for (const Event* event : firsts)
        sheet.find(
            name,
            structure_text(recording, event->subject) + " " + std::string(verb) + " at " + n_text(event->value[0]),
            event->step, event->place_m);
}

}  // namespace

void measure_clearance(Sheet& sheet, const Bands& bands) {
    const Recording& recording = sheet.recording();
    const bool tracked = std::any_of(recording.tracks.begin(), recording.tracks.end(),
                                     [](const TrackRecord& track) { return !track.pieces.empty(); });
    if (recording.structures.empty() || !tracked) return;
    const auto is_superficial = [](const StructureFacts& structure) { return structure.superficial; };
    if (std::any_of(recording.structures.begin(), recording.structures.end(), is_superficial)) {
        measure_superficial(sheet, bands);
        measure_margins(sheet);
    }
    if (!std::all_of(recording.structures.begin(), recording.structures.end(), is_superficial)) measure_deep(sheet);
    count_structures(sheet, EventKind::wall_touched, "walls_touched", "touched");
    count_structures(sheet, EventKind::wall_breached, "walls_breached", "breached");
}

}  // namespace sim::figures
