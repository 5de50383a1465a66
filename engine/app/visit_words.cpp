#include "engine/app/visit_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/report/visit_sheet.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/patient/patient.hpp"

namespace app {

namespace {

constexpr std::int64_t kSignSteps = 2000;        // 8 s, in which the last sign is told
constexpr double kFineNeedleM = 0.5 * sim::kMm;  // a thicker one opens an entry

std::string quoted(const std::string& says) { return fmt::format("\"{}\"", says); }

std::string pain_words(double pain) {
    if (pain < 1.5) return quoted("Fine, thank you.");
    if (pain < 4.0) return quoted("I feel it, it is all right.");
    return quoted("It hurts.");
}

}  // namespace

std::string found_words(const sim::Event& done, const sim::VisitSpec& visit) {
    switch (static_cast<sim::Deed>(done.subject)) {
        case sim::Deed::ask:
            return quoted(visit.history[static_cast<std::size_t>(done.value[0])].says);
        case sim::Deed::take_consent:
            return done.value[1] > 0.0 ? "Signed." : "Signed, but nothing was explained.";
        case sim::Deed::test_movement:
            if (done.value[1] > 0.0) return "One side is weak.";
            return done.value[2] > 0.0 ? "One side is weak, where it is numb." : "Both sides move alike.";
        case sim::Deed::test_sensation:
            return done.value[1] > 0.0 ? "A patch is numb." : "Felt everywhere.";
        case sim::Deed::feel_pulse:
            return done.value[1] > 0.0 ? "A pulse." : "No pulse here.";
        case sim::Deed::put_on_gloves:
            return done.value[1] > 0.0 ? "" : "Hands were not washed before: the gloves are not clean.";
        case sim::Deed::aspirate:
            return done.value[1] > 0.0 ? "Blood." : "Nothing comes back.";
        case sim::Deed::ask_how_it_feels:
            return pain_words(done.value[1]);
        case sim::Deed::count_sharps:
            return done.value[1] > 0.0 ? "One is missing: it is in the skin."
                                       : fmt::format("All {:.0f} there that were unpacked.", done.value[2]);
        case sim::Deed::call_back:
            return report::call_words(done);
        default:
            return "";
    }
}

std::string pack_words(const sim::ThreadSpec& thread, bool fresh, bool in_date) {
    return fmt::format("USP {}, {:.0f} mm, barbed over {:.0f} mm. Lot {}. {}", thread.usp_size,
                       thread.length_m / sim::kMm, thread.barbed_length_m / sim::kMm, sim::lot_of(thread, fresh),
                       in_date ? "In date." : "Past its date.");
}

std::optional<Sentence> about_patient(const sim::State& state, const sim::Recording& recording, bool told) {
    for (auto event = recording.events.rbegin(); event != recording.events.rend(); ++event) {
        if (state.step - event->step > kSignSteps) break;
        if (event->kind == sim::EventKind::deed_refused) {
            const std::string why = refused_words(*event);
            return Sentence{Mark::caution, "That cannot be done now.", why};
        }
        // that something is no longer clean can be known in life, and is told by nobody in graded work
        if (told && event->kind == sim::EventKind::contaminated)
            return event->subject < 0
                       ? Sentence{Mark::caution, "The gloves are no longer clean.", "Wash hands and put on fresh ones."}
                       : Sentence{Mark::caution, "This instrument is no longer sterile.",
                                  "Discard it with X and open a fresh one under Pass."};
        if (told && event->kind == sim::EventKind::unclean_entry)
            return Sentence{Mark::bad, "That entry was not clean.",
                            "Hands, skin and contact time come before the first needle."};
        if (told && event->kind == sim::EventKind::sign_shown)
            return Sentence{Mark::bad, std::string(sim::response_words(static_cast<sim::Sign>(event->subject))),
                            "The local protocol comes first."};
    }
    // what comes first is no secret, graded or not
    if (!state.visit.decision)
        return Sentence{Mark::neutral, "The consult comes first.",
                        "Ask the history, then decide: treat, defer or refer."};
    if (*state.visit.decision != sim::Decision::treat)
        return Sentence{Mark::neutral, "You decided not to treat today.", "Finish with Enter, or decide anew."};
    return std::nullopt;
}

std::optional<Shown> shown_by_patient(const sim::State& state, const sim::Recording& recording) {
    for (auto event = recording.events.rbegin(); event != recording.events.rend(); ++event) {
        if (state.step - event->step > kSignSteps) break;
        if (event->kind == sim::EventKind::sign_shown) {
            const auto sign = static_cast<sim::Sign>(event->subject);
            const std::string words(sim::words_of(sign));
            return Shown{sim::is_said(sign), sim::is_said(sign) ? quoted(words) : words};
        }
        if (event->kind == sim::EventKind::deed_done && event->subject == static_cast<int>(sim::Deed::ask_how_it_feels))
            return Shown{true, pain_words(event->value[1])};
    }
    return std::nullopt;
}

sim::Stage visit_stage(const sim::Model& model, const sim::State& state, const sim::Recording& recording) {
    if (state.visit.discharged) return sim::Stage::follow_up;
    const int held = state.hands.instrument;
    if (state.in_skin && held >= 0) {
        const sim::InstrumentSpec& in = model.scenario.tray[static_cast<std::size_t>(held)];
        if (in.tip == sim::TipShape::blunt) return sim::Stage::pass;
        return sim::gauge(in.gauge).outer_m < kFineNeedleM ? sim::Stage::numb : sim::Stage::enter;
    }
    // from the last work with an instrument on: what came after it
    sim::Stage stage = sim::Stage::consult;
    for (const sim::Event& event : recording.events) {
        if (event.kind == sim::EventKind::skin_punctured) stage = sim::Stage::enter;
        if (event.kind == sim::EventKind::injected) stage = sim::Stage::numb;
        // the hole that a fine needle leaves is none to pass through
        const bool hole = event.kind == sim::EventKind::entry_opened && event.value[3] >= kFineNeedleM;
        if (event.kind == sim::EventKind::track_opened || hole) stage = sim::Stage::pass;
        if (event.kind == sim::EventKind::thread_left) stage = sim::Stage::anchor;
        if (event.kind == sim::EventKind::trimmed) stage = sim::Stage::review;
        if (event.kind != sim::EventKind::deed_done) continue;
        const auto deed = static_cast<sim::Deed>(event.subject);
        const sim::Stage usual = sim::spec_of(deed).stage;
        // what may be done at any time says nothing of where the visit stands
        const bool tells = usual == sim::Stage::mark || usual == sim::Stage::finish ||
                           (usual == sim::Stage::prepare && deed != sim::Deed::set_chair);
        if (tells && (usual > stage || usual == sim::Stage::finish)) stage = usual;
    }
    return stage;
}

std::string refused_words(const sim::Event& refused) {
    std::string words(sim::words_of(static_cast<sim::DeedRefusal>(refused.value[0])));
    words[0] = static_cast<char>(std::toupper(words[0]));
    return words + ".";
}

std::string patient_clock(const sim::State& state) { return report::patient_clock_words(sim::patient_s(state)); }

}  // namespace app
