#include "engine/app/frame_watch.hpp"

namespace app {

std::string_view name_of(FramePart part) {
    static constexpr std::array<std::string_view, kFrameParts> kNames{"hands",  "scene",  "upload", "patient",
                                                                      "screen", "panels", "swap"};
    return kNames[static_cast<std::size_t>(part)];
}

void FrameWatch::begin() {
    ms_ = {};
    last_ = Clock::now();
}

void FrameWatch::lap(FramePart part) {
    const Clock::time_point now = Clock::now();
    ms_[static_cast<std::size_t>(part)] += std::chrono::duration<double, std::milli>(now - last_).count();
    last_ = now;
}

}  // namespace app
