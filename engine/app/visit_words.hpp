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

/// The last sign that the patient showed, for some seconds, and in coached use what it asks for.
[[nodiscard]] std::optional<Sentence> about_patient(const sim::State& state, const sim::Recording& recording,
                                                    bool told);

/// Why a deed could not be; empty: the last event was none of that kind.
[[nodiscard]] std::string refused_words(const sim::Event& refused);

/// "12:40": the patient's time since the visit began.
[[nodiscard]] std::string patient_clock(const sim::State& state);

}  // namespace app
