#pragma once

#include <cstdint>
#include <vector>

#include "engine/app/input.hpp"
#include "sim/command.hpp"
#include "sim/scenario.hpp"
#include "sim/state.hpp"

/// From keys that are held to the integer commands of one step: the same that a script sends.

namespace app {

/// One key's meaning, for the hints on the screen.
struct KeyHint {
    const char* keys;
    const char* meaning;
};

class Steering {
 public:
    /// The hands have taken an instrument: hold it at a slope that suits it.
    void took(const sim::InstrumentSpec& instrument);

    /// Mouse travel with the control key held: fine turning.
    void fine_turn(double yaw_mdeg, double pitch_mdeg);

    /// What the held keys ask of this step. At most one command a verb.
    [[nodiscard]] std::vector<sim::Command> commands(const Input& input, const sim::State& state);

    /// Something is held down that will send commands.
    [[nodiscard]] bool busy(const Input& input) const;

    [[nodiscard]] static const std::vector<KeyHint>& hints();

 private:
    std::int64_t yaw_mdeg_ = 0, pitch_mdeg_ = 0;
    double fine_yaw_mdeg_ = 0.0, fine_pitch_mdeg_ = 0.0;  ///< not yet sent
    bool aim_due_ = false;
    bool lifting_ = false;
};

}  // namespace app
