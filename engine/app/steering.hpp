#pragma once

#include <cstdint>
#include <vector>

#include "engine/app/input.hpp"
#include "sim/command.hpp"
#include "sim/scenario.hpp"
#include "sim/state.hpp"

/// From what the hands do, on keys, mouse or a controller, to the integer commands of one step: the same that a script
/// sends.

namespace app {

/// One key's meaning, for the hints on the screen.
struct KeyHint {
    const char* keys;
    const char* meaning;
};

/// What the hands ask for, whatever they hold: shares of the greatest speed.
struct HandWish {
    double push = 0.0;   ///< -1 withdraw, +1 push
    double turn = 0.0;   ///< +1 to the left
    double slope = 0.0;  ///< +1 steeper
    bool lift = false;   ///< the tip
    bool slow = false;   ///< a fifth of the speed
};

/// How a person's hands are taken; from the settings.
struct HandHabits {
    double sensitivity = 1.0;     ///< of keys, sticks and triggers
    bool invert = false;          ///< slope of the stick
    bool toggle = false;          ///< a press of the push key keeps pushing until the next key of the two
    bool left_handed = false;     ///< the controller's triggers change places
    bool feel_resistance = true;  ///< the tip moves less for the same hand as resistance grows
};

[[nodiscard]] HandWish wish_of_keys(const Input& input, const HandHabits& habits);
[[nodiscard]] HandWish wish_of_pad(const Pad& pad, const HandHabits& habits);

/// Share of a hand's motion that reaches the instrument at this force on the hand: 1 without resistance. A device
/// without a motor in it lets resistance be felt that way; the law is 1 / (1 + F / 6 N), never below 0.5 (assumed).
[[nodiscard]] double motion_ratio(double hand_n);

class Steering {
 public:
    void set_habits(const HandHabits& habits) { habits_ = habits; }

    /// The hands have taken an instrument: hold it at a slope that suits it.
    void took(const sim::InstrumentSpec& instrument);

    /// Mouse travel with the control key held: fine turning.
    void fine_turn(double yaw_mdeg, double pitch_mdeg);

    /// Keys that went down since the last frame: what stays on from one press to the next.
    void pressed(const Input& input);

    /// The hands rest: nothing that was latched goes on.
    void let_go() {
        latched_push_ = 0;
        push_um_ = 0.0;
    }

    /// What the hands ask of this step. At most one command a verb.
    [[nodiscard]] std::vector<sim::Command> commands(const Input& input, const sim::State& state);

    /// Something is held down that will send commands.
    [[nodiscard]] bool busy(const Input& input) const;

    [[nodiscard]] static const std::vector<KeyHint>& hints();

 private:
    [[nodiscard]] HandWish wish(const Input& input) const;

    HandHabits habits_;
    double yaw_mdeg_ = 0.0, pitch_mdeg_ = 0.0;  ///< wanted
    std::int64_t sent_yaw_mdeg_ = 0, sent_pitch_mdeg_ = 0;
    double push_um_ = 0.0;  ///< wanted, less than a micrometre, not yet sent
    int latched_push_ = 0;  ///< +1, -1 while a press keeps pushing or withdrawing
    bool aim_due_ = false;
    bool lifting_ = false;
};

}  // namespace app
