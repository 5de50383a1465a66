#pragma once

#include <span>

#include "sim/step.hpp"

/// The named stages of a step, in order. Each reads the model, changes the state and adds to the report; step() is
/// their list.

namespace sim {

inline constexpr double kStationM = 2.0 * kMm;  ///< one question to the tissue each so much of new way

/// What every stage is handed. Rebuilt each step; nothing of it outlives the step.
struct StepContext {
    const Model& model;
    State& state;
    StepReport& report;

    /// Add an event of this step.
    void note(EventKind kind, const Vec3& place_m, int subject = -1, std::array<double, 4> value = {}) const {
        Event event{state.step, kind, subject, place_m, value};
        for (int i = 0; i < 3; ++i) event.place_m[i] = quantised(event.place_m[i]);
        for (double& v : event.value) v = quantised(v);
        report.events.push_back(event);
    }
    [[nodiscard]] const InstrumentSpec& instrument() const {
        return model.scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
    }
};

/// Only the physically impossible is dropped here; everything that a person could do, right or wrong, goes on.
[[nodiscard]] bool gate(const StepContext& context, const Command& command);

/// Apply a command to what the hands hold.
void hands(const StepContext& context, const Command& command);

/// Take in due answers and ask for what the next stretch of the way will need.
void tissue(const StepContext& context, std::span<const Answer> answers);

/// Where the shaft lies, given the hand and the tissue.
void shaft(const StepContext& context);

/// One millisecond of hand against resistance: how far the tip goes.
/// @param push_m motion of the hand in this sub-step
void force(const StepContext& context, double push_m);

/// Layers, ligaments, vessels, floor: what the tip and the shaft have met.
void structures(const StepContext& context);

/// Threads in the tissue: what the tissue answered to pulls and strokes, and the next question.
/// @param answer to the question that is due, nullptr when none is
void thread(const StepContext& context, const ThreadAnswer* answer);

/// Rows of the trace that are due.
void trace(const StepContext& context);

// -- shared by stages
// --------------------------------------------------------------------------------------------------

/// Unit direction of the shaft at the entry: yaw from the planned vector, pitch into the tissue.
[[nodiscard]] Vec3 shaft_direction(const Hands& hands);

/// A stroke along one half of a thread begins. @pre refusal_of() has nothing against it
void begin_stroke(const StepContext& context, int number, int half, double force_n);

/// Write the record of the open track and close it. @param final false when nothing was left in it that counts
void close_track(const StepContext& context);

}  // namespace sim
