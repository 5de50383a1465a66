#pragma once

#include <string>

#include "engine/app/pad.hpp"

/// A game controller: sticks and triggers to the hands, resistance back to them.

namespace app {

/// A raw axis (-32768 to 32767) without its dead zone, from -1 to 1. Steps nowhere: 0 at the zone's edge.
[[nodiscard]] double without_dead_zone(int raw);

/// Strength of the two motors, 0 to 1, for a force on the hand. The heavy one hums with force, the light one buzzes
/// while it slips and sticks.
struct Rumble {
    double heavy = 0.0, light = 0.0;
};
[[nodiscard]] Rumble rumble_of(double hand_n, double friction_n, bool moving);

/// The first controller that is connected, or none; may come and go while the program runs.
class Controller {
 public:
    Controller();
    ~Controller();
    Controller(const Controller&) = delete;
    Controller& operator=(const Controller&) = delete;

    /// Look again: sticks, buttons, and whether one was plugged in or pulled out.
    const Pad& poll();
    [[nodiscard]] const Pad& pad() const { return pad_; }
    [[nodiscard]] bool there() const { return device_ != nullptr; }
    [[nodiscard]] std::string name() const;

    void rumble(const Rumble& rumble);

 private:
    struct Device;  // SDL_GameController by another name: no SDL in headers
    void find();

    Device* device_ = nullptr;
    bool system_ = false;  ///< SDL knows controllers at all
    Pad pad_;
    bool next_down_ = false, finish_down_ = false;
    unsigned rumbled_at_ms_ = 0;
};

}  // namespace app
