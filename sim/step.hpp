#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "sim/command.hpp"
#include "sim/model.hpp"
#include "sim/request.hpp"
#include "sim/state.hpp"
#include "sim/trace.hpp"

namespace sim {

/// Trouble in a step that is nobody's input: counted, shown, never hidden.
struct Faults {
    int non_finite = 0;
    int not_converged = 0;
    int answers_missing = 0;     ///< a due answer was not there: the caller broke its promise to wait
    int threads_unanswered = 0;  ///< the tissue had no answer about threads: they stay as they were, the step is whole
    /// Of those that a session stops at.
    [[nodiscard]] bool any() const { return non_finite + not_converged + answers_missing > 0; }
};

struct StepReport {
    std::vector<Event> events;
    std::vector<Request> requests;
    std::vector<TraceRow> rows;
    std::vector<TrackRecord> tracks;
    std::vector<LiftRow> lifts;
    std::optional<ThreadRequest> thread_request;
    Faults faults;
};

[[nodiscard]] State initial_state(const Model& model);

/// Requests that must be answered before the next step may run.
[[nodiscard]] std::vector<Request> due(const State& state);
/// The same for the question about threads; nullptr: none is due.
[[nodiscard]] const ThreadRequest* thread_due(const State& state);

/// One step of kStepS: gate, hands, tissue, shaft, force x 4, structures, thread, patient, trace.
///
/// @param commands validated, in order; a command that is physically impossible now is dropped by the gate
/// @param answers  those of due(state)
/// @param about_threads that of thread_due(state), nullptr when none is due
StepReport step(const Model& model, State& state, std::span<const Command> commands, std::span<const Answer> answers,
                const ThreadAnswer* about_threads = nullptr);

}  // namespace sim
