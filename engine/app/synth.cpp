#include "engine/app/synth.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace app {

namespace {

constexpr double kFullRoughN = 4.0;           // assumed
constexpr double kFullSpeedMPerS = 0.004;     // the usual advance is heard at full level, assumed
constexpr double kOctavePerM = -1.0 / 0.012;  // an octave lower for 12 mm of depth, assumed
constexpr double kTopHz = 330.0, kLowestHz = 80.0;
constexpr double kGlideS = 0.03;     // time constant of every change
constexpr double kRaspHz = 34.0;     // how fast roughness beats, as stick and slip do
constexpr double kToneShare = 0.25;  // of full scale: a soft tone
constexpr double kClickS = 0.06, kLayerHz = 880.0, kWarningHz = 440.0, kClickShare = 0.3;
constexpr double kTurn = 2.0 * std::numbers::pi;

}  // namespace

Sounding sounding_of(double hand_n, double speed_m_per_s, double depth_m, bool depth_told) {
    Sounding out;
    out.level = std::clamp(std::abs(speed_m_per_s) / kFullSpeedMPerS, 0.0, 1.0);
    out.roughness = std::clamp(std::abs(hand_n) / kFullRoughN, 0.0, 1.0);
    if (depth_told) out.pitch_hz = std::clamp(kTopHz * std::exp2(kOctavePerM * depth_m), kLowestHz, kTopHz);
    return out;
}

void Synth::click(Click which) {
    click_left_s_ = kClickS;
    click_hz_ = which == Click::layer ? kLayerHz : kWarningHz;
}

double Synth::noise() {
    seed_ = seed_ * 1664525U + 1013904223U;  // a plain congruential generator: noise for the ear, not for the model
    return static_cast<double>(seed_ >> 8) / 8388608.0 - 1.0;
}

void Synth::render(std::span<float> out, const Sounding& to, double volume) {
    constexpr double kStepS = 1.0 / kSampleRate;
    const double glide = 1.0 - std::exp(-kStepS / kGlideS);
    for (float& sample : out) {
        now_.level += glide * (to.level - now_.level);
        now_.roughness += glide * (to.roughness - now_.roughness);
        now_.pitch_hz += glide * (to.pitch_hz - now_.pitch_hz);
        phase_ = std::fmod(phase_ + now_.pitch_hz * kStepS, 1.0);
        rasp_ = std::fmod(rasp_ + kRaspHz * kStepS, 1.0);
        const double tone = std::sin(kTurn * phase_) + 0.3 * std::sin(2.0 * kTurn * phase_);
        const double beat = 1.0 - now_.roughness * (0.5 + 0.5 * std::sin(kTurn * rasp_));
        double value = kToneShare * now_.level * (tone * beat + now_.roughness * 0.6 * noise());
        if (click_left_s_ > 0.0) {
            const double fall = click_left_s_ / kClickS;
            value += kClickShare * fall * fall * std::sin(kTurn * click_hz_ * (kClickS - click_left_s_));
            click_left_s_ -= kStepS;
        }
        sample = static_cast<float>(std::clamp(volume * value, -1.0, 1.0));
    }
}

}  // namespace app
