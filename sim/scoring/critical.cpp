#include <algorithm>
#include <limits>

#include "sim/scoring/critical_rules.hpp"
#include "sim/scoring/figures.hpp"

/// Faults that fail an attempt whatever its points.

namespace sim {

namespace {

using figures::fault;
using figures::Found;
using figures::kSlackM;

/// Another track that passes this near to where a sign was given goes on in the same way; assumed.
constexpr double kSameWayM = 3.0 * kMm;

Found forced_plunge(const Recording& recording, const CriticalFault& rule) {
    for (std::size_t i = 0; i < recording.events.size(); ++i) {
        const Event& event = recording.events[i];
        double travel_m = 0.0;
        if (event.kind == EventKind::ligament_parted) travel_m = event.value[2];
        if (event.kind == EventKind::plunge && figures::open_track_at(recording, i) >= 0) travel_m = event.value[0];
        if (travel_m > rule.threshold * kMm + kSlackM)
            return fault(rule, "tip travelled " + figures::mm_text(travel_m) + " when it gave way", event.step,
                         event.place_m, travel_m / kMm, "mm");
    }
    return std::nullopt;
}

/// Track left below the SMAS; one that was taken out again was corrected.
Found below_smas(const Recording& recording, const CriticalFault& rule) {
    for (const TrackRecord* track : figures::final_tracks(recording)) {
        double length_m = 0.0;
        for (std::size_t i = 0; i < track->pieces.size(); ++i) {
            const TrackPiece& piece = track->pieces[i];
            if (!(piece.deepest_m > piece.bottom_m[2] + kSlackM)) continue;
            length_m += figures::kPieceM;
            if (length_m > rule.threshold * kMm + kSlackM)
                return fault(rule, "", figures::step_at(recording, *track, figures::kPieceM * static_cast<double>(i)),
                             piece.middle_m, length_m / kMm, "mm");
        }
    }
    return std::nullopt;
}

/// A vein bleeds and is a major fault, but its sign is not one of those after which going on is critical.
bool is_sign(const Recording& recording, const Event& event) {
    if (event.kind == EventKind::lining_breached) return true;
    const bool breached = event.kind == EventKind::wall_breached, touched = event.kind == EventKind::wall_touched;
    const bool known = event.subject >= 0 && event.subject < static_cast<int>(recording.structures.size());
    if (!(breached || touched) || !known) return false;
    const StructureKind kind = recording.structures[static_cast<std::size_t>(event.subject)].kind;
    if (kind == StructureKind::nerve) return true;  // pain or a twitch comes with contact
    return breached && kind != StructureKind::vein;
}

std::string sign_text(const Recording& recording, const Event& sign) {
    if (sign.kind == EventKind::lining_breached) return "after the cheek's lining was breached";
    return "after the " + figures::structure_text(recording, sign.subject) +
           (sign.kind == EventKind::wall_touched ? " was touched" : " was breached");
}

/// How far the tip was pushed on in the same track after a step, and when it passed the threshold.
Found pushed_on(const Recording& recording, const CriticalFault& rule, const Event& sign, int track) {
    double at_sign_m = 0.0, farthest_m = 0.0;
    for (const TraceRow& row : recording.rows)
        if (row.track == track && row.step <= sign.step) at_sign_m = row.inserted_m;
    for (const TraceRow& row : recording.rows) {
        if (row.track != track || row.step <= sign.step) continue;
        // drawn back and pushed again is going on too
        at_sign_m = std::min(at_sign_m, row.inserted_m);
        farthest_m = std::max(farthest_m, row.inserted_m - at_sign_m);
        if (farthest_m > rule.threshold * kMm + kSlackM)
            return fault(rule, "pushed on " + sign_text(recording, sign), row.step, row.tip_m, farthest_m / kMm, "mm");
    }
    return std::nullopt;
}

Found left_thread(const Recording& recording, const CriticalFault& rule, const Event& sign, int track) {
    for (const Event& event : recording.events)
        if (event.kind == EventKind::thread_left && event.subject == track && event.step >= sign.step)
            return fault(rule, "thread left " + sign_text(recording, sign), event.step, event.place_m, 0.0, "mm");
    return std::nullopt;
}

Found same_way_again(const Recording& recording, const CriticalFault& rule, const Event& sign, int track) {
    for (const TrackRecord& later : recording.tracks) {
        if (later.track <= track) continue;
        for (std::size_t i = 0; i < later.pieces.size(); ++i)
            if (glm::length(later.pieces[i].middle_m - sign.place_m) < kSameWayM)
                return fault(rule, "passed the same place again " + sign_text(recording, sign),
                             figures::step_at(recording, later, figures::kPieceM * static_cast<double>(i)),
                             later.pieces[i].middle_m, 0.0, "mm");
    }
    return std::nullopt;
}

Found advance_after_sign(const Recording& recording, const CriticalFault& rule) {
    for (std::size_t i = 0; i < recording.events.size(); ++i) {
        const Event& sign = recording.events[i];
        if (!is_sign(recording, sign)) continue;
        const int track = figures::open_track_at(recording, i);
        if (track < 0) continue;
        if (Found found = pushed_on(recording, rule, sign, track)) return found;
        if (Found found = left_thread(recording, rule, sign, track)) return found;
        if (Found found = same_way_again(recording, rule, sign, track)) return found;
    }
    return std::nullopt;
}

Found broken_skin_thread_used(const Recording& recording, const CriticalFault& rule) {
    for (std::size_t i = 0; i < recording.events.size(); ++i) {
        if (recording.events[i].kind != EventKind::skin_broken_through) continue;
        const int track = figures::open_track_at(recording, i);
        for (std::size_t j = i + 1; track >= 0 && j < recording.events.size(); ++j) {
            const Event& event = recording.events[j];
            if (event.kind == EventKind::thread_left && event.subject == track)
                return fault(rule, "", event.step, event.place_m, 0.0, "");
        }
    }
    return std::nullopt;
}

using Judge = Found (*)(const Recording&, const CriticalFault&);
struct Rule {
    CriticalRule rule;
    Judge judge;
};

constexpr std::array<Rule, 14> kRules{{
    {{"forced_plunge", "mm", "the tip travelled further than this when resistance gave way in a track"}, forced_plunge},
    {{"below_smas_uncorrected", "mm", "a final track ran further than this below the SMAS or platysma"}, below_smas},
    {{"advance_after_sign", "mm",
      "after an arterial, parotid, mucosal or nerve sign the tip was pushed on further than this, the thread was left, "
      "or the same place was passed again"},
     advance_after_sign},
    {{"broken_skin_thread_used", "", "the tip came out through the skin and the thread was left all the same"},
     broken_skin_thread_used},
    {{"no_consent", "", "a needle went through the skin without written consent"}, figures::no_consent},
    {{"against_reason", "", "a needle went through the skin though the history calls for deferring or referring"},
     figures::against_reason},
    {{"dose_over_limit", "%", "more anaesthetic was given than this share of the label's limit"},
     figures::dose_over_limit},
    {{"known_allergy", "", "anaesthetic was injected into a patient who is allergic to it"}, figures::known_allergy},
    {{"toxicity_ignored", "", "signs of anaesthetic toxicity were not answered in time, or injecting went on"},
     figures::toxicity_ignored},
    {{"unprepared_entry", "", "an instrument went through skin that was not prepared"}, figures::unprepared_entry},
    {{"contaminated_thread", "", "a thread was left from a cannula that was not sterile"},
     figures::contaminated_thread},
    {{"bleeding_ignored", "", "an artery's bleeding was not stopped"}, figures::bleeding_ignored},
    {{"sharp_missing", "", "the patient was let go before the sharps were counted"}, figures::sharp_missing},
    {{"open_red_flag", "", "the patient was let go with a sign that nobody had answered"}, figures::open_red_flag},
}};

}  // namespace

std::span<const CriticalRule> critical_rules() {
    static const std::array<CriticalRule, kRules.size()> rules = [] {
        std::array<CriticalRule, kRules.size()> out{};
        for (std::size_t i = 0; i < kRules.size(); ++i) out[i] = kRules[i].rule;
        return out;
    }();
    return rules;
}

std::vector<Finding> critical_faults(const Recording& recording, const Rubric& rubric) {
    std::vector<Finding> faults;
    for (const CriticalFault& wanted : rubric.critical)
        for (const Rule& rule : kRules) {
            if (rule.rule.event != wanted.event) continue;
            if (Found found = rule.judge(recording, wanted)) faults.push_back(std::move(*found));
        }
    return faults;
}

}  // namespace sim
