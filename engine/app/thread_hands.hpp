#pragma once

#include <cstdint>
#include <vector>

#include "engine/app/input.hpp"
#include "engine/app/steering.hpp"
#include "sim/command.hpp"
#include "sim/state.hpp"

/// What hands do at a thread that lies in the tissue: pull its tail, stroke the tissue along it. On keys, controller or
/// buttons, they send the commands that a script sends.

namespace app {

class ThreadHands {
 public:
    void set_habits(const HandHabits& habits) { habits_ = habits; }

    /// Number of the thread that is worked at, from 1; 0: none lies in the tissue.
    [[nodiscard]] int thread() const { return thread_; }
    /// The next of the threads that lie in the tissue.
    void next(const sim::State& state);
    /// The one that was left last, as soon as it lies there; another when it is out.
    void follow(const sim::State& state);

    /// Keys that went down since the last frame, with nothing in the skin.
    void pressed(const Input& input);
    /// Begin to pull and keep on, or let go: for whoever presses buttons.
    void turn_pull() { keeps_ = !keeps_; }
    [[nodiscard]] bool keeps_pulling() const { return keeps_; }
    void change_pull(double by_n);
    /// Ask for a stroke. @param half 0 next to the entry, 1 far from it
    void stroke(int half) { stroke_due_ = half; }
    void turn_strokes() { away_ = !away_; }
    void change_stroke(double by_n);

    /// Up to which hands pull.
    [[nodiscard]] double wanted_n() const { return wanted_n_; }
    [[nodiscard]] double stroke_n() const { return stroke_n_; }
    [[nodiscard]] bool away() const { return away_; }

    /// What the hands ask of this step. @param state with nothing in the skin
    [[nodiscard]] std::vector<sim::Command> commands(const Input& input, const sim::State& state);
    [[nodiscard]] bool busy(const Input& input) const;

    [[nodiscard]] static const std::vector<KeyHint>& hints();

    /// That fingers are asked for here; the simulator takes more.
    static constexpr double kMostStrokeN = 10.0, kMostPullN = 10.0, kLeastPullN = 0.5;

 private:
    [[nodiscard]] bool pulls(const Input& input) const;

    HandHabits habits_;
    int thread_ = 0;
    double wanted_n_ = 1.0, stroke_n_ = 3.0;  ///< a gentle pull and a firm stroke of a fingertip; assumed
    double pull_n_ = 0.0;
    bool keeps_ = false;
    bool away_ = false;
    bool pad_stroked_ = false;
    int stroke_due_ = -1;
    std::int64_t sent_mn_ = 0;
    int to_let_go_ = 0;  ///< thread whose tail is still pulled though another is worked at
};

}  // namespace app
