#pragma once

#include <set>
#include <string>
#include <vector>

#include "engine/app/pad.hpp"

/// What mouse, keyboard and controller did since the last frame, in the window's pixels from the top left.

namespace app {

enum class MouseButton { left, middle, right };

struct Point {
    float x = 0.0f, y = 0.0f;
};

struct Rect {
    float x = 0.0f, y = 0.0f, w = 0.0f, h = 0.0f;
    [[nodiscard]] bool holds(Point p) const { return p.x >= x && p.x < x + w && p.y >= y && p.y < y + h; }
    [[nodiscard]] float right() const { return x + w; }
    [[nodiscard]] float bottom() const { return y + h; }
    [[nodiscard]] Rect inset(float by) const { return {x + by, y + by, w - 2.0f * by, h - 2.0f * by}; }
};

/// Keys by SDL key code, so that a screen names what is printed on the key.
using Key = int;

struct Input {
    Point mouse;
    Point drag;                  ///< of the mouse since the last frame
    float wheel = 0.0f;          ///< notches, away from the user positive
    Point pressed_at;            ///< where the left button went down last
    bool left_pressed = false;   ///< went down since the last frame
    bool left_released = false;  ///< went up
    bool left_held = false, middle_held = false, right_held = false;
    std::vector<Key> keys_pressed;  ///< since the last frame, repeats left out
    std::set<Key> keys_held;
    bool shift = false, control = false;
    std::string typed;    ///< since the last frame, UTF-8
    int rubbed_out = 0;   ///< times that Backspace went down, repeats and all
    int deleted = 0;      ///< likewise Delete
    int caret_moves = 0;  ///< likewise Right, less Left
    Pad pad;              ///< at rest where there is no controller
    bool quit = false, resized = false;
    bool any = false;  ///< something happened: draw

    [[nodiscard]] bool pressed(Key key) const;
    [[nodiscard]] bool held(Key key) const { return keys_held.contains(key); }
};

/// Take all waiting events. @param wait_ms when none waits, sleep this long for one
void poll(Input& input, int wait_ms);

}  // namespace app
