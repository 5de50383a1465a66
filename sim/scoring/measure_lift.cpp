#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/scoring/figures.hpp"

/// What anchoring made of the threads, and what the skin gained: heading 4 after the withdrawal, and heading 9. Only
/// where a plan says what lift is within reach.

namespace sim::figures {

namespace {

/// Rows of one answer about threads.
using Answered = std::span<const LiftRow>;

bool hands_off(Answered rows) {
    return std::all_of(rows.begin(), rows.end(), [](const LiftRow& row) {
        return row.pull_n == 0.0 && row.stroke_n == 0.0 && row.hand_n == 0.0;
    });
}

/// The last answer with no hand on any thread or on the skin; empty where there is none.
Answered at_rest(const Recording& recording) {
    const std::vector<LiftRow>& rows = recording.lifts;
    for (std::size_t end = rows.size(); end > 0;) {
        std::size_t begin = end;
        while (begin > 0 && rows[begin - 1].step == rows[end - 1].step) --begin;
        const Answered answered(rows.data() + begin, end - begin);
        if (answered.front().thread > 0 && hands_off(answered)) return answered;
        end = begin;
    }
    return {};
}

/// The track in which a thread was left: threads are numbered in that order.
const TrackRecord* track_of(const Recording& recording, int thread) {
    int number = 0;
    for (const TrackRecord& track : recording.tracks)
        if (!track.barbs.empty() && track.final && ++number == thread) return &track;
    return nullptr;
}

/// What fluid does to barbs is an assumption without a published figure: threads that are lost in so much of it, and
/// the lift that goes with them, are shown and cost nothing. Assumed.
constexpr double kFluidTells = 0.05;

bool lost(const Event& event) { return event.kind == EventKind::thread_out || event.kind == EventKind::followed_out; }
bool lost_in_fluid(const Event& event) { return event.kind == EventKind::thread_out && event.value[2] > kFluidTells; }

/// Whether a thread that was to lift this was lost in fluid.
bool lifted_by_lost(const Recording& recording, const Concern& concern) {
    for (const Event& event : recording.events) {
        if (!lost_in_fluid(event)) continue;
        const TrackRecord* track = track_of(recording, event.subject);
        if (track == nullptr || track->vector < 0 || track->vector >= static_cast<int>(recording.plan.size())) continue;
        const PlannedVector& vector = recording.plan[static_cast<std::size_t>(track->vector)];
        if (vector.side != concern.side) continue;
        for (const LiftTarget& target : vector.lift)
            if (target.concern == concern.name) return true;
    }
    return false;
}

struct Lift {
    const Concern* concern = nullptr;
    double lift_m = 0.0, target_m = 0.0;
    Vec3 moved_m{};
};

/// What a thread holds at rest is tenths of a millimetre, of which a small reach makes large shares: nobody sees so
/// little too much. Assumed.
constexpr double kUnseenM = 0.05 * kMm;

/// Of what is within reach; what is more by no more than nobody sees is not more (since version 3).
double share_of(const Lift& lift, int scoring_version) {
    const double more_m = lift.lift_m - lift.target_m;
    if (scoring_version < 3 || !(more_m > 0.0)) return lift.lift_m / lift.target_m;
    return 1.0 + std::max(0.0, more_m - kUnseenM) / lift.target_m;
}

/// Every concern that a vector's plan speaks of, with how far it came along the vector's chord.
std::vector<Lift> lifts_of(const Recording& recording, Answered rest) {
    std::vector<Lift> out;
    for (const PlannedVector& vector : recording.plan)
        for (const LiftTarget& target : vector.lift)
            for (std::size_t i = 0; i < recording.concerns.size(); ++i) {
                const Concern& concern = recording.concerns[i];
                if (concern.name != target.concern || concern.side != vector.side) continue;
                if (lifted_by_lost(recording, concern)) continue;
                Lift lift{&concern, 0.0, target.lift_m, {}};
                if (!rest.empty() && i < rest.front().moved_m.size()) lift.moved_m = rest.front().moved_m[i];
                lift.lift_m = glm::dot(lift.moved_m, glm::normalize(vector.entry_m - vector.end_m));
                out.push_back(lift);
            }
    return out;
}

std::string key_of(const Concern& concern) {
    std::string key = concern.name + "_" + std::string(name_of(concern.side));
    std::replace(key.begin(), key.end(), ' ', '_');
    return key;
}

std::string place_text(const Concern& concern) { return std::string(name_of(concern.side)) + " " + concern.name; }

void measure_lifts(Sheet& sheet, Answered rest) {
    const Recording& recording = sheet.recording();
    const std::int64_t step = rest.empty() ? recording.steps : rest.front().step;
    const std::vector<Lift> lifts = lifts_of(recording, rest);
    if (lifts.empty()) return;
    // told, since it is not what was asked for
    const bool rough = !rest.empty() && rest.front().shape == LiftShape::no_final_found;
    const auto share = [&](const Lift& lift) { return share_of(lift, recording.scoring_version); };
    const auto off = [&](const Lift& lift) { return std::abs(share(lift) - 1.0); };
    const Lift& worst =
        *std::max_element(lifts.begin(), lifts.end(), [&](const Lift& a, const Lift& b) { return off(a) < off(b); });
    sheet.add("lift_of_target", share(worst));
    sheet.find("lift_of_target",
               place_text(*worst.concern) + " lifted by " + mm_text(worst.lift_m) + ", " + mm_text(worst.target_m) +
                   " within reach" + (rough ? " (for small strains: no final shape was found)" : ""),
               step, worst.concern->place_m, 1.0, "anchor");
    for (const Lift& lift : lifts)
        sheet.add_extra(*measure_named("lift"), "lift_" + key_of(*lift.concern), lift.lift_m);

    double apart_m = -1.0;
    const Concern* where = nullptr;
    for (const Lift& left : lifts)
        for (const Lift& right : lifts) {
            if (left.concern->side != Side::left || right.concern->side != Side::right) continue;
            if (left.concern->name != right.concern->name) continue;
            const double here_m =
                std::abs(left.concern->place_m.y + left.moved_m.y - right.concern->place_m.y - right.moved_m.y);
            if (here_m > apart_m) apart_m = here_m, where = left.concern;
        }
    if (where == nullptr) return;
    sheet.add("side_difference", apart_m);
    sheet.find("side_difference", "both sides of the " + where->name + " differ in height by " + mm_text(apart_m), step,
               where->place_m, 1.0, "anchor");
}

void measure_dimples(Sheet& sheet, Answered rest) {
    const LiftRow* deepest = nullptr;
    for (const LiftRow& row : rest)
        if (deepest == nullptr || row.dimple_m > deepest->dimple_m) deepest = &row;
    sheet.add("dimple", deepest == nullptr ? 0.0 : deepest->dimple_m);
    if (deepest == nullptr || !(deepest->dimple_m > 0.0)) return;
    const TrackRecord* track = track_of(sheet.recording(), deepest->thread);
    sheet.find("dimple", "the skin lies in by " + mm_text(deepest->dimple_m) + " over a thread", deepest->step,
               track == nullptr ? Vec3{} : track->entry_m, 1.0, "anchor");
}

void measure_losses(Sheet& sheet) {
    std::vector<const Event*> charged;
    int in_fluid = 0;
    for (const Event& event : sheet.recording().events) {
        if (lost_in_fluid(event)) ++in_fluid;
        if (lost(event) && !lost_in_fluid(event)) charged.push_back(&event);
    }
    sheet.add("threads_lost", static_cast<double>(charged.size()));
    if (!charged.empty())
        sheet.find("threads_lost", count_text(static_cast<int>(charged.size()), "thread", "threads") + " came out",
                   charged.front()->step, charged.front()->place_m, 1.0, "anchor");
    if (in_fluid > 0) sheet.add("threads_lost_in_fluid", in_fluid);
}

void measure_anchoring(Sheet& sheet, Answered rest) {
    const Recording& recording = sheet.recording();
    double seated = 1.0, hold_n = std::numeric_limits<double>::infinity();
    int slipped = 0;
    const LiftRow* at = nullptr;
    for (const LiftRow& row : rest) {
        const int all = row.seated + row.slipped + row.folded;
        const double share = row.out || all == 0 ? 0.0 : static_cast<double>(row.seated) / all;
        if (at == nullptr || share < seated) at = &row;
        seated = std::min(seated, share);
        hold_n = std::min(hold_n, row.hold_n);
        slipped += row.slipped;
    }
    if (at == nullptr) seated = hold_n = 0.0;  // nobody has anchored anything
    const std::int64_t step = at == nullptr ? recording.steps : at->step;
    const TrackRecord* track = at == nullptr ? nullptr : track_of(recording, at->thread);
    const Vec3 place_m = track == nullptr ? Vec3{} : track->entry_m;
    const auto find = [&](std::string_view name, const std::string& what) {
        sheet.find(name, at == nullptr ? "no thread was pulled or stroked" : what, step, place_m, 1.0, "anchor");
    };
    sheet.add("anchored_seated", seated);
    find("anchored_seated",
         std::to_string(static_cast<int>(100.0 * seated + 0.5)) + " % of the barbs seated in the end");
    sheet.add("anchored_hold", hold_n);
    find("anchored_hold", "the weaker barb set holds " + n_text(hold_n) + " in the end");
    sheet.add("slipped_barbs", slipped);
    if (slipped > 0) find("slipped_barbs", count_text(slipped, "barb", "barbs") + " slipped");

    const LiftRow* strongest = nullptr;
    for (const LiftRow& row : recording.lifts)
        if (strongest == nullptr || row.pull_n > strongest->pull_n) strongest = &row;
    sheet.add("peak_traction", strongest == nullptr ? 0.0 : strongest->pull_n);
    const TrackRecord* pulled = strongest == nullptr ? nullptr : track_of(recording, strongest->thread);
    sheet.find(
        "peak_traction",
        strongest == nullptr ? "the tail was never pulled" : "the tail was pulled with " + n_text(strongest->pull_n),
        strongest == nullptr ? recording.steps : strongest->step, pulled == nullptr ? Vec3{} : pulled->entry_m, 1.0,
        "anchor");

    measure_losses(sheet);
}

}  // namespace

void measure_lift(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    if (std::all_of(recording.plan.begin(), recording.plan.end(),
                    [](const PlannedVector& vector) { return vector.lift.empty(); }))
        return;
    const Answered rest = at_rest(recording);
    measure_anchoring(sheet, rest);
    measure_lifts(sheet, rest);
    measure_dimples(sheet, rest);
}

}  // namespace sim::figures
