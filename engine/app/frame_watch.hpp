#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <string>
#include <string_view>

namespace app {

/// What a frame's time goes to, in the order in which a frame does it.
enum class FramePart {
    hands,    ///< steps of the simulation and what hands ask for
    scene,    ///< what is to be drawn, with the layers that a cut newly opens
    upload,   ///< what the card has not got yet
    patient,  ///< the calls that draw the patient
    screen,   ///< words, plots and buttons laid out
    panels,   ///< the calls that draw them
    swap,     ///< the rest of the drawing done, and shown
};
inline constexpr std::size_t kFrameParts = 7;
[[nodiscard]] std::string_view name_of(FramePart part);

/// A stopwatch for the parts of one frame, this thread's time on the clock.
class FrameWatch {
 public:
    using Ms = std::array<double, kFrameParts>;

    void begin();
    /// The time since the last call of either belongs to this part.
    void lap(FramePart part);
    /// Of the frame so far.
    [[nodiscard]] const Ms& ms() const { return ms_; }

 private:
    using Clock = std::chrono::steady_clock;
    Clock::time_point last_ = Clock::now();
    Ms ms_{};
};

/// How many frames took how long, by powers of two of a millisecond.
class FrameHistogram {
 public:
    void add(double ms);
    [[nodiscard]] bool empty() const { return count_ == 0; }
    /// As JSON: [low ms, high ms, count] for each step up to the longest.
    [[nodiscard]] std::string words() const;
    [[nodiscard]] double longest_ms() const { return longest_ms_; }

 private:
    std::array<std::int64_t, 20> counts_{};  ///< the first below 1 ms, the last of everything beyond
    std::int64_t count_ = 0;
    double longest_ms_ = 0.0;
};

}  // namespace app
