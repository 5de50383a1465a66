#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/guide.hpp"
#include "engine/app/input.hpp"
#include "engine/app/steering.hpp"
#include "sim/command.hpp"
#include "sim/model.hpp"
#include "sim/state.hpp"

/// The hand without an instrument: where it is laid, which grip it is set for, how firmly it acts. On keys or buttons
/// it sends the commands that a script sends.

namespace app {

class OtherHand {
 public:
    void set_habits(const HandHabits& habits) { habits_ = habits; }

    /// Keys that went down since the last frame.
    void pressed(const Input& input, const sim::Model& model, const sim::State& state);

    /// On the skin point nearest to this place, from the next step on.
    void lay(const sim::Vec3& place_m) { to_lay_m_ = place_m; }
    /// At the next of the places that matter: over a tip in the skin, then along the plan, then at each concern.
    void lay_next(const sim::Model& model, const sim::State& state);
    void next_grip();
    /// A push, or fingers that part, the other way: an eighth of a circle on.
    void turn() { turn_mdeg_ = wrapped(turn_mdeg_ + 45'000); }
    void change_force(double by_n);
    /// Begin to act and keep on, or let go: for whoever presses buttons.
    void turn_acting() { keeps_ = !keeps_; }

    [[nodiscard]] sim::Grip grip() const { return grip_; }
    [[nodiscard]] double wanted_n() const { return wanted_n_; }
    [[nodiscard]] std::int64_t turn_mdeg() const { return turn_mdeg_; }
    [[nodiscard]] bool keeps_acting() const { return keeps_; }
    [[nodiscard]] bool turns() const;  ///< the grip has a direction

    /// What the hand asks of this step.
    [[nodiscard]] std::vector<sim::Command> commands(const Input& input, const sim::State& state);
    [[nodiscard]] bool busy(const Input& input) const;

    [[nodiscard]] static std::vector<sim::Vec3> places_of(const sim::Model& model, const sim::State& state);

    static constexpr double kLeastN = 0.5, kMostN = 4.0;

 private:
    [[nodiscard]] static std::int64_t wrapped(std::int64_t mdeg);

    HandHabits habits_;
    std::optional<sim::Vec3> to_lay_m_;
    std::size_t next_place_ = 0;
    sim::Grip grip_ = sim::Grip::push;
    std::int64_t turn_mdeg_ = 180'000;  ///< back towards the entry: the way of a shift test
    double wanted_n_ = 1.0;             ///< a light hand; assumed
    double force_n_ = 0.0;
    bool keeps_ = false;
    sim::Grip sent_grip_ = sim::Grip::push;
    std::int64_t sent_turn_mdeg_ = 0, sent_mn_ = 0;
};

/// What the hand has done last, or does now; nothing when that is long ago or it does nothing.
/// @param told false: no figures
[[nodiscard]] std::optional<Sentence> about_hand(const sim::State& state, const sim::Recording& recording,
                                                 const std::vector<sim::Concern>& concerns, bool told);

}  // namespace app
