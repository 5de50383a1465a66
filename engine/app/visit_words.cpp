#include "engine/app/visit_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/barbed_thread/strength.hpp"
#include "sim/patient/patient.hpp"

namespace app {

namespace {

constexpr std::int64_t kSignSteps = 2000;  // 8 s, in which the last sign is told

std::string quoted(const std::string& says) { return fmt::format("\"{}\"", says); }

std::string pain_words(double pain) {
    if (pain < 1.5) return quoted("Fine, thank you.");
    if (pain < 4.0) return quoted("I feel it, it is all right.");
    return quoted("It hurts.");
}

std::string call_words(const sim::Event& done) {
    const int bits = static_cast<int>(done.value[1]);
    std::string words;
    for (int i = 0; i < sim::kCallFindings; ++i)
        if ((bits & (1 << i)) != 0)
            words += (words.empty() ? "" : "; ") + std::string(sim::words_of(static_cast<sim::CallFinding>(i)));
    if (words.empty()) words = "all is well";
    words[0] = static_cast<char>(std::toupper(words[0]));
    const int weeks = sim::kCallWeeks[static_cast<std::size_t>(done.value[0])];
    return fmt::format(
        "{}. About {:.0f} % of a thread's strength is left by published loss; the lift is another matter.", words,
        100.0 * sim::strength_left(weeks));
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
            return done.value[1] > 0.0 ? "One is missing: it is in the skin." : "All there.";
        case sim::Deed::call_back:
            return call_words(done);
        default:
            return "";
    }
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
        if (event->kind != sim::EventKind::sign_shown) continue;
        const auto sign = static_cast<sim::Sign>(event->subject);
        const std::string is = sim::is_said(sign) ? fmt::format("The patient: \"{}\"", sim::words_of(sign))
                                                  : std::string(sim::words_of(sign));
        std::string next = told ? std::string(sim::response_words(sign)) : "";
        if (told) next += " The local protocol comes first.";
        return Sentence{Mark::bad, is, next};
    }
    // what comes first is no secret, graded or not
    if (!state.visit.decision)
        return Sentence{Mark::neutral, "The consult comes first.",
                        "Ask the history, then decide: treat, defer or refer."};
    if (*state.visit.decision != sim::Decision::treat)
        return Sentence{Mark::neutral, "You decided not to treat today.", "Finish with Enter, or decide anew."};
    return std::nullopt;
}

std::string refused_words(const sim::Event& refused) {
    std::string words(sim::words_of(static_cast<sim::DeedRefusal>(refused.value[0])));
    words[0] = static_cast<char>(std::toupper(words[0]));
    return words + ".";
}

std::string patient_clock(const sim::State& state) {
    const auto seconds = static_cast<long>(sim::patient_s(state));
    return fmt::format("{}:{:02}", seconds / 60, seconds % 60);
}

}  // namespace app
