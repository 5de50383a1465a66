#include <algorithm>
#include <limits>

#include "sim/scoring/figures.hpp"

/// How threads lie to each other and to the mouth, how the neck's skin was held for them, and those that are to be
/// drawn out again. After common practice, no source: 5 to 10 mm apart over their barbed length, ending 10 to 15 mm
/// short of the commissure.

namespace sim::figures {

namespace {

constexpr double kBesideLowM = 4.0 * kMm, kBesideHighM = 12.0 * kMm;  // 5 to 10 mm, and a millimetre or two; assumed
constexpr double kFeltN = 0.3;                                        // less is a touch; assumed
constexpr double kNearM = 30.0 * kMm;                                 // a grip further away holds other skin; assumed

/// Barbed part of a track.
std::vector<const TrackPiece*> barbed(const TrackRecord& track) {
    double first_m = std::numeric_limits<double>::infinity();
    for (const BarbRecord& barb : track.barbs) first_m = std::min(first_m, barb.along_m);
    std::vector<const TrackPiece*> out;
    for (std::size_t i = 0; i < track.pieces.size(); ++i)
        if ((static_cast<double>(i) + 0.5) * kPieceM >= first_m) out.push_back(&track.pieces[i]);
    return out;
}

void measure_spacing(Sheet& sheet, const std::vector<const TrackRecord*>& threads) {
    double least_m = std::numeric_limits<double>::infinity();
    const TrackRecord* later = nullptr;
    Vec3 place_m{};
    for (std::size_t i = 0; i < threads.size(); ++i)
        for (std::size_t j = 0; j < i; ++j) {
            if ((threads[i]->entry_m.x >= 0.0) != (threads[j]->entry_m.x >= 0.0)) continue;
            for (const TrackPiece* a : barbed(*threads[i]))
                for (const TrackPiece* b : barbed(*threads[j]))
                    if (const double apart_m = glm::length(a->middle_m - b->middle_m); apart_m < least_m)
                        least_m = apart_m, later = threads[i], place_m = a->middle_m;
        }
    if (later == nullptr) return;
    sheet.add("track_spacing", least_m);
    sheet.find("track_spacing", "two threads come within " + mm_text(least_m) + " of each other",
               step_at(sheet.recording(), *later, later->length_m), place_m);
}

void measure_mouth(Sheet& sheet, const std::vector<const TrackRecord*>& threads) {
    const Recording& recording = sheet.recording();
    double least_m = std::numeric_limits<double>::infinity();
    const TrackRecord* where = nullptr;
    for (const TrackRecord* track : threads)
        for (const Concern& concern : recording.concerns)
            if (concern.name == "mouth corner")
                if (const double apart_m = glm::length(track->end_m - concern.place_m); apart_m < least_m)
                    least_m = apart_m, where = track;
    if (where == nullptr) return;
    sheet.add("far_end_to_mouth", least_m);
    sheet.find("far_end_to_mouth", "a far end lies " + mm_text(least_m) + " from the corner of the mouth",
               step_at(recording, *where, where->length_m), where->end_m);
}

/// A thread too long for its vector leaves barbs outside.
void measure_fit(Sheet& sheet, const std::vector<const TrackRecord*>& threads) {
    double least = 1.0;
    const TrackRecord* where = nullptr;
    for (const TrackRecord* track : threads) {
        const ThreadSpec& thread = sheet.recording().tray[static_cast<std::size_t>(track->instrument)].thread;
        const double laid = static_cast<double>(track->barbs.size()) * thread.barb_pitch_m / thread.barbed_length_m;
        if (where == nullptr || laid < least) least = std::min(1.0, laid), where = track;
    }
    if (where == nullptr) return;
    sheet.add("barbs_laid", least);
    sheet.find("barbs_laid", "the thread is longer than its track: barbs lie outside",
               step_at(sheet.recording(), *where, where->length_m), where->entry_m, 1.0, "mark");
}

/// Of each vector in the neck half for a pilot through skin that was drawn tight, half for a pass under a fold.
void measure_neck(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    int wanted = 0, held = 0;
    const Event* first_bad = nullptr;
    for (std::size_t v = 0; v < recording.plan.size(); ++v) {
        if (!recording.plan[v].neck) continue;
        const Event* grip = nullptr;
        const auto holds = [&](Grip which, const Vec3& place_m) {
            return grip != nullptr && grip->subject == static_cast<int>(which) && grip->value[0] >= kFeltN &&
                   glm::length(grip->place_m - place_m) <= kNearM;
        };
        bool tight = false, fold = false, passed = false;
        int track = -1;
        for (const Event& event : recording.events) {
            if (event.kind == EventKind::hand_settled) grip = &event;
            // the widest hole is the pilot's: a fine needle's bleb before it need not be through tight skin
            if (event.kind == EventKind::entry_opened &&
                glm::length(event.place_m - recording.plan[v].entry_m) <= kNearM)
                tight = tight || holds(Grip::draw_tight, event.place_m);
            if (event.kind == EventKind::track_opened && event.value[0] > 0.0) track = event.subject;
            const auto served = static_cast<std::size_t>(track);
            const bool here = track >= 0 && served < recording.tracks.size() &&
                              recording.tracks[served].vector == static_cast<int>(v);
            if (here && event.kind == EventKind::withdrawal_began) {
                passed = true;
                if (!fold && first_bad == nullptr) first_bad = &event;
            }
            if (here && !passed && event.kind == EventKind::hand_settled)
                fold = fold || (event.subject == static_cast<int>(Grip::fold) && event.value[0] >= kFeltN);
        }
        wanted += 2;
        held += (tight ? 1 : 0) + (fold ? 1 : 0);
    }
    if (wanted == 0) return;
    tell(sheet, "neck_skin_held", static_cast<double>(held) / wanted, first_bad == nullptr ? 0 : first_bad->step,
         "pass", "the neck's skin was not drawn tight for the pilot or not lifted in a fold for the pass",
         first_bad == nullptr ? Vec3{} : first_bad->place_m);
}

/// A thread that is to come out: whether it did, and whether strokes away from its centre loosened it first.
void measure_taken_out(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    const auto wanted = std::count_if(recording.plan.begin(), recording.plan.end(),
                                      [](const PlannedVector& vector) { return vector.take_out; });
    if (wanted == 0) return;
    int out = 0, loosened = 0;
    for (const Event& event : recording.events) {
        if (event.kind != EventKind::thread_out) continue;
        ++out;
        const bool first = std::any_of(recording.events.begin(), recording.events.end(), [&](const Event& stroke) {
            return stroke.kind == EventKind::stroked && stroke.subject == event.subject && stroke.value[0] < 0.0 &&
                   stroke.step < event.step;
        });
        loosened += first ? 1 : 0;
    }
    const auto share = [&](int count) {
        return std::min(1.0, static_cast<double>(count) / static_cast<double>(wanted));
    };
    tell(sheet, "threads_taken_out", share(out), recording.steps, "anchor", "the thread was not drawn out whole");
    tell(sheet, "loosened_first", share(loosened), recording.steps, "anchor",
         "no stroke away from its centre loosened the thread before it was drawn out");
}

/// Whether the result was seen sitting up between two steps.
bool seen_upright(const Recording& recording, std::int64_t from, std::int64_t to) {
    return std::any_of(recording.events.begin(), recording.events.end(), [&](const Event& event) {
        if (event.kind != EventKind::deed_done || event.step < from || event.step > to) return false;
        const bool view = event.subject == static_cast<int>(Deed::photograph),
                   movement = event.subject == static_cast<int>(Deed::test_movement);
        return (view && event.value[1] == static_cast<double>(Chair::upright)) ||
               (movement && event.value[3] == static_cast<double>(Chair::upright));
    });
}

/// A thread that reinforces lies beside the first of its side, through the same entry or another, and comes once the
/// result was seen upright.
void measure_reinforced(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    double sum = 0.0;
    int wanted = 0;
    const TrackRecord* worst = nullptr;
    std::string why = "the thread that was to reinforce was not laid";
    for (int vector = 0; vector < static_cast<int>(recording.plan.size()); ++vector) {
        const PlannedVector& plan = recording.plan[static_cast<std::size_t>(vector)];
        if (!plan.reinforces) continue;
        ++wanted;
        for (const TrackRecord* track : final_tracks(recording, vector)) {
            if (track->barbs.empty()) continue;
            double beside_m = std::numeric_limits<double>::infinity();
            std::int64_t first_laid = 0;
            for (const TrackRecord* other : final_tracks(recording))
                if (other != track && !other->barbs.empty() && (other->entry_m.x >= 0.0) == (track->entry_m.x >= 0.0) &&
                    other->track < track->track) {
                    beside_m = std::min(beside_m, glm::length(other->end_m - track->end_m));
                    first_laid = step_at(recording, *other, other->length_m);
                }
            const bool beside = beside_m >= kBesideLowM && beside_m <= kBesideHighM;
            const bool reviewed = seen_upright(recording, first_laid, step_at(recording, *track, 0.0));
            sum += (beside ? 0.5 : 0.0) + (reviewed ? 0.5 : 0.0);
            if (!beside || !reviewed) worst = track;
            why = beside ? "reinforced before the result was seen sitting up"
                         : "the thread that reinforces ends " + mm_text(beside_m) + " from the one before";
            break;
        }
    }
    if (wanted == 0) return;
    tell(sheet, "reinforced_beside", sum / wanted, worst != nullptr ? step_at(recording, *worst, 0.0) : recording.steps,
         "review", why, worst != nullptr ? worst->entry_m : Vec3{});
}

}  // namespace

void measure_courses(Sheet& sheet) {
    std::vector<const TrackRecord*> threads;
    for (const TrackRecord* track : final_tracks(sheet.recording()))
        if (!track->barbs.empty()) threads.push_back(track);
    measure_spacing(sheet, threads);
    measure_mouth(sheet, threads);
    measure_fit(sheet, threads);
    measure_neck(sheet);
    measure_taken_out(sheet);
    measure_reinforced(sheet);
}

}  // namespace sim::figures
