#include "engine/app/controller.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <algorithm>
#include <cmath>

namespace app {

namespace {

constexpr double kDeadZone = 0.15;  // of a stick's travel; worn sticks rest up to there, assumed
constexpr double kAxisRange = 32767.0;
constexpr double kFullRumbleN = 6.0;      // force at which the heavy motor runs full, assumed
constexpr double kFullBuzzN = 3.0;        // friction for the light one, assumed
constexpr unsigned kRumbleEveryMs = 40;   // a call costs a message to the device
constexpr unsigned kRumbleLastsMs = 200;  // a program that hangs does not leave it shaking

SDL_GameController* sdl(void* device) { return static_cast<SDL_GameController*>(device); }

double axis(void* device, SDL_GameControllerAxis which) {
    return without_dead_zone(SDL_GameControllerGetAxis(sdl(device), which));
}

bool button(void* device, SDL_GameControllerButton which) {
    return SDL_GameControllerGetButton(sdl(device), which) != 0;
}

}  // namespace

bool Pad::any() const {
    return left_x != 0.0 || left_y != 0.0 || right_x != 0.0 || right_y != 0.0 || left_trigger != 0.0 ||
           right_trigger != 0.0 || lift || next || finish;
}

double without_dead_zone(int raw) {
    const double value = std::clamp(static_cast<double>(raw) / kAxisRange, -1.0, 1.0);
    const double past = std::max(0.0, std::abs(value) - kDeadZone) / (1.0 - kDeadZone);
    return std::copysign(past, value);
}

Rumble rumble_of(double hand_n, double friction_n, bool moving) {
    Rumble out;
    out.heavy = std::clamp(std::abs(hand_n) / kFullRumbleN, 0.0, 1.0);
    if (moving) out.light = std::clamp(std::abs(friction_n) / kFullBuzzN, 0.0, 1.0);
    return out;
}

Controller::Controller() {
    system_ = SDL_InitSubSystem(SDL_INIT_GAMECONTROLLER) == 0;
    find();
}

Controller::~Controller() {
    if (device_ != nullptr) SDL_GameControllerClose(sdl(device_));
    if (system_) SDL_QuitSubSystem(SDL_INIT_GAMECONTROLLER);
}

void Controller::find() {
    if (!system_ || device_ != nullptr) return;
    for (int i = 0; i < SDL_NumJoysticks() && device_ == nullptr; ++i)
        if (SDL_IsGameController(i) != 0) device_ = reinterpret_cast<Device*>(SDL_GameControllerOpen(i));
}

std::string Controller::name() const {
    const char* name = there() ? SDL_GameControllerName(sdl(device_)) : nullptr;
    return name != nullptr ? name : "";
}

const Pad& Controller::poll() {
    pad_ = {};
    if (there() && SDL_GameControllerGetAttached(sdl(device_)) == 0) {
        SDL_GameControllerClose(sdl(device_));
        device_ = nullptr;
    }
    find();
    if (!there()) return pad_;
    pad_.left_x = axis(device_, SDL_CONTROLLER_AXIS_LEFTX);
    pad_.left_y = axis(device_, SDL_CONTROLLER_AXIS_LEFTY);
    pad_.right_x = axis(device_, SDL_CONTROLLER_AXIS_RIGHTX);
    pad_.right_y = axis(device_, SDL_CONTROLLER_AXIS_RIGHTY);
    pad_.left_trigger = std::max(0.0, axis(device_, SDL_CONTROLLER_AXIS_TRIGGERLEFT));
    pad_.right_trigger = std::max(0.0, axis(device_, SDL_CONTROLLER_AXIS_TRIGGERRIGHT));
    pad_.lift = button(device_, SDL_CONTROLLER_BUTTON_A);
    pad_.slow =
        button(device_, SDL_CONTROLLER_BUTTON_LEFTSHOULDER) || button(device_, SDL_CONTROLLER_BUTTON_RIGHTSHOULDER);
    const bool next = button(device_, SDL_CONTROLLER_BUTTON_Y), finish = button(device_, SDL_CONTROLLER_BUTTON_START);
    pad_.next = next && !next_down_;
    pad_.finish = finish && !finish_down_;
    next_down_ = next;
    finish_down_ = finish;
    return pad_;
}

void Controller::rumble(const Rumble& rumble) {
    const unsigned now = SDL_GetTicks();
    if (!there() || now - rumbled_at_ms_ < kRumbleEveryMs) return;
    rumbled_at_ms_ = now;
    const auto strength = [](double share) { return static_cast<Uint16>(65535.0 * std::clamp(share, 0.0, 1.0)); };
    SDL_GameControllerRumble(sdl(device_), strength(rumble.heavy), strength(rumble.light), kRumbleLastsMs);
}

}  // namespace app
