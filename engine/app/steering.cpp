#include "engine/app/steering.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <algorithm>
#include <cmath>

namespace app {

namespace {

// per step of 4 ms; assumed, by feel: 5 mm/s in, 10 mm/s out, 20 and 12 degrees/s, and a fifth of it when slow
constexpr double kPushUm = 20.0, kWithdrawUm = 40.0;
constexpr double kYawMdeg = 80.0, kPitchMdeg = 50.0;
constexpr double kSlower = 0.2;
constexpr std::int64_t kLiftMn = 800;                                   // a firm lift of the tip, assumed
constexpr double kPilotSlopeMdeg = 35'000, kCannulaSlopeMdeg = 15'000;  // as a hand comes to the skin, assumed
constexpr double kYawLimitMdeg = 180'000, kLowestSlopeMdeg = -30'000, kSteepestSlopeMdeg = 90'000;
constexpr double kHalfMotionN = 6.0, kLeastMotion = 0.5;  // assumed
constexpr double kIdle = 1e-9;

bool held(const Input& input, Key letter, Key arrow) { return input.held(letter) || input.held(arrow); }

double direction(bool up, bool down) { return (up ? 1.0 : 0.0) - (down ? 1.0 : 0.0); }

double one_of(double a, double b) { return std::clamp(a + b, -1.0, 1.0); }

}  // namespace

double motion_ratio(double hand_n) {
    return std::max(kLeastMotion, 1.0 / (1.0 + std::max(0.0, hand_n) / kHalfMotionN));
}

HandWish wish_of_keys(const Input& input, const HandHabits& habits) {
    HandWish wish;
    if (!habits.toggle) wish.push = direction(held(input, SDLK_w, SDLK_UP), held(input, SDLK_s, SDLK_DOWN));
    wish.turn = direction(held(input, SDLK_a, SDLK_LEFT), held(input, SDLK_d, SDLK_RIGHT));
    wish.slope = direction(input.held(SDLK_e), input.held(SDLK_q));
    wish.lift = input.held(SDLK_SPACE);
    wish.slow = input.shift;
    return wish;
}

HandWish wish_of_pad(const Pad& pad, const HandHabits& habits) {
    HandWish wish;
    wish.push = habits.left_handed ? pad.left_trigger - pad.right_trigger : pad.right_trigger - pad.left_trigger;
    wish.turn = -pad.left_x;
    wish.slope = habits.invert ? -pad.left_y : pad.left_y;
    wish.lift = pad.lift;
    wish.slow = pad.slow;
    return wish;
}

HandWish Steering::wish(const Input& input) const {
    HandWish keys = wish_of_keys(input, habits_);
    if (habits_.toggle) keys.push = latched_push_;
    const HandWish stick = wish_of_pad(input.pad, habits_);
    return {one_of(keys.push, stick.push), one_of(keys.turn, stick.turn), one_of(keys.slope, stick.slope),
            keys.lift || stick.lift, keys.slow || stick.slow};
}

void Steering::took(const sim::InstrumentSpec& instrument) {
    yaw_mdeg_ = 0.0;
    pitch_mdeg_ = instrument.tip == sim::TipShape::bevel ? kPilotSlopeMdeg : kCannulaSlopeMdeg;
    push_um_ = 0.0;
    latched_push_ = 0;
    aim_due_ = true;
    lifting_ = false;
}

void Steering::fine_turn(double yaw_mdeg, double pitch_mdeg) {
    yaw_mdeg_ += yaw_mdeg;
    pitch_mdeg_ += pitch_mdeg;
}

void Steering::pressed(const Input& input) {
    for (const Key key : input.keys_pressed) {
        const int asked = key == SDLK_w || key == SDLK_UP ? 1 : key == SDLK_s || key == SDLK_DOWN ? -1 : 0;
        if (asked != 0) latched_push_ = habits_.toggle && latched_push_ == 0 ? asked : 0;
        if (key == SDLK_SPACE) latched_push_ = 0;  // a depth check is made with the hand at rest
    }
}

bool Steering::busy(const Input& input) const {
    const HandWish now = wish(input);
    return aim_due_ || lifting_ || now.lift || std::abs(now.push) + std::abs(now.turn) + std::abs(now.slope) > kIdle ||
           std::llround(yaw_mdeg_) != sent_yaw_mdeg_ || std::llround(pitch_mdeg_) != sent_pitch_mdeg_;
}

std::vector<sim::Command> Steering::commands(const Input& input, const sim::State& state) {
    std::vector<sim::Command> out;
    if (state.hands.instrument < 0 || !state.hands.entry_chosen) return out;
    const HandWish now = wish(input);
    const double speed = habits_.sensitivity * (now.slow ? kSlower : 1.0);

    yaw_mdeg_ = std::clamp(yaw_mdeg_ + speed * kYawMdeg * now.turn, -kYawLimitMdeg, kYawLimitMdeg);
    pitch_mdeg_ = std::clamp(pitch_mdeg_ + speed * kPitchMdeg * now.slope, kLowestSlopeMdeg, kSteepestSlopeMdeg);
    const std::int64_t yaw = std::llround(yaw_mdeg_), pitch = std::llround(pitch_mdeg_);
    if (aim_due_ || yaw != sent_yaw_mdeg_ || pitch != sent_pitch_mdeg_)
        out.push_back({sim::Verb::aim, {yaw, pitch, 0}});
    sent_yaw_mdeg_ = yaw;
    sent_pitch_mdeg_ = pitch;
    aim_due_ = false;

    // the hand's own force opposes it either way, so its size is what slows the hand
    const double ratio = habits_.feel_resistance ? motion_ratio(std::abs(state.force.hand_n)) : 1.0;
    push_um_ += speed * ratio * now.push * (now.push > 0.0 ? kPushUm : kWithdrawUm);
    const auto whole_um = static_cast<std::int64_t>(push_um_);
    push_um_ = std::abs(now.push) > kIdle ? push_um_ - static_cast<double>(whole_um) : 0.0;
    if (whole_um != 0) out.push_back({sim::Verb::push, {whole_um, 0, 0}});

    const bool lift = now.lift && state.inserted_m > 0.0;
    if (lift != lifting_) out.push_back({sim::Verb::lift, {lift ? kLiftMn : 0, 0, 0}});
    lifting_ = lift;
    return out;
}

const std::vector<KeyHint>& Steering::hints() {
    static const std::vector<KeyHint> kHints{
        {"W S", "in, out"},    {"A D", "turn"},     {"Q E", "flat, steep"},
        {"Space", "lift tip"}, {"Shift", "slower"}, {"Ctrl", "by mouse"},
    };
    return kHints;
}

}  // namespace app
