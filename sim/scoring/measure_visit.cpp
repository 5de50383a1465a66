#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "sim/scoring/figures.hpp"
#include "sim/scoring/visit_record.hpp"

/// The work around the passes: consult, marks, cleanliness, anaesthetic, finish. Only where the scenario has a visit.

namespace sim::figures {

namespace {

constexpr double kMarkOffM = 10.0 * kMm;  // of its rule; assumed
constexpr double kAspirateS = 30.0;       // before an injection; assumed
constexpr double kBolusGapS = 10.0;       // injections closer than this are one; assumed
constexpr double kTailLowM = 2.0 * kMm, kTailHighM = 4.0 * kMm;

double share_of(int part, int whole) { return static_cast<double>(part) / whole; }

/// A share, and a finding where it is not whole.
void tell(Sheet& sheet, std::string_view name, double share, std::int64_t step, std::string_view stage,
          const std::string& what, const Vec3& place_m = {}) {
    sheet.add(name, share);
    if (share < 1.0) sheet.find(name, what, step, place_m, 1.0, stage);
}

void measure_consult(Sheet& sheet, const VisitRecord& record) {
    const VisitSpec& spec = *sheet.recording().visit;
    const Event* decided = record.last(EventKind::decided);
    const std::int64_t by = decided == nullptr ? sheet.recording().steps : decided->step;
    std::set<int> asked;
    for (const Event* one : record.deeds(Deed::ask))
        if (one->step <= by) asked.insert(static_cast<int>(one->value[0]));
    const int open = static_cast<int>(kHistoryItems) - static_cast<int>(asked.size());
    tell(sheet, "history_taken", share_of(static_cast<int>(asked.size()), kHistoryItems), by, "consult",
         count_text(open, "question", "questions") + " of the history not asked before the decision");

    const Decision right = spec.right_decision();
    bool good = decided != nullptr && decided->subject == static_cast<int>(right);
    if (good && right != Decision::treat)
        good = spec.history[static_cast<std::size_t>(decided->value[0])].calls_for == right;
    tell(sheet, "decision_right", good ? 1.0 : 0.0, by, "consult",
         decided == nullptr ? "nobody decided whether to treat"
                            : "the history calls for another decision or another reason");
    if (!record.entered()) return;

    const std::int64_t entered = record.entered_step();
    const bool explained = record.done_by(Deed::explain, entered);
    const bool consented = record.done_by(Deed::take_consent, entered);
    tell(sheet, "consent_given", (explained ? 0.5 : 0.0) + (consented ? 0.5 : 0.0), entered, "consult",
         explained ? "no written consent before the first needle" : "nothing was explained before the first needle");
    const bool moved = record.done_by(Deed::test_movement, entered),
               felt = record.done_by(Deed::test_sensation, entered);
    tell(sheet, "baseline_taken", (moved ? 0.5 : 0.0) + (felt ? 0.5 : 0.0), entered, "consult",
         "movement or sensation not tested before anything was injected");
    const int before = record.views(0, entered);
    tell(sheet, "views_before", share_of(before, kViews), entered, "consult",
         count_text(kViews - before, "standard view", "standard views") + " not taken before the first needle");
}

void measure_marks(Sheet& sheet, const VisitRecord& record) {
    if (!record.entered()) return;
    const std::int64_t entered = record.entered_step();
    const std::set<Side> sides = record.planned_sides();
    std::set<int> felt;
    for (const Event* one : record.deeds(Deed::feel_pulse))
        if (one->step <= entered && one->value[1] > 0.0) felt.insert(static_cast<int>(one->value[2]));
    // at the jaw and before the ear, each side that is treated; the record knows no other arteries that can be felt
    const int wanted = 2 * static_cast<int>(sides.size());
    const int found = std::min(wanted, static_cast<int>(felt.size()));
    tell(sheet, "pulses_felt", share_of(found, wanted), entered, "mark",
         count_text(wanted - found, "pulse", "pulses") + " not felt before the first needle");

    std::set<std::pair<int, bool>> good;
    int wrong = 0;
    Vec3 off_place_m{};
    for (const Event* one : record.deeds(Deed::mark_point)) {
        if (one->step > entered) continue;
        const bool left = one->place_m.x >= 0.0;
        if (one->value[1] >= 0.0 && one->value[1] <= kMarkOffM) {
            good.insert({static_cast<int>(one->value[0]), left});
        } else if (one->value[1] > kMarkOffM) {
            ++wrong;
            off_place_m = one->place_m;
        }
    }
    int placed = 0;
    for (const auto& [point, left] : good)
        if (sides.count(left ? Side::left : Side::right) > 0) ++placed;
    const int needed = kMarkPoints * static_cast<int>(sides.size());
    // marks that lie nowhere in particular count against those that lie right: marking everything earns nothing
    tell(sheet, "marks_placed", share_of(placed, needed + wrong), entered, "mark",
         wrong > 0 ? count_text(wrong, "mark lies", "marks lie") + " more than 10 mm from the rule"
                   : count_text(needed - placed, "landmark", "landmarks") + " not marked before the first needle",
         off_place_m);
}

std::string unclean_text(const Event& event) {
    const int why = static_cast<int>(event.value[0]);
    std::string what;
    const auto add = [&](int bit, std::string_view words) {
        if ((why & bit) == 0) return;
        if (!what.empty()) what += ", ";
        what += words;
    };
    add(1, "skin not prepared");
    add(2, "contact time too short");
    add(4, "hands not clean");
    add(8, "instrument not sterile");
    add(16, "no sterile field");
    return "entered with " + what;
}

void measure_asepsis(Sheet& sheet, const VisitRecord& record) {
    int entries = 0;
    std::vector<const Event*> unclean;
    int touched = 0;
    const Event* first_touch = nullptr;
    for (const Event& event : sheet.recording().events) {
        if (event.kind == EventKind::skin_punctured || event.kind == EventKind::track_opened) ++entries;
        if (event.kind == EventKind::unclean_entry) unclean.push_back(&event);
        // when all is out and trimmed, gloves have done their work
        const bool matters = event.kind == EventKind::contaminated && event.step <= record.last_use_step();
        if (matters && touched++ == 0) first_touch = &event;
    }
    if (entries == 0) return;
    sheet.add("entries_clean", 1.0 - share_of(std::min(entries, static_cast<int>(unclean.size())), entries));
    for (const Event* one : unclean)
        sheet.find("entries_clean", unclean_text(*one), one->step, one->place_m, 1.0, "prepare");
    sheet.add("contaminations", touched);
    if (first_touch != nullptr)
        sheet.find("contaminations",
                   first_touch->subject < 0 ? "the gloves touched what is not sterile"
                                            : "an instrument touched what is not sterile",
                   first_touch->step, first_touch->place_m, 1.0, "prepare");
}

void measure_boluses(Sheet& sheet, const VisitRecord& record) {
    int boluses = 0, aspirated = 0;
    const Event* first_bad = nullptr;
    double last_s = -1e9;
    for (const Event* one : record.all(EventKind::injected)) {
        const double at_s = record.patient_s(*one);
        const bool begins = at_s - last_s > kBolusGapS;
        last_s = at_s;
        if (!begins) continue;
        ++boluses;
        const std::vector<const Event*> drawn = record.deeds(Deed::aspirate);
        const bool good = std::any_of(drawn.begin(), drawn.end(), [&](const Event* a) {
            const double before_s = at_s - record.patient_s(*a);
            return a->step <= one->step && before_s <= kAspirateS && glm::length(a->place_m - one->place_m) < 5.0 * kMm;
        });
        if (good)
            ++aspirated;
        else if (first_bad == nullptr)
            first_bad = one;
    }
    if (boluses == 0) return;
    sheet.add("injections_aspirated", share_of(aspirated, boluses));
    if (first_bad != nullptr)
        sheet.find("injections_aspirated", "injected without drawing back first", first_bad->step, first_bad->place_m,
                   1.0, "numb");
}

void measure_comfort(Sheet& sheet, const VisitRecord& record) {
    if (!record.entered()) return;
    const Recording& recording = sheet.recording();
    const VisitSpec& spec = *recording.visit;
    double given_mg = 0.0;
    std::vector<double> track_ml(recording.tracks.size() + 1, 0.0);
    const Event* last = nullptr;
    for (const Event* one : record.all(EventKind::injected)) {
        given_mg = std::max(given_mg, one->value[1]);
        last = one;
        const auto track = static_cast<std::size_t>(one->subject);
        if (one->subject >= 0 && track < track_ml.size()) track_ml[track] += one->value[0];
    }
    const std::int64_t step = last == nullptr ? recording.steps : last->step;
    const Vec3 place_m = last == nullptr ? Vec3{} : last->place_m;
    sheet.add("dose_of_limit", given_mg / spec.limit_mg());
    sheet.find("dose_of_limit",
               std::to_string(static_cast<int>(given_mg + 0.5)) + " mg given, " +
                   std::to_string(static_cast<int>(spec.limit_mg() + 0.5)) + " mg is the label's limit",
               step, place_m, 1.0, "numb");
    const double most_ml = *std::max_element(track_ml.begin(), track_ml.end());
    sheet.add("volume_per_track", most_ml * 1e-6);
    sheet.find("volume_per_track", "much fluid in one track", step, place_m, 1.0, "numb");
    measure_boluses(sheet, record);
    const std::vector<const Event*> moves = record.all(EventKind::patient_moved);
    sheet.add("patient_moves", static_cast<double>(moves.size()));
    for (const Event* one : moves)
        sheet.find("patient_moves", "the patient felt more than they bear and moved", one->step, one->place_m, 1.0,
                   "numb");
}

struct Tail {
    const Event* cut = nullptr;
    const Event* settled = nullptr;  ///< where the cut end came to lie last
};

void measure_tails(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    std::map<int, Tail> tails;
    int number = 0;
    for (const TrackRecord& track : recording.tracks)
        if (track.final && !track.barbs.empty()) tails[++number] = {};
    for (const Event& event : recording.events) {
        const auto tail = tails.find(event.subject);
        if (tail == tails.end()) continue;
        if (event.kind == EventKind::trimmed) tail->second.cut = &event;
        if (event.kind == EventKind::tail_settled) tail->second.settled = &event;
        if (event.kind == EventKind::thread_out) tails.erase(tail);
    }
    if (tails.empty()) return;
    const auto left = static_cast<int>(tails.size());
    double worst_m = 0.0, worst_off_m = -1.0;
    const Event* where = nullptr;
    int trimmed = 0;
    for (const auto& [thread, tail] : tails) {
        if (tail.cut == nullptr) continue;
        ++trimmed;
        const double depth_m = tail.settled == nullptr ? 0.0 : tail.settled->value[0];
        const double off_m = std::max({0.0, kTailLowM - depth_m, depth_m - kTailHighM});
        if (off_m > worst_off_m)
            worst_off_m = off_m, worst_m = depth_m, where = tail.settled == nullptr ? tail.cut : tail.settled;
    }
    tell(sheet, "tails_trimmed", share_of(trimmed, left), recording.steps, "finish",
         count_text(left - trimmed, "tail", "tails") + " not trimmed");
    if (where == nullptr) return;
    sheet.add("tail_depth", worst_m);
    sheet.find("tail_depth",
               worst_m <= 0.0 ? "an end of thread stands out of the skin"
                              : "an end of thread lies " + mm_text(worst_m) + " under the skin",
               where->step, where->place_m, 1.0, "finish");
}

void measure_finish(Sheet& sheet, const VisitRecord& record) {
    if (!record.entered()) return;
    measure_tails(sheet);
    const std::int64_t end = sheet.recording().steps;
    const std::int64_t last_use = record.last_use_step();
    const bool counted = record.sharps_counted();
    tell(sheet, "sharps_counted", counted ? 1.0 : 0.0, end, "finish", "sharps not counted after the last was used");
    tell(sheet, "record_written", record.done_by(Deed::write_record, end) ? 1.0 : 0.0, end, "finish",
         "no record of what was placed");
    const bool advised = record.done_by(Deed::advise, end), contact = record.done_by(Deed::give_contact, end);
    tell(sheet, "aftercare_given", (advised ? 0.5 : 0.0) + (contact ? 0.5 : 0.0), end, "finish",
         advised ? "no emergency contact given" : "no aftercare advice given");
    const int after = record.views(last_use, end);
    tell(sheet, "views_after", share_of(after, kViews), end, "finish",
         count_text(kViews - after, "standard view", "standard views") + " not taken afterwards");
}

void measure_signs(Sheet& sheet, const VisitRecord& record) {
    const std::vector<AnsweredSign> signs = record.signs();
    if (signs.empty()) return;
    const auto answered = static_cast<int>(
        std::count_if(signs.begin(), signs.end(), [](const AnsweredSign& one) { return one.answered; }));
    sheet.add("signs_answered", share_of(answered, static_cast<int>(signs.size())));
    for (const AnsweredSign& one : signs)
        if (!one.answered)
            sheet.find("signs_answered",
                       std::string(name_of(one.sign)) + " was not answered in " +
                           std::to_string(static_cast<int>(one.within_s)) +
                           " s; it asks for: " + std::string(response_words(one.sign)),
                       one.event->step, one.event->place_m, 1.0, "pass");
}

}  // namespace

void measure_visit(Sheet& sheet) {
    if (!sheet.recording().visit) return;
    const VisitRecord record(sheet.recording());
    measure_consult(sheet, record);
    measure_marks(sheet, record);
    measure_asepsis(sheet, record);
    measure_comfort(sheet, record);
    measure_finish(sheet, record);
    measure_signs(sheet, record);
}

}  // namespace sim::figures
