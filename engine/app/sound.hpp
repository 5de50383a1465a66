#pragma once

#include <mutex>
#include <string>
#include <vector>

#include "engine/app/synth.hpp"
#include "sim/trace.hpp"

/// What is heard, through the machine's sound device if it has one, and the same in words.

namespace app {

class Sound {
 public:
    Sound();  ///< silent where there is no device, see trouble()
    ~Sound();
    Sound(const Sound&) = delete;
    Sound& operator=(const Sound&) = delete;

    void set_volume(double volume);  ///< 0 to 1
    void set(const Sounding& now);
    void click(Click which);
    [[nodiscard]] bool there() const { return device_ != 0; }
    [[nodiscard]] const std::string& trouble() const { return trouble_; }

    /// Called by the device's thread for its next samples.
    void fill(float* samples, int count);

 private:
    unsigned device_ = 0;
    std::string trouble_;
    std::mutex mutex_;
    Synth synth_;
    Sounding now_{0.0, 0.0, Sounding::kPitchHz};
    double volume_ = 0.7;
};

/// The click that an event makes, if any. @param aids whether layers may be told
[[nodiscard]] bool click_of(const sim::Event& event, bool aids, Click& click);

/// What a person who does not hear would be told of an event; empty when nothing is heard.
[[nodiscard]] std::string caption_of(const sim::Event& event, bool aids);

}  // namespace app
