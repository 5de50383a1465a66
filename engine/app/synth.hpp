#pragma once

#include <cstdint>
#include <span>

/// The sound of an instrument in tissue, made from numbers: a soft tone whose roughness follows resistance, and where
/// aids are allowed a pitch for depth and a click at a layer. No device here: samples in, samples out.

namespace app {

inline constexpr int kSampleRate = 48'000;  ///< per second, one channel

/// What is heard now.
struct Sounding {
    double level = 0.0;      ///< 0 silent to 1; an instrument that rests in the skin is silent
    double roughness = 0.0;  ///< 0 a clean tone, 1 a rasp
    double pitch_hz = kPitchHz;
    static constexpr double kPitchHz = 196.0;  ///< where depth is not told
};

/// @param hand_n force on the hand; 4 N is as rough as it gets (assumed)
/// @param speed_m_per_s of the shaft through the entry
/// @param depth_m under the skin, only used with `depth_told`
[[nodiscard]] Sounding sounding_of(double hand_n, double speed_m_per_s, double depth_m, bool depth_told);

/// Short sounds over the tone.
enum class Click : std::uint8_t { layer, warning };

class Synth {
 public:
    void click(Click which);

    /// Go on with the tone, moving smoothly to `to`: no step in a wave is heard as a crack.
    /// @param out samples, -1 to 1
    void render(std::span<float> out, const Sounding& to, double volume);

 private:
    [[nodiscard]] double noise();

    Sounding now_{0.0, 0.0, Sounding::kPitchHz};
    double phase_ = 0.0, rasp_ = 0.0;
    double click_left_s_ = 0.0, click_hz_ = 0.0;
    std::uint32_t seed_ = 1;
};

}  // namespace app
