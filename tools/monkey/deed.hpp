#pragma once

#include <optional>
#include <string>

/// One thing that a hand does to the window, as a line of the list from which a run can be repeated.

namespace monkey {

enum class Do { start, move, button_down, button_up, key_down, key_up, resize, focus, blur, close, kill };

struct Deed {
    Do what = Do::move;
    int x = 0, y = 0;  ///< place or size in pixels; button in x
    std::string word;  ///< name of a key, or the arguments of a start
};

/// "MILLISECONDS WHAT X Y WORD"
struct TimedDeed {
    long ms = 0;
    Deed deed;
};
[[nodiscard]] std::string line_of(const TimedDeed& timed);
[[nodiscard]] std::optional<TimedDeed> read_line(const std::string& line);  ///< nothing: it is none

}  // namespace monkey
