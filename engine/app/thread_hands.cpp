#include "engine/app/thread_hands.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/step.hpp"

namespace app {

namespace {

constexpr double kPullNPerS = 1.0;    // a gentle hand takes a second to a newton; assumed
constexpr double kSlower = 0.2;       // as with an instrument in hand
constexpr std::int64_t kToldMn = 50;  // the tissue is not asked about less
constexpr double kPadPulls = 0.1;     // of a trigger's way

bool lies(const sim::State& state, int number) {
    return number >= 1 && static_cast<std::size_t>(number) <= state.threads.size() &&
           !state.threads[static_cast<std::size_t>(number - 1)].out;
}

}  // namespace

void ThreadHands::next(const sim::State& state) {
    const int count = static_cast<int>(state.threads.size());
    for (int k = 1; k <= count; ++k) {
        const int number = (thread_ - 1 + k + count) % count + 1;
        if (!lies(state, number)) continue;
        if (number != thread_) {
            if (sent_mn_ != 0) to_let_go_ = thread_;
            sent_mn_ = 0;
            pull_n_ = 0.0;
            keeps_ = false;
        }
        thread_ = number;
        return;
    }
}

void ThreadHands::follow(const sim::State& state) {
    if (lies(state, thread_)) return;
    if (thread_ > 0) {
        pull_n_ = 0.0;
        keeps_ = false;
        sent_mn_ = 0;
    }
    thread_ = 0;
    for (int number = static_cast<int>(state.threads.size()); number >= 1 && thread_ == 0; --number)
        if (lies(state, number)) thread_ = number;
}

void ThreadHands::pressed(const Input& input) {
    for (const Key key : input.keys_pressed) {
        if (key == SDLK_j) stroke(0);
        if (key == SDLK_k) stroke(1);
        if (key == SDLK_h) turn_strokes();
    }
    // one stroke a press
    if (input.pad.lift && !pad_stroked_) stroke(input.pad.slow ? 0 : 1);
    pad_stroked_ = input.pad.lift;
}

void ThreadHands::change_pull(double by_n) { wanted_n_ = std::clamp(wanted_n_ + by_n, kLeastPullN, kMostPullN); }

void ThreadHands::change_stroke(double by_n) { stroke_n_ = std::clamp(stroke_n_ + by_n, 1.0, kMostStrokeN); }

bool ThreadHands::pulls(const Input& input) const {
    return input.held(SDLK_r) || std::max(input.pad.left_trigger, input.pad.right_trigger) > kPadPulls;
}

bool ThreadHands::busy(const Input& input) const {
    return thread_ > 0 && (pulls(input) || keeps_ || sent_mn_ != 0 || stroke_due_ >= 0);
}

std::vector<sim::Command> ThreadHands::commands(const Input& input, const sim::State& state) {
    std::vector<sim::Command> out;
    follow(state);
    if (thread_ == 0) return out;
    if (to_let_go_ > 0) out.push_back({sim::Verb::traction, {std::exchange(to_let_go_, 0), 0, 0}});
    if (pulls(input) || keeps_) {
        const double trigger = std::max(input.pad.left_trigger, input.pad.right_trigger);
        // a trigger says how hard, a key and a button only that
        const double up_to_n = wanted_n_ * (input.held(SDLK_r) || keeps_ ? 1.0 : trigger);
        const double speed = habits_.sensitivity * (input.shift || input.pad.slow ? kSlower : 1.0);
        const double step_n = speed * kPullNPerS * sim::kStepS;
        pull_n_ = std::clamp(up_to_n, pull_n_ - step_n, pull_n_ + step_n);
    } else {
        pull_n_ = 0.0;
    }
    const std::int64_t wanted_mn = std::llround(1000.0 * pull_n_);
    const bool arrived = pull_n_ == 0.0 || pull_n_ == wanted_n_;
    if (std::abs(wanted_mn - sent_mn_) >= kToldMn || (arrived && wanted_mn != sent_mn_)) {
        out.push_back({sim::Verb::traction, {thread_, wanted_mn, 0}});
        sent_mn_ = wanted_mn;
    }
    if (stroke_due_ >= 0) {
        const std::int64_t force_mn = std::llround(1000.0 * stroke_n_) * (away_ ? -1 : 1);
        out.push_back({sim::Verb::stroke, {thread_, stroke_due_, force_mn}});
        stroke_due_ = -1;
    }
    return out;
}

const std::vector<KeyHint>& ThreadHands::hints() {
    // the right column is the narrower one
    static const std::vector<KeyHint> kHints{
        {"R", "pull the tail"}, {"Shift", "slower"}, {"J", "from entry"}, {"H", "turn"}, {"K", "from far end"}};
    return kHints;
}

}  // namespace app
