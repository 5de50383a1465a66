#pragma once

#include "sim/request.hpp"

/// A pulse felt where the patient does not sit upright: skin has slid over the artery, by how much the tissue answers.

namespace sim {

struct StepContext;

/// Treated reclined about 30 to 45 degrees: common practice, no source.
inline constexpr double kReclinedDegrees = 40.0;

/// Feel for a pulse under the finger: told at once of a patient who sits upright; else with the tissue's answer, up to
/// then it waits its turn in Visit::feels.
/// @pre refusal_of() has nothing against it
void feel_pulse(const StepContext& context);

/// The question of the first feel that waits. @pre one does
[[nodiscard]] ThreadRequest pulse_request(const StepContext& context);
/// Whether a question came from there: no other changes gravity.
[[nodiscard]] bool asks_pulse(const ThreadRequest& request);
/// Tell what the first feel that waits has felt; as in the upright shape where the tissue has no answer.
/// @param answer to pulse_request()
void take_pulse(const StepContext& context, const ThreadAnswer& answer);

}  // namespace sim
