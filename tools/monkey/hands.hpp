#pragma once

#include <string>

#include "tools/monkey/deed.hpp"

struct _XDisplay;

/// Mouse, keyboard and window frame of a display: what a person in front of it can do, as real events of the server.

namespace monkey {

class Hands {
 public:
    /// The display that DISPLAY names. @throws std::runtime_error when it is not there or takes no such events
    Hands();
    ~Hands();
    Hands(const Hands&) = delete;
    Hands& operator=(const Hands&) = delete;

    /// Look for the visible window with this title, and put it at the top left with the keyboard's focus.
    bool find_window(const std::string& title);
    void forget_window() { window_ = 0; }

    /// Everything but Do::start. A key that the keyboard lacks is left out.
    void send(const Deed& deed);

    [[nodiscard]] int screen_width() const;
    [[nodiscard]] int screen_height() const;
    /// Of the window, 0 when there is none.
    struct Size {
        int width = 0, height = 0;
    };
    [[nodiscard]] Size window_size() const;

 private:
    void close_window();

    _XDisplay* display_ = nullptr;
    unsigned long window_ = 0;
};

}  // namespace monkey
