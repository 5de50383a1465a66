#include "tools/monkey/deed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <sstream>

namespace monkey {

namespace {

constexpr std::array kNames{"start",  "move",  "button_down", "button_up", "key_down", "key_up",
                            "resize", "focus", "blur",        "close",     "kill"};

}  // namespace

std::string line_of(const TimedDeed& timed) {
    const Deed& deed = timed.deed;
    const std::string head =
        fmt::format("{} {} {} {}", timed.ms, kNames[static_cast<std::size_t>(deed.what)], deed.x, deed.y);
    return deed.word.empty() ? head : head + " " + deed.word;
}

std::optional<TimedDeed> read_line(const std::string& line) {
    std::istringstream in(line);
    TimedDeed out;
    std::string name;
    if (!(in >> out.ms >> name >> out.deed.x >> out.deed.y)) return std::nullopt;
    const auto at = std::find(kNames.begin(), kNames.end(), name);
    if (at == kNames.end()) return std::nullopt;
    out.deed.what = static_cast<Do>(at - kNames.begin());
    in.get();  // the space before the rest
    std::getline(in, out.deed.word);
    return out;
}

}  // namespace monkey
