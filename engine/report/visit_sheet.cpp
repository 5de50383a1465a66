#include "engine/report/visit_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/report/debrief_words.hpp"
#include "sim/barbed_thread/strength.hpp"
#include "sim/patient/signs.hpp"
#include "sim/patient/visit.hpp"
#include "sim/scoring/visit_record.hpp"

namespace report {

namespace {

using sim::EventKind;
using sim::kMm;
using sim::figures::VisitRecord;
using Row = std::vector<std::string>;

constexpr std::int64_t kSecond = 250;  // in steps

std::string mm_words(double m) { return fmt::format("{:.1f}", m / kMm); }

/// In the head's frame, mm: left, up, forward.
std::string place_words(const sim::Vec3& p_m) {
    return fmt::format("{} {} {}", mm_words(p_m.x), mm_words(p_m.y), mm_words(p_m.z));
}

std::string side_words(const sim::Vec3& p_m) { return p_m.x >= 0.0 ? "left" : "right"; }

/// What was done, in the past tense where a deed's words are a request.
std::string answer_words(const sim::Event& by) {
    switch (by.kind) {
        case EventKind::track_closed:
            return "Taken out";
        case EventKind::bleeding_stopped:
            return fmt::format("Pressed for {}, {:.1f} ml lost", patient_clock_words(by.value[1]), by.value[0]);
        case EventKind::instrument_discarded:
            return "Discarded";
        default:
            break;
    }
    const auto deed = static_cast<sim::Deed>(by.subject);
    const std::string of(sim::subject_words(deed, static_cast<int>(by.value[0])));
    return std::string(sim::spec_of(deed).words) + (of.empty() ? "" : ": " + of);
}

/// A bruise and a swelling follow from a wall that gave way: where the sign lies, the last time before it.
std::int64_t cause_step(const sim::Recording& recording, const sim::Event& shown) {
    const auto sign = static_cast<sim::Sign>(shown.subject);
    const bool bleeds = sign == sim::Sign::bruise_spreading || sign == sim::Sign::swelling_expanding;
    std::int64_t step = shown.step;
    for (const sim::Event& event : recording.events) {
        if (event.step > shown.step) break;
        if (bleeds && event.kind == EventKind::wall_breached && glm::length(event.place_m - shown.place_m) < 1e-6)
            step = event.step;
    }
    return std::max<std::int64_t>(0, step - kSecond);
}

SheetPart history(const sim::Recording& recording, const VisitRecord& record) {
    SheetPart part{"History", {"Question", "Answer", "Asked at"}, {0.40, 0.46, 0.14}, {}, "", ""};
    const std::vector<const sim::Event*> asked = record.deeds(sim::Deed::ask);
    for (std::size_t i = 0; i < sim::kHistoryItems; ++i) {
        const auto at = std::find_if(asked.begin(), asked.end(), [i](const sim::Event* one) {
            return static_cast<std::size_t>(one->value[0]) == i;
        });
        const bool was = at != asked.end();
        part.rows.push_back({std::string(sim::question_of(static_cast<sim::HistoryItem>(i))),
                             was ? recording.visit->history[i].says : "not asked",
                             was ? patient_clock_words(record.patient_s(**at)) : "–"});
    }
    return part;
}

SheetPart consent(const sim::Recording& recording, const VisitRecord& record) {
    SheetPart part{"Decision, consent, views", {"What", "", "At"}, {0.26, 0.60, 0.14}, {}, "", ""};
    const auto when = [&](const sim::Event* event) {
        return event == nullptr ? std::string("–") : patient_clock_words(record.patient_s(*event));
    };
    const auto first = [&](sim::Deed deed) -> const sim::Event* {
        const std::vector<const sim::Event*> all = record.deeds(deed);
        return all.empty() ? nullptr : all.front();
    };
    const sim::Event* decided = record.last(EventKind::decided);
    std::string decision = "none";
    if (decided != nullptr) {
        std::string reason(sim::key_of(static_cast<sim::HistoryItem>(decided->value[0])));
        std::replace(reason.begin(), reason.end(), '_', ' ');
        decision =
            fmt::format("{}, because of: {}", sim::name_of(static_cast<sim::Decision>(decided->subject)), reason);
    }
    part.rows.push_back({"Decision", decision, when(decided)});
    const sim::Event* explained = first(sim::Deed::explain);
    part.rows.push_back(
        {"Risks and other ways", explained != nullptr ? "explained" : "not explained", when(explained)});
    const sim::Event* taken = first(sim::Deed::take_consent);
    part.rows.push_back({"Consent",
                         taken == nullptr        ? "not taken"
                         : taken->value[1] > 0.0 ? "in writing, after it was explained"
                                                 : "signed, but nothing was explained",
                         when(taken)});
    const std::int64_t entered = record.entered() ? record.entered_step() : recording.steps;
    part.rows.push_back({"Standard views",
                         fmt::format("{} before the first needle, {} after the last work", record.views(0, entered),
                                     record.entered() ? record.views(record.last_use_step() + 1, recording.steps) : 0),
                         ""});
    return part;
}

/// Where a pulse was felt, and how far the skin had come from where it lies upright.
std::string pulse_words(const sim::Event& felt) {
    constexpr double kToldM = 0.1 * kMm;
    return felt.value[0] < kToldM ? "Pulse felt" : fmt::format("Pulse felt; skin {} mm aside", mm_words(felt.value[0]));
}

SheetPart marks(const VisitRecord& record) {
    SheetPart part{"Marks",
                   {"Landmark", "Side, place (mm)", "Chair", "Off its rule (mm)", "At"},
                   {0.32, 0.26, 0.14, 0.14, 0.14},
                   {},
                   "No landmark was marked, no pulse felt.",
                   ""};
    for (const sim::Event* mark : record.deeds(sim::Deed::mark_point))
        part.rows.push_back({capital(sim::name_of(static_cast<sim::MarkPoint>(mark->value[0]))),
                             side_words(mark->place_m) + ", " + place_words(mark->place_m),
                             std::string(sim::name_of(static_cast<sim::Chair>(mark->value[2]))),
                             mark->value[1] < 0.0 ? "–" : mm_words(mark->value[1]),
                             patient_clock_words(record.patient_s(*mark))});
    for (const sim::Event* felt : record.deeds(sim::Deed::feel_pulse))
        if (felt->value[1] > 0.0)
            part.rows.push_back({pulse_words(*felt), side_words(felt->place_m) + ", " + place_words(felt->place_m),
                                 std::string(sim::name_of(static_cast<sim::Chair>(felt->value[3]))), "–",
                                 patient_clock_words(record.patient_s(*felt))});
    return part;
}

SheetPart anaesthetic(const sim::Recording& recording, const VisitRecord& record) {
    const sim::VisitSpec& visit = *recording.visit;
    SheetPart part{fmt::format("Anaesthetic: lidocaine {:.3g} % {}", 0.1 * visit.anaesthetic.mg_per_ml,
                               visit.anaesthetic.adrenaline ? "with adrenaline" : "plain"),
                   {"Place (mm)", "Layer", "Volume (ml)", "Given in all (mg)", "At"},
                   {0.32, 0.22, 0.14, 0.18, 0.14},
                   {},
                   "Nothing was injected.",
                   ""};
    struct Portion {
        const sim::Event* first;
        const sim::Event* last;
        double ml;
    };
    std::vector<Portion> portions;
    // what went in at one place without a pause is one line
    constexpr double kSameM = 1.5 * kMm;
    for (const sim::Event* one : record.all(EventKind::injected)) {
        const bool same = !portions.empty() && portions.back().last->value[3] == one->value[3] &&
                          glm::length(portions.back().first->place_m - one->place_m) < kSameM &&
                          one->step - portions.back().last->step < 10 * kSecond;
        if (same) {
            portions.back().last = one;
            portions.back().ml += one->value[0];
        } else {
            portions.push_back({one, one, one->value[0]});
        }
    }
    double given_mg = 0.0;
    for (const Portion& one : portions) {
        given_mg = one.last->value[1];
        part.rows.push_back({place_words(one.first->place_m),
                             one.first->value[3] > 0.0
                                 ? "into a vessel"
                                 : std::string(sim::name_of(static_cast<sim::Layer>(one.first->value[2]))),
                             fmt::format("{:.2f}", one.ml), fmt::format("{:.1f}", given_mg),
                             patient_clock_words(record.patient_s(*one.first))});
    }
    part.note =
        visit.local_limit_holds()
            ? fmt::format("{:.1f} mg of at most {:.0f} mg for {:.0f} kg (local rules, stricter than the label).",
                          given_mg, visit.limit_mg(), visit.weight_kg)
            : fmt::format("{:.1f} mg of at most {:.0f} mg for {:.0f} kg (prescribing label; local limits come first).",
                          given_mg, visit.limit_mg(), visit.weight_kg);
    return part;
}

const sim::HeldThread* thread_of(std::span<const sim::HeldThread> threads, int track) {
    const auto at =
        std::find_if(threads.begin(), threads.end(), [track](const auto& one) { return one.track == track; });
    return at == threads.end() ? nullptr : &*at;
}

/// Whether the thread of a track came from a pack opened later than the first.
bool of_fresh_pack(const sim::Recording& recording, const sim::TrackRecord& track) {
    for (const sim::Event& event : recording.events) {
        if (event.kind == EventKind::track_opened && event.subject == track.track) return false;
        if (event.kind == EventKind::deed_done && event.subject == static_cast<int>(sim::Deed::open_another) &&
            static_cast<int>(event.value[0]) == track.instrument)
            return true;
    }
    return false;
}

SheetPart threads_of(const sim::Recording& recording, std::span<const sim::HeldThread> threads) {
    SheetPart part{
        "Threads",
        {"No.", "Instrument", "Size", "Side, entry and end (mm)", "Length (mm)", "Barbs seated", "Hold (N)", "Tail"},
        {0.05, 0.22, 0.07, 0.26, 0.09, 0.10, 0.08, 0.13},
        {},
        "No thread was left.",
        ""};
    for (const sim::TrackRecord& track : recording.tracks) {
        if (!track.loaded || !track.final) continue;
        const sim::InstrumentSpec& tray = recording.tray[static_cast<std::size_t>(track.instrument)];
        const sim::HeldThread* thread = thread_of(threads, track.track);
        std::string seated = "–", hold = "–", tail = "–", number = fmt::format("{}", part.rows.size() + 1);
        double length_m = track.length_m;
        if (thread != nullptr) {
            number = fmt::format("{}", thread->number);
            length_m = thread->in_tissue_m;
            seated = fmt::format("{} of {}", thread->count(sim::BarbState::seated), thread->barbs.size());
            hold = thread->out ? "drawn out" : fmt::format("{:.1f}", sim::weaker_set_n(thread->barbs));
            tail = thread->out                  ? "drawn out"
                   : !thread->trimmed()         ? "not cut"
                   : thread->tail_depth_m < 0.0 ? fmt::format("{} mm out of the skin", mm_words(-thread->tail_depth_m))
                                                : fmt::format("{} mm deep", mm_words(thread->tail_depth_m));
        }
        part.rows.push_back({number,
                             fmt::format("{}, {}\u00a0G, lot {}", tray.name, tray.gauge,
                                         sim::lot_of(tray.thread, of_fresh_pack(recording, track))),
                             tray.thread.usp_size,
                             fmt::format("{}, {} to {}", side_words(track.entry_m), place_words(track.entry_m),
                                         place_words(track.end_m)),
                             fmt::format("{:.0f}", length_m / kMm), seated, hold, tail});
    }
    part.note =
        "Places as left, up and forward of the middle between the ears, patient upright. Hold: of the weaker of "
        "the two barb sets.";
    return part;
}

SheetPart cleanliness(const sim::Recording& recording, const VisitRecord& record) {
    SheetPart part{"What was no longer clean", {"What", "Why", "At"}, {0.36, 0.50, 0.14}, {}, "Nothing was noted.", ""};
    const auto tool = [&](int subject) {
        return subject < 0 ? std::string("The gloves") : recording.tray[static_cast<std::size_t>(subject)].name;
    };
    for (const sim::Event& event : recording.events) {
        if (event.kind == EventKind::contaminated)
            part.rows.push_back({tool(event.subject), "became unclean", patient_clock_words(record.patient_s(event))});
        if (event.kind != EventKind::unclean_entry) continue;
        static constexpr std::array<std::string_view, 5> kWhy{"skin not prepared", "contact time too short", "hands",
                                                              "the instrument", "no sterile field"};
        std::string why;
        for (std::size_t bit = 0; bit < kWhy.size(); ++bit)
            if ((static_cast<int>(event.value[0]) & (1 << bit)) != 0)
                why += (why.empty() ? "" : ", ") + std::string(kWhy[bit]);
        part.rows.push_back(
            {"Entry with " + tool(event.subject), capital(why), patient_clock_words(record.patient_s(event))});
    }
    return part;
}

SheetPart signs(const sim::Recording& recording) {
    SheetPart part{"Signs and answers",       {"At", "Shown", "Asks for", "Done"},
                   {0.09, 0.31, 0.30, 0.30},  {},
                   "No sign of harm showed.", ""};
    for (const SignLine& one : sign_lines(recording))
        part.rows.push_back({patient_clock_words(one.patient_s), one.shown, one.asked, one.done});
    if (!part.rows.empty())
        part.note = "What a sign asks for is told in general terms: the local protocol comes first.";
    return part;
}

SheetPart calls(const sim::Recording& recording, const VisitRecord& record) {
    SheetPart part{"Calls", {"After", "Heard", "Told to"}, {0.12, 0.68, 0.20}, {}, "The patient was not called.", ""};
    for (const sim::Event* called : record.deeds(sim::Deed::call_back)) {
        std::string told = "–";
        for (const sim::Event* event = called + 1; event != recording.events.data() + recording.events.size();
             ++event) {
            if (event->kind != EventKind::deed_done) continue;
            if (event->subject == static_cast<int>(sim::Deed::call_back)) break;
            if (event->subject == static_cast<int>(sim::Deed::answer_call))
                told = sim::subject_words(sim::Deed::answer_call, static_cast<int>(event->value[0]));
        }
        part.rows.push_back({std::string(sim::subject_words(sim::Deed::call_back, static_cast<int>(called->value[0]))),
                             call_words(*called), told});
    }
    return part;
}

}  // namespace

std::string patient_clock_words(double seconds) {
    const auto whole = static_cast<long>(seconds);
    return fmt::format("{}:{:02}", whole / 60, whole % 60);
}

std::string call_words(const sim::Event& called) {
    const int bits = static_cast<int>(called.value[1]);
    std::string words;
    for (int i = 0; i < sim::kCallFindings; ++i)
        if ((bits & (1 << i)) != 0)
            words += (words.empty() ? "" : "; ") + std::string(sim::words_of(static_cast<sim::CallFinding>(i)));
    if (words.empty()) words = "all is well";
    const int weeks = sim::kCallWeeks[static_cast<std::size_t>(called.value[0])];
    const double left = sim::strength_left(weeks);
    const std::string strength = left > 0.005
                                     ? fmt::format("About {:.0f} % of a thread's strength is left", 100.0 * left)
                                     : std::string("A thread has no strength left");
    return fmt::format("{}. {}, by published loss; how long a lift lasts is another matter.", capital(words), strength);
}

std::vector<SignLine> sign_lines(const sim::Recording& recording) {
    std::vector<SignLine> lines;
    const VisitRecord record(recording);
    const std::vector<sim::figures::AnsweredSign> wanted = record.signs();
    for (const sim::Event& event : recording.events) {
        if (event.kind != EventKind::sign_shown) continue;
        const auto sign = static_cast<sim::Sign>(event.subject);
        SignLine line;
        line.sign = sign;
        line.step = event.step;
        line.before_step = cause_step(recording, event);
        line.patient_s = record.patient_s(event);
        line.shown = sim::is_said(sign) ? fmt::format("\"{}\"", sim::words_of(sign)) : std::string(sim::words_of(sign));
        line.asked = sim::response_words(sign);
        const auto judged =
            std::find_if(wanted.begin(), wanted.end(), [&](const auto& one) { return one.event == &event; });
        line.judged = judged != wanted.end();
        line.answered = line.judged && judged->answered;
        if (!line.judged)
            line.done = "No answer is judged.";
        else if (line.answered)
            line.done =
                fmt::format("{}, after {}.", answer_words(*judged->by), patient_clock_words(judged->answered_after_s));
        else if (judged->by != nullptr)
            line.done =
                fmt::format("{}, late: after {}; wanted within {}.", answer_words(*judged->by),
                            patient_clock_words(judged->answered_after_s), patient_clock_words(judged->within_s));
        else
            line.done = fmt::format("Not answered within {}.", patient_clock_words(judged->within_s));
        lines.push_back(std::move(line));
    }
    return lines;
}

std::vector<SheetPart> case_sheet(const sim::Recording& recording, std::span<const sim::HeldThread> threads) {
    const VisitRecord record(recording);
    return {history(recording, record),
            consent(recording, record),
            marks(record),
            anaesthetic(recording, record),
            threads_of(recording, threads),
            cleanliness(recording, record),
            signs(recording),
            calls(recording, record)};
}

}  // namespace report
