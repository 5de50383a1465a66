#include "engine/app/steering.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <algorithm>
#include <cmath>

namespace app {

namespace {

// per step of 4 ms; assumed, by feel: 5 mm/s, 20 and 12 degrees/s, and a fifth of it with shift
constexpr std::int64_t kPushUm = 20;
constexpr std::int64_t kWithdrawUm = 40;
constexpr std::int64_t kYawMdeg = 80, kPitchMdeg = 50;
constexpr std::int64_t kSlower = 5;
constexpr std::int64_t kLiftMn = 800;                                         // a firm lift of the tip, assumed
constexpr std::int64_t kPilotSlopeMdeg = 35'000, kCannulaSlopeMdeg = 15'000;  // as a hand comes to the skin, assumed
constexpr std::int64_t kYawLimitMdeg = 180'000, kLowestSlopeMdeg = -30'000, kSteepestSlopeMdeg = 90'000;

bool held(const Input& input, Key letter, Key arrow) { return input.held(letter) || input.held(arrow); }

int direction(bool up, bool down) { return (up ? 1 : 0) - (down ? 1 : 0); }

}  // namespace

void Steering::took(const sim::InstrumentSpec& instrument) {
    yaw_mdeg_ = 0;
    pitch_mdeg_ = instrument.tip == sim::TipShape::bevel ? kPilotSlopeMdeg : kCannulaSlopeMdeg;
    fine_yaw_mdeg_ = fine_pitch_mdeg_ = 0.0;
    aim_due_ = true;
    lifting_ = false;
}

void Steering::fine_turn(double yaw_mdeg, double pitch_mdeg) {
    fine_yaw_mdeg_ += yaw_mdeg;
    fine_pitch_mdeg_ += pitch_mdeg;
}

bool Steering::busy(const Input& input) const {
    if (aim_due_ || lifting_ || fine_yaw_mdeg_ != 0.0 || fine_pitch_mdeg_ != 0.0) return true;
    for (const Key key :
         {SDLK_w, SDLK_s, SDLK_a, SDLK_d, SDLK_q, SDLK_e, SDLK_UP, SDLK_DOWN, SDLK_LEFT, SDLK_RIGHT, SDLK_SPACE})
        if (input.held(key)) return true;
    return false;
}

std::vector<sim::Command> Steering::commands(const Input& input, const sim::State& state) {
    std::vector<sim::Command> out;
    if (state.hands.instrument < 0 || !state.hands.entry_chosen) return out;
    const std::int64_t slow = input.shift ? kSlower : 1;

    const int turn = direction(held(input, SDLK_a, SDLK_LEFT), held(input, SDLK_d, SDLK_RIGHT));
    const int slope = direction(input.held(SDLK_e), input.held(SDLK_q));
    std::int64_t yaw = yaw_mdeg_ + turn * kYawMdeg / slow + std::llround(fine_yaw_mdeg_);
    std::int64_t pitch = pitch_mdeg_ + slope * kPitchMdeg / slow + std::llround(fine_pitch_mdeg_);
    fine_yaw_mdeg_ = fine_pitch_mdeg_ = 0.0;
    yaw = std::clamp(yaw, -kYawLimitMdeg, kYawLimitMdeg);
    pitch = std::clamp(pitch, kLowestSlopeMdeg, kSteepestSlopeMdeg);
    if (aim_due_ || yaw != yaw_mdeg_ || pitch != pitch_mdeg_) out.push_back({sim::Verb::aim, {yaw, pitch, 0}});
    yaw_mdeg_ = yaw;
    pitch_mdeg_ = pitch;
    aim_due_ = false;

    const int push = direction(held(input, SDLK_w, SDLK_UP), held(input, SDLK_s, SDLK_DOWN));
    if (push > 0) out.push_back({sim::Verb::push, {kPushUm / slow, 0, 0}});
    if (push < 0) out.push_back({sim::Verb::push, {-kWithdrawUm / slow, 0, 0}});

    const bool lift = input.held(SDLK_SPACE) && state.inserted_m > 0.0;
    if (lift != lifting_) out.push_back({sim::Verb::lift, {lift ? kLiftMn : 0, 0, 0}});
    lifting_ = lift;
    return out;
}

const std::vector<KeyHint>& Steering::hints() {
    static const std::vector<KeyHint> kHints{
        {"W S", "push, withdraw"}, {"A D", "turn left, right"}, {"Q E", "flatter, steeper"},
        {"Space", "lift the tip"}, {"Shift", "slower"},         {"Ctrl", "mouse turns"},
    };
    return kHints;
}

}  // namespace app
