#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "sim/scoring/figures.hpp"
#include "sim/scoring/visit_record.hpp"

/// The work around the passes: consult, cleanliness, anaesthetic, finish. Only where the scenario has a visit, but for
/// the tails of threads.

namespace sim::figures {

namespace {

constexpr double kAspirateS = 30.0;  // before an injection; assumed
constexpr double kBolusGapS = 10.0;  // injections closer than this are one; assumed
constexpr double kTailLowM = 2.0 * kMm, kTailHighM = 4.0 * kMm;

struct Tail {
    const Event* cut = nullptr;
    const Event* settled = nullptr;  ///< where the cut end came to lie last
};

}  // namespace

void tell(Sheet& sheet, std::string_view name, double share, std::int64_t step, std::string_view stage,
          const std::string& what, const Vec3& place_m) {
    sheet.add(name, share);
    if (share < 1.0) sheet.find(name, what, step, place_m, 1.0, stage);
}

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

namespace {

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

/// On the face eye and ear canal are near: povidone-iodine there. Common practice, no source.
void measure_antiseptic(Sheet& sheet, const VisitRecord& record) {
    const auto on_face = [&](Deed deed) {
        std::vector<const Event*> found = record.deeds(deed);
        std::erase_if(found, [](const Event* one) { return one->value[0] == static_cast<double>(SkinArea::neck); });
        return found;
    };
    const std::vector<const Event*> strong = on_face(Deed::prepare_skin);
    const std::size_t all = strong.size() + on_face(Deed::prepare_skin_mild).size();
    if (all == 0) return;
    tell(sheet, "antiseptic_right", 1.0 - static_cast<double>(strong.size()) / static_cast<double>(all),
         strong.empty() ? 0 : strong.front()->step, "prepare", "chlorhexidine taken near the eye or ear canal");
}

/// Of the threads that were left: read before the cannula was taken, the pack that it came from, and in date.
void measure_packs(Sheet& sheet) {
    int left = 0, right = 0;
    const Event* first_bad = nullptr;
    std::map<int, double> read;  // by tray number: of the pack open now
    int held = -1;
    for (const Event& event : sheet.recording().events) {
        if (event.kind == EventKind::instrument_taken) held = event.subject;
        if (event.kind == EventKind::deed_done && event.subject == static_cast<int>(Deed::open_another))
            read.erase(static_cast<int>(event.value[0]));
        if (event.kind == EventKind::deed_done && event.subject == static_cast<int>(Deed::read_pack))
            read[static_cast<int>(event.value[0])] = event.value[1];
        if (event.kind != EventKind::thread_left) continue;
        ++left;
        const auto found = read.find(held);
        if (found != read.end() && found->second > 0.0)
            ++right;
        else if (first_bad == nullptr)
            first_bad = &event;
    }
    if (left == 0) return;
    sheet.add("packs_read", share_of(right, left));
    if (first_bad != nullptr)
        sheet.find("packs_read", "a thread was left whose pack was not read, or past its date", first_bad->step,
                   first_bad->place_m, 1.0, "prepare");
}

void measure_asepsis(Sheet& sheet, const VisitRecord& record) {
    measure_antiseptic(sheet, record);
    measure_packs(sheet);
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
                   std::to_string(static_cast<int>(spec.limit_mg() + 0.5)) +
                   (spec.local_limit_holds() ? " mg is the local limit" : " mg is the label's limit"),
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

/// Sitting up, at rest (a view from the front) and in movement.
void measure_review(Sheet& sheet, const VisitRecord& record) {
    const std::int64_t last_use = record.last_use_step();
    const auto upright_after = [&](Deed deed, std::size_t chair) {
        const std::vector<const Event*> found = record.deeds(deed);
        return std::any_of(found.begin(), found.end(), [&](const Event* one) {
            return one->step >= last_use && one->value[chair] == static_cast<double>(Chair::upright);
        });
    };
    const bool rest = upright_after(Deed::photograph, 1), movement = upright_after(Deed::test_movement, 3);
    tell(sheet, "reviewed_upright", (rest ? 0.5 : 0.0) + (movement ? 0.5 : 0.0), sheet.recording().steps, "review",
         rest ? "the result not seen in movement, sitting up" : "the result not seen at rest, sitting up");
}

void measure_papers(Sheet& sheet, const VisitRecord& record) {
    const std::int64_t end = sheet.recording().steps;
    tell(sheet, "record_written", record.done_by(Deed::write_record, end) ? 1.0 : 0.0, end, "finish",
         "no record of what was placed");
    const bool advised = record.done_by(Deed::advise, end), contact = record.done_by(Deed::give_contact, end);
    tell(sheet, "aftercare_given", (advised ? 0.5 : 0.0) + (contact ? 0.5 : 0.0), end, "finish",
         advised ? "no emergency contact given" : "no aftercare advice given");
}

void measure_finish(Sheet& sheet, const VisitRecord& record) {
    if (!record.entered()) return;
    measure_tails(sheet);
    measure_review(sheet, record);
    const std::int64_t end = sheet.recording().steps;
    const std::int64_t last_use = record.last_use_step();
    const bool counted = record.sharps_counted();
    tell(sheet, "sharps_counted", counted ? 1.0 : 0.0, end, "finish", "sharps not counted after the last was used");
    measure_papers(sheet, record);
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

/// Of every vessel that was stopped; one that nobody stopped is a critical fault.
void measure_blood(Sheet& sheet, const VisitRecord& record) {
    const std::vector<const Event*> stopped = record.all(EventKind::bleeding_stopped);
    if (stopped.empty()) return;
    double lost_ml = 0.0;
    for (const Event* one : stopped) lost_ml += one->value[0];
    sheet.add("blood_lost", lost_ml * 1e-6);
    sheet.find("blood_lost", "bleeding was pressed on late", stopped.front()->step, stopped.front()->place_m);
}

}  // namespace

void measure_visit(Sheet& sheet) {
    if (!sheet.recording().visit) return;
    const VisitRecord record(sheet.recording());
    if (const auto& opening = sheet.recording().visit->opening) {
        measure_signs(sheet, record);
        measure_calls(sheet, record);
        if (opening->bleeding_at_m) {
            measure_blood(sheet, record);
            measure_papers(sheet, record);
        }
        return;
    }
    measure_consult(sheet, record);
    measure_marks(sheet, record);
    measure_asepsis(sheet, record);
    measure_comfort(sheet, record);
    measure_finish(sheet, record);
    measure_signs(sheet, record);
    measure_blood(sheet, record);
    if (record.entered()) measure_calls(sheet, record);
}

}  // namespace sim::figures
