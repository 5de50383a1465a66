#pragma once

#include <memory>
#include <string>
#include <vector>

#include "engine/files/attempt.hpp"
#include "engine/session/session.hpp"

/// Recompute an attempt from its commands and compare it with what was recorded.

namespace session {

inline constexpr double kPlaceToleranceM = 0.05 * sim::kMm;  ///< of a checkpoint, on another machine

struct Resimulation {
    bool same_build = false;               ///< same program and build as the recording: the same bits are promised
    bool same_bits = false;                ///< every row, event, track and answer came out identical
    bool within_tolerance = false;         ///< every checkpoint within 0.05 mm and 0.05 N
    std::vector<std::string> differences;  ///< the first few, in words
    std::int64_t steps = 0;
    double seconds = 0.0;  ///< wall time of the steps, preparation of the patient not counted

    /// On the recording's own build the bits must agree; on another, the checkpoints within the tolerance.
    [[nodiscard]] bool holds() const { return same_build ? same_bits : same_bits || within_tolerance; }
};

/// @param answers where the tissue's answers come from; null: worked out inline
/// @param threads_anew also those about threads; false: the recorded ones serve, and no finite elements are needed
[[nodiscard]] Resimulation resimulate(const files::LoadedAttempt& attempt, std::shared_ptr<const sim::Model> model,
                                      std::shared_ptr<AnswerSource> answers = nullptr, bool threads_anew = false);

/// Of the patient's file, "" for the slab: part of the key of what a cache keeps.
[[nodiscard]] std::string patient_hash_of(const files::LoadedAttempt& attempt);

/// Run a session through recorded or scripted commands up to a step, waiting for late answers.
void play_commands(Session& session, std::span<const files::TimedCommand> commands, std::int64_t until_step);

/// Name of this build: compiler, flags, version and the sources' state. Attempts carry it.
[[nodiscard]] std::string build_id();
[[nodiscard]] std::string program_version();

}  // namespace session
