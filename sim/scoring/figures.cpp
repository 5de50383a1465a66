#include "sim/scoring/figures.hpp"

#include <algorithm>
#include <cstdio>
#include <limits>

#include "sim/core/errors.hpp"

namespace sim::figures {

void Sheet::add(std::string_view name, double value) {
    const MeasureSpec* spec = measure_named(name);
    SIM_ASSERT(spec != nullptr);
    add_extra(*spec, std::string(name), value);
}

void Sheet::set_steered(std::string_view name, double value) {
    for (Measure& one : out_.measures)
        if (one.name == name) one.steered = value / measure_named(name)->unit_si;
}

void Sheet::add_extra(const MeasureSpec& like, std::string name, double value) {
    out_.measures.push_back({std::move(name), like.heading, value, std::string(like.unit), value / like.unit_si});
}

void Sheet::find(std::string_view name, std::string what, std::int64_t step, const Vec3& place_m, double weight,
                 std::string_view stage) {
    const auto found = std::find_if(out_.measures.rbegin(), out_.measures.rend(),
                                    [&](const Measure& measure) { return measure.name == name; });
    SIM_ASSERT(found != out_.measures.rend());
    out_.findings.push_back({found->name, std::move(what), std::string(stage), static_cast<double>(step) * kStepS,
                             place_m, found->shown, found->unit, weight});
}

int vector_count(const Recording& recording) {
    int count = static_cast<int>(recording.plan.size());
    for (const TrackRecord& track : recording.tracks) count = std::max(count, track.vector + 1);
    return count;
}

std::vector<const TrackRecord*> final_tracks(const Recording& recording, int vector) {
    std::vector<const TrackRecord*> threads, bare;
    for (const TrackRecord& track : recording.tracks)
        if (track.final && track.vector == vector) (track.loaded ? threads : bare).push_back(&track);
    if (!threads.empty()) return threads;
    if (bare.size() > 1) bare.erase(bare.begin(), bare.end() - 1);
    return bare;
}

std::vector<const TrackRecord*> final_tracks(const Recording& recording) {
    std::vector<const TrackRecord*> all;
    for (int vector = 0; vector < vector_count(recording); ++vector)
        for (const TrackRecord* track : final_tracks(recording, vector)) all.push_back(track);
    return all;
}

namespace {

const PlannedVector* plan_of(const Recording& recording, int vector) {
    const bool planned = vector >= 0 && vector < static_cast<int>(recording.plan.size());
    return planned ? &recording.plan[static_cast<std::size_t>(vector)] : nullptr;
}

double made_length_m(const TrackRecord& track) {
    return std::max(track.length_m, kPieceM * static_cast<double>(track.pieces.size()));
}

}  // namespace

double planned_length_m(const Recording& recording, const TrackRecord& track) {
    const PlannedVector* plan = plan_of(recording, track.vector);
    return plan != nullptr ? plan->length_m : made_length_m(track);
}

double reached_share(const Recording& recording, const TrackRecord& track, const Bands& bands) {
    const PlannedVector* plan = plan_of(recording, track.vector);
    if (plan == nullptr) return 1.0;
    double share = std::min(1.0, track.length_m / plan->length_m);
    const Vec3 chord_m = plan->end_m - plan->entry_m;
    const double chord_length_m = glm::length(chord_m);
    if (chord_length_m > 0.0) {
        const double progress_m = glm::dot(track.end_m - track.entry_m, chord_m) / chord_length_m;
        share = std::min(share, std::max(0.0, progress_m) / (bands.straightness.value * chord_length_m));
    }
    return share;
}

double reached_share(const Recording& recording, int vector, const Bands& bands) {
    double best = 0.0;
    for (const TrackRecord* track : final_tracks(recording, vector))
        best = std::max(best, reached_share(recording, *track, bands));
    return best;
}

std::int64_t step_at(const Recording& recording, const TrackRecord& track, double along_m) {
    // rows come each 0.25 mm: the end of a track may lie past the last of them, and then its farthest row stands for it
    std::int64_t step = 0;
    double farthest_m = -1.0;
    for (const TraceRow& row : recording.rows) {
        if (row.track != track.track || !(row.inserted_m > farthest_m)) continue;
        farthest_m = row.inserted_m;
        step = row.step;
        if (row.inserted_m >= along_m - kSlackM) break;
    }
    return step;
}

int open_track_at(const Recording& recording, std::size_t event_index) {
    for (std::size_t i = event_index + 1; i-- > 0;) {
        const Event& event = recording.events[i];
        if (event.kind == EventKind::track_opened) return event.subject;
        if (event.kind == EventKind::track_closed && i != event_index) return -1;
    }
    return -1;
}

std::vector<PlungeStretch> plunge_stretches(const Recording& recording) {
    std::vector<PlungeStretch> out;
    for (std::size_t i = 0; i < recording.events.size(); ++i) {
        const Event& event = recording.events[i];
        const bool parted = event.kind == EventKind::ligament_parted;
        if (!parted && event.kind != EventKind::plunge) continue;
        const double travel_m = event.value[parted ? 2 : 0];
        const int track = open_track_at(recording, i);
        if (track < 0 || !(travel_m > kPlungeM)) continue;
        double from_m = 0.0;
        for (const TraceRow& row : recording.rows)
            if (row.track == track && row.step <= event.step) from_m = std::max(from_m, row.inserted_m);
        out.push_back({track, from_m, from_m + travel_m});
    }
    return out;
}

namespace {

std::string decimal_text(double value, const char* unit) {
    char text[64];
    std::snprintf(text, sizeof text, "%.1f %s", value, unit);
    return text;
}

}  // namespace

std::string mm_text(double value_m) { return decimal_text(value_m / kMm, "mm"); }
std::string n_text(double value_n) { return decimal_text(value_n, "N"); }

std::string count_text(int count, std::string_view singular, std::string_view plural) {
    return std::to_string(count) + " " + std::string(count == 1 ? singular : plural);
}

std::string structure_text(const StructureFacts& structure) {
    return structure.side == Side::midline ? structure.name
                                           : std::string(name_of(structure.side)) + " " + structure.name;
}

std::string structure_text(const Recording& recording, int structure) {
    const bool known = structure >= 0 && structure < static_cast<int>(recording.structures.size());
    return known ? structure_text(recording.structures[static_cast<std::size_t>(structure)]) : "structure";
}

std::string ligament_text(const Recording& recording, int ligament) {
    if (ligament < 0 || ligament >= static_cast<int>(recording.ligaments.size())) return "ligament";
    const LigamentFacts& facts = recording.ligaments[static_cast<std::size_t>(ligament)];
    return facts.side == Side::midline ? facts.name : std::string(name_of(facts.side)) + " " + facts.name;
}

}  // namespace sim::figures
