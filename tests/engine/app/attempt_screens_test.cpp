#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <fstream>
#include <sstream>
#include <thread>

#include "engine/app/debrief.hpp"
#include "engine/app/instruments.hpp"
#include "engine/app/practice.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "tests/support/scratch.hpp"

/// What an attempt in the window and its debrief do, without a window.

namespace {

constexpr double kFrameS = 1.0 / 60.0;

std::shared_ptr<const view::InstrumentModels> models() {
    return app::load_instruments(files::shipped_folder() / "assets/instruments").models;
}

files::Script script_named(const std::string& name) { return files::load_script(files::find_script(name)); }

/// A kept attempt at the flat drill. @param variant of the anatomy; nothing: the drill's own
std::filesystem::path keep_attempt(const support::Scratch& scratch, const std::string& name, const std::string& script,
                                   std::optional<std::uint64_t> variant) {
    const session::Prepared prepared = session::prepare("hold_the_plane", variant, {});
    const auto recorder = std::make_shared<session::AttemptRecorder>(files::AttemptWriter(
        scratch.path(name), session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()));
    session::Session live(prepared.model, {sim::PracticeMode::solo, recorder, nullptr});
    const files::Script hands = script_named(script);
    session::play_commands(live, hands.commands, hands.steps + 1);
    REQUIRE(recorder->close(true));
    return scratch.path(name);
}

std::string words_of(const std::filesystem::path& file) {
    std::ostringstream out;
    out << std::ifstream(file).rdbuf();
    return out.str();
}

void press(app::Debrief& debrief, app::Key key) {
    app::Input input;
    input.keys_pressed = {key};
    static_cast<void>(debrief.handle(input, false));
    for (int left = 3000; debrief.busy() && left > 0; --left) {
        debrief.advance(kFrameS);
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    REQUIRE_FALSE(debrief.busy());
}

}  // namespace

TEST_CASE("an attempt stands still while settings lie over it, and does not race afterwards", "[app][practice]") {
    const app::Library library;
    app::Journal journal("");
    app::Practice practice(
        library.prepare("hold_the_plane", false, sim::PracticeMode::coached, {}, [](double, auto) {}), models(),
        sim::PracticeMode::coached, app::Coaching{}, app::Settings{}, journal);
    const files::Script hands = script_named("hold_the_plane.capable");
    practice.play(hands.commands, hands.steps / 2);
    REQUIRE(practice.session().state().inserted_m > 0.0);

    app::Input push;
    push.keys_held.insert(SDLK_w);
    const auto step = [&] { return practice.session().state().step; };
    const auto run = [&](int frames) {
        for (int i = 0; i < frames; ++i) {
            practice.advance(kFrameS, push);
            std::this_thread::sleep_for(std::chrono::milliseconds(1));  // an answer may be on its way
        }
    };
    const std::int64_t first = step();
    run(30);
    REQUIRE(step() > first);

    app::Input settings;
    settings.keys_pressed = {SDLK_o};
    practice.handle(settings, false, false);
    REQUIRE(practice.settings_open());
    const std::int64_t before = step();
    const double in_m = practice.session().state().inserted_m;
    run(600);  // ten seconds
    CHECK(step() == before);
    CHECK(practice.session().state().inserted_m == in_m);
    // Escape belongs to the settings: the attempt is not left by it
    app::Input escape;
    escape.keys_pressed = {SDLK_ESCAPE};
    practice.handle(escape, false, false);
    practice.handle(escape, false, false);
    CHECK_FALSE(practice.wants_to_leave());

    practice.close_settings();
    practice.advance(kFrameS, push);
    // a frame owes 4 steps of 4 ms, and none of those ten seconds; at most the 0.1 s that any hitch may owe
    CHECK(step() - before <= 25);
    run(30);
    CHECK(step() > before);
}

TEST_CASE("an earlier attempt is watched from the page of layers and structures, and left again", "[app][debrief]") {
    const support::Scratch scratch;
    const auto earlier = keep_attempt(scratch, "earlier.attempt", "hold_the_plane.capable", std::nullopt);
    const auto now = keep_attempt(scratch, "now.attempt", "hold_the_plane.careless", std::nullopt);
    app::Journal journal(scratch.path("journal"));
    app::Debrief debrief(app::load_debrief(session::open_attempt(now), now, [](double, auto) {}), models(), {earlier},
                         app::Settings{}, journal);
    // where the instrument is, as it is drawn
    const auto drawn = [&debrief] {
        std::vector<float> out;
        for (const view::ObjectVertex& vertex : debrief.draw_list(1.5).objects.vertices)
            out.insert(out.end(), {vertex.position_mm.x, vertex.position_mm.y, vertex.position_mm.z});
        return out;
    };
    for (int i = 0; i < 3; ++i) press(debrief, SDLK_b);
    press(debrief, SDLK_i);
    press(debrief, SDLK_DOWN);  // a loss with its moment in the track
    const std::vector<float> now_drawn = drawn();
    REQUIRE_FALSE(now_drawn.empty());
    press(debrief, SDLK_w);
    CHECK(words_of(scratch.path("journal")).find("watching earlier attempt") != std::string::npos);
    const std::vector<float> earlier_drawn = drawn();
    CHECK_FALSE(earlier_drawn.empty());
    CHECK(earlier_drawn != now_drawn);
    press(debrief, SDLK_w);
    CHECK(words_of(scratch.path("journal")).find("watching this attempt") != std::string::npos);
    CHECK(drawn() != earlier_drawn);
}

TEST_CASE("an earlier attempt on another anatomy is compared and not watched", "[app][debrief]") {
    const support::Scratch scratch;
    const auto earlier = keep_attempt(scratch, "earlier.attempt", "hold_the_plane.capable", 77);
    const auto now = keep_attempt(scratch, "now.attempt", "hold_the_plane.careless", std::nullopt);
    app::Journal journal(scratch.path("journal"));
    app::Debrief debrief(app::load_debrief(session::open_attempt(now), now, [](double, auto) {}), models(), {earlier},
                         app::Settings{}, journal);
    press(debrief, SDLK_i);
    for (int i = 0; i < 3; ++i) press(debrief, SDLK_b);
    press(debrief, SDLK_w);
    CHECK(words_of(scratch.path("journal")).find("watching") == std::string::npos);
}
