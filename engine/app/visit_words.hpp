#pragma once

#include <optional>
#include <string>

#include "engine/app/guide.hpp"
#include "sim/model.hpp"
#include "sim/scoring/recording.hpp"
#include "sim/state.hpp"

/// What a visit says of itself, in words: what a deed found, what the patient shows.

namespace app {

/// What came of a deed; empty: nothing to tell.
[[nodiscard]] std::string found_words(const sim::Event& done, const sim::VisitSpec& visit);
/// What stands on a thread's pack. @param fresh not the first one opened
[[nodiscard]] std::string pack_words(const sim::ThreadSpec& thread, bool fresh, bool in_date);

/// For some seconds what was refused, is no longer clean, or, in coached use, what the last sign asks for; else how the
/// consult stands.
[[nodiscard]] std::optional<Sentence> about_patient(const sim::State& state, const sim::Recording& recording,
                                                    bool told);

/// What the patient says of their own accord, or when asked how it feels; or what can be seen of them. For some
/// seconds. Never what it asks for.
struct Shown {
    bool said = false;  ///< otherwise seen
    std::string words;
};
[[nodiscard]] std::optional<Shown> shown_by_patient(const sim::State& state, const sim::Recording& recording);

/// Where the visit stands, from what has been done.
[[nodiscard]] sim::Stage visit_stage(const sim::Model& model, const sim::State& state, const sim::Recording& recording);

/// Why a deed could not be; empty: the last event was none of that kind.
[[nodiscard]] std::string refused_words(const sim::Event& refused);

/// "12:40": the patient's time since the visit began.
[[nodiscard]] std::string patient_clock(const sim::State& state);

}  // namespace app
