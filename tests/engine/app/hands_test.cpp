#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/app/controller.hpp"
#include "engine/app/sound.hpp"
#include "engine/app/steering.hpp"
#include "engine/app/synth.hpp"

using app::HandHabits;
using app::Input;
using app::Pad;
using app::Steering;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

sim::State in_hand() {
    sim::State state;
    state.hands.instrument = 0;
    state.hands.entry_chosen = true;
    return state;
}

/// Whole micrometres pushed over so many steps.
std::int64_t pushed_um(Steering& steering, const Input& input, const sim::State& state, int steps) {
    std::int64_t sum = 0;
    for (int i = 0; i < steps; ++i)
        for (const sim::Command& command : steering.commands(input, state))
            if (command.verb == sim::Verb::push) sum += command.value[0];
    return sum;
}

double rms(const std::vector<float>& samples) {
    double sum = 0.0;
    for (const float s : samples) sum += static_cast<double>(s) * static_cast<double>(s);
    return std::sqrt(sum / static_cast<double>(samples.size()));
}

}  // namespace

TEST_CASE("key, trigger and both push alike, and no micrometre is lost to rounding", "[app][hands]") {
    const sim::State state = in_hand();
    Input w;
    w.keys_held.insert(SDLK_w);
    Input trigger, w_and_trigger = w;
    trigger.pad.right_trigger = w_and_trigger.pad.right_trigger = 1.0;
    Steering keys, pad, both, slow;
    CHECK(pushed_um(keys, w, state, 250) == 5000);  // 5 mm in a second of 250 steps
    CHECK(pushed_um(pad, trigger, state, 250) == 5000);
    CHECK(pushed_um(both, w_and_trigger, state, 250) == 5000);
    trigger.pad.right_trigger = 0.013;  // 0.26 um a step: 65 um in a second
    CHECK(std::abs(pushed_um(slow, trigger, state, 250) - 65) <= 1);
}

TEST_CASE("habits: sensitivity, left hand, invert, a press that lasts", "[app][hands]") {
    const sim::State state = in_hand();
    Input w;
    w.keys_held.insert(SDLK_w);
    HandHabits habits;
    habits.sensitivity = 0.5;
    Steering half;
    half.set_habits(habits);
    CHECK(pushed_um(half, w, state, 250) == 2500);

    Pad left;
    left.left_trigger = 1.0;
    CHECK(app::wish_of_pad(left, {}).push == -1.0);
    habits.left_handed = true;
    CHECK(app::wish_of_pad(left, habits).push == 1.0);

    Pad down;
    down.left_y = 1.0;
    CHECK(app::wish_of_pad(down, {}).slope == 1.0);
    habits.invert = true;
    CHECK(app::wish_of_pad(down, habits).slope == -1.0);

    HandHabits lasting;
    lasting.toggle = true;
    Steering steering;
    steering.set_habits(lasting);
    Input press;
    press.keys_pressed = {SDLK_w};
    steering.pressed(press);
    CHECK(pushed_um(steering, {}, state, 50) == 1000);  // nothing is held down
    Input lift;
    lift.keys_pressed = {SDLK_SPACE};
    steering.pressed(lift);
    CHECK(pushed_um(steering, {}, state, 50) == 0);
}

TEST_CASE("resistance is felt as less motion for the same hand", "[app][hands]") {
    CHECK(app::motion_ratio(0.0) == 1.0);
    CHECK_THAT(app::motion_ratio(2.0), WithinRel(0.75, 1e-12));
    CHECK(app::motion_ratio(100.0) == 0.5);
    Input w;
    w.keys_held.insert(SDLK_w);
    sim::State resisted = in_hand();
    resisted.force.hand_n = 6.0;
    Steering steering;
    CHECK(pushed_um(steering, w, resisted, 250) == 2500);
    HandHabits stiff;
    stiff.feel_resistance = false;
    steering.set_habits(stiff);
    CHECK(pushed_um(steering, w, resisted, 250) == 5000);
}

TEST_CASE("a stick at rest is silent, and its travel is smooth", "[app][hands]") {
    CHECK(app::without_dead_zone(0) == 0.0);
    CHECK(app::without_dead_zone(4500) == 0.0);
    CHECK(app::without_dead_zone(-4500) == 0.0);
    CHECK_THAT(app::without_dead_zone(32767), WithinAbs(1.0, 1e-12));
    CHECK_THAT(app::without_dead_zone(-32768), WithinAbs(-1.0, 1e-12));
    double last = 0.0;
    for (int raw = 0; raw <= 32767; raw += 37) {
        const double now = app::without_dead_zone(raw);
        CHECK(now >= last);
        CHECK(now - last < 0.01);
        last = now;
    }
    CHECK(app::rumble_of(0.0, 0.0, true).heavy == 0.0);
    CHECK(app::rumble_of(100.0, 100.0, true).heavy == 1.0);
    CHECK(app::rumble_of(1.0, 2.0, false).light == 0.0);
}

TEST_CASE("sound: silent at rest, rougher with force, lower with depth, never past full scale", "[app][sound]") {
    CHECK(app::sounding_of(2.0, 0.0, 0.003, true).level == 0.0);
    CHECK(app::sounding_of(2.0, 0.004, 0.003, true).roughness > app::sounding_of(1.0, 0.004, 0.003, true).roughness);
    CHECK(app::sounding_of(1.0, 0.004, 0.006, true).pitch_hz < app::sounding_of(1.0, 0.004, 0.003, true).pitch_hz);
    // without aids the pitch tells nothing
    CHECK(app::sounding_of(1.0, 0.004, 0.006, false).pitch_hz == app::sounding_of(1.0, 0.004, 0.003, false).pitch_hz);

    app::Synth synth;
    std::vector<float> samples(app::kSampleRate / 2);
    synth.render(samples, {}, 1.0);
    CHECK(rms(samples) == 0.0);
    synth.render(samples, app::sounding_of(4.0, 1.0, 0.0, true), 1.0);
    CHECK(rms(samples) > 0.05);
    for (const float s : samples) REQUIRE(std::abs(s) <= 1.0F);
    synth.render(samples, app::sounding_of(4.0, 1.0, 0.0, true), 0.0);
    CHECK(rms(samples) == 0.0);

    app::Synth clicking;
    clicking.click(app::Click::layer);
    clicking.render(samples, {}, 1.0);
    CHECK(rms(samples) > 0.0);
    clicking.render(samples, {}, 1.0);
    CHECK(rms(samples) == 0.0);
}

TEST_CASE("roughness is heard: the wave of a rasp spreads further from its tone", "[app][sound]") {
    // share of energy that a steady sine and its octave do not explain, by projection on them
    const auto unexplained = [](double force_n) {
        app::Synth synth;
        std::vector<float> x(app::kSampleRate);
        const app::Sounding to = app::sounding_of(force_n, 1.0, 0.0, false);
        synth.render(x, to, 1.0);
        synth.render(x, to, 1.0);  // past the glide
        double all = 0.0, tone = 0.0;
        for (const float s : x) all += static_cast<double>(s) * static_cast<double>(s);
        for (const double k : {1.0, 2.0}) {
            double c = 0.0, q = 0.0;
            for (std::size_t i = 0; i < x.size(); ++i) {
                const double angle =
                    2.0 * 3.14159265358979 * k * to.pitch_hz * static_cast<double>(i) / app::kSampleRate;
                c += static_cast<double>(x[i]) * std::cos(angle);
                q += static_cast<double>(x[i]) * std::sin(angle);
            }
            tone += 2.0 * (c * c + q * q) / static_cast<double>(x.size());
        }
        return 1.0 - tone / all;
    };
    const double smooth = unexplained(0.0), some = unexplained(1.0), rough = unexplained(4.0);
    CHECK(smooth < 0.01);
    CHECK(some > 2.0 * smooth);
    CHECK(rough > some);
}

TEST_CASE("what graded work may not tell is neither heard nor written", "[app][sound]") {
    sim::Event layer;
    layer.kind = sim::EventKind::layer_crossed;
    layer.subject = 3;
    app::Click click{};
    CHECK(app::click_of(layer, true, click));
    CHECK_FALSE(app::click_of(layer, false, click));
    CHECK_FALSE(app::caption_of(layer, true).empty());
    CHECK(app::caption_of(layer, false).empty());
    sim::Event plunge;
    plunge.kind = sim::EventKind::plunge;
    CHECK(app::click_of(plunge, false, click));
    CHECK_FALSE(app::caption_of(plunge, false).empty());
}
