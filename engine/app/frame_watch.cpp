#include "engine/app/frame_watch.hpp"

#include <fmt/format.h>

#include <algorithm>

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

void FrameHistogram::add(double ms) {
    std::size_t step = 0;
    for (double high_ms = 1.0; ms >= high_ms && step + 1 < counts_.size(); high_ms *= 2.0) ++step;
    ++counts_[step];
    ++count_;
    longest_ms_ = std::max(longest_ms_, ms);
}

std::string FrameHistogram::words() const {
    std::string out;
    double low_ms = 0.0, high_ms = 1.0;
    for (const std::int64_t count : counts_) {
        if (low_ms > longest_ms_) break;
        out += fmt::format("{}[{:g}, {:g}, {}]", out.empty() ? "" : ", ", low_ms, high_ms, count);
        low_ms = high_ms;
        high_ms *= 2.0;
    }
    return "[" + out + "]";
}

}  // namespace app
