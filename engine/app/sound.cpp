#include "engine/app/sound.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>

namespace app {

namespace {

constexpr Uint16 kBufferSamples = 512;  // 11 ms: a click is heard with the step that made it

void on_samples(void* user, Uint8* bytes, int length) {
    static_cast<Sound*>(user)->fill(reinterpret_cast<float*>(bytes), length / static_cast<int>(sizeof(float)));
}

}  // namespace

Sound::Sound() {
    if (SDL_InitSubSystem(SDL_INIT_AUDIO) != 0) {
        trouble_ = SDL_GetError();
        return;
    }
    SDL_AudioSpec wanted{}, got{};
    wanted.freq = kSampleRate;
    wanted.format = AUDIO_F32SYS;
    wanted.channels = 1;
    wanted.samples = kBufferSamples;
    wanted.callback = on_samples;
    wanted.userdata = this;
    device_ = SDL_OpenAudioDevice(nullptr, 0, &wanted, &got, 0);
    if (device_ == 0)
        trouble_ = SDL_GetError();
    else
        SDL_PauseAudioDevice(device_, 0);
}

Sound::~Sound() {
    if (device_ != 0) SDL_CloseAudioDevice(device_);
    SDL_QuitSubSystem(SDL_INIT_AUDIO);
}

void Sound::set_volume(double volume) {
    const std::lock_guard lock(mutex_);
    volume_ = std::clamp(volume, 0.0, 1.0);
}

void Sound::set(const Sounding& now) {
    const std::lock_guard lock(mutex_);
    now_ = now;
}

void Sound::click(Click which) {
    const std::lock_guard lock(mutex_);
    synth_.click(which);
}

void Sound::fill(float* samples, int count) {
    const std::lock_guard lock(mutex_);
    synth_.render({samples, static_cast<std::size_t>(std::max(0, count))}, now_, volume_);
}

namespace {

/// A cannula that has left its thread behind is still in the skin.
bool stays_in(const sim::Event& event) { return event.kind == sim::EventKind::track_closed && event.value[0] > 0.0; }

}  // namespace

bool click_of(const sim::Event& event, bool aids, Click& click) {
    switch (event.kind) {
        case sim::EventKind::layer_crossed:
        case sim::EventKind::entry_opened:  // both are the way out through the skin
        case sim::EventKind::track_closed:
            click = Click::layer;
            return aids && !stays_in(event);
        case sim::EventKind::resistance_doubled:
            click = Click::warning;
            return aids;
        case sim::EventKind::plunge:
        case sim::EventKind::skin_punctured:
            click = Click::warning;  // felt and heard in life too
            return true;
        default:
            return false;
    }
}

std::string caption_of(const sim::Event& event, bool aids) {
    switch (event.kind) {
        case sim::EventKind::layer_crossed:
            return aids ? fmt::format("Click: into {}", sim::name_of(static_cast<sim::Layer>(event.subject))) : "";
        case sim::EventKind::entry_opened:
        case sim::EventKind::track_closed:
            return aids && !stays_in(event) ? "Click: out through the skin" : "";
        case sim::EventKind::resistance_doubled:
            return aids ? "Low click: resistance doubled" : "";
        case sim::EventKind::plunge:
            return "Low click: resistance gave way";
        case sim::EventKind::skin_punctured:
            return "Low click: skin punctured";
        default:
            return "";
    }
}

}  // namespace app
