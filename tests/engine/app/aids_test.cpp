#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <glad/gl.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>

#include "engine/app/instruments.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/screens.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "tests/support/offscreen_window.hpp"
#include "tests/support/scratch.hpp"

/// What a scenario allows of aids is what a learner gets, at the start, by key and on the screen.

namespace {

using sim::PracticeMode;
using Names = std::vector<std::string>;

constexpr int kWidth = 1280, kHeight = 720;
constexpr double kFrameS = 1.0 / 60.0;
const std::vector<app::Key> kAidKeys{SDLK_t, SDLK_c, SDLK_v, SDLK_b, SDLK_n, SDLK_i};  // in the order of files::Aid

/// The flat drill with these aids, as a file of its own. @param aids nothing: says nothing of them
std::filesystem::path drill_with(const support::Scratch& scratch, const std::optional<Names>& aids) {
    auto scenario = nlohmann::json::parse(files::read_bytes(files::find_scenario("hold_the_plane"), 1u << 20));
    if (aids) scenario["aids"] = *aids;
    std::filesystem::create_directories(scratch.folder() / "drills");
    const std::filesystem::path file = scratch.folder() / "drills/some_aids.json";
    std::ofstream(file) << scenario.dump();
    return file;
}

/// An attempt at it in the window, prepared as the trainer does.
struct Attempt {
    support::Scratch scratch;
    app::Journal journal{""};
    app::Practice practice;

    Attempt(const std::optional<Names>& aids, PracticeMode mode, const app::Coaching& coaching = {})
        : practice(app::Library().prepare(drill_with(scratch, aids).string(), false, mode, {}, [](double, auto) {}),
                   app::load_instruments(files::shipped_folder() / "assets/instruments").models, mode, coaching,
                   app::Settings{}, journal) {}

    void press(app::Key key) {
        app::Input input;
        input.keys_pressed = {key};
        practice.handle(input, false, false);
        practice.advance(kFrameS, {});
    }
    /// So far that the instrument lies in the tissue.
    void play_half() {
        const files::Script hands = files::load_script(files::find_script("hold_the_plane.capable"));
        practice.play(hands.commands, hands.steps / 2);
        REQUIRE(practice.session().state().inserted_m > 0.0);
    }
    /// Aids by number and whether they were then shown, as the record has them.
    [[nodiscard]] std::vector<std::pair<int, bool>> told() const {
        std::vector<std::pair<int, bool>> out;
        for (const sim::Event& event : practice.session().recording().events)
            if (event.kind == sim::EventKind::aid_used) out.emplace_back(event.subject, event.value[0] > 0.0);
        return out;
    }
};

/// What is drawn below the band, which names the mode.
std::vector<std::uint8_t> screen_of(app::Ui& ui, app::Practice& practice) {
    static const app::Input kNothing{};
    for (int i = 0; i < 3; ++i) {  // lists settle
        glBindFramebuffer(GL_FRAMEBUFFER, 0);
        glViewport(0, 0, kWidth, kHeight);
        glClearColor(0.5f, 0.5f, 0.5f, 1.0f);
        glClear(GL_COLOR_BUFFER_BIT);
        ui.begin(kWidth, kHeight, kNothing);
        practice.draw_screen(ui);
        ui.end();
    }
    CHECK(ui.misfits().empty());
    const auto band = static_cast<std::ptrdiff_t>(app::band_height(ui));
    const gl::Picture picture = gl::read_picture(kWidth, kHeight);
    return {picture.rgb.begin() + 3 * kWidth * band, picture.rgb.end()};
}

Names chips_of(const app::Ui& ui) {
    Names out;
    for (const app::Place& place : ui.places())
        if (place.name.starts_with("aid.")) out.push_back(place.name);
    return out;
}

}  // namespace

TEST_CASE("a key shows an aid that the scenario allows, and no other", "[app][aids]") {
    Attempt few({{"force", "structures"}}, PracticeMode::solo);
    for (const app::Key key : kAidKeys) few.press(key);
    CHECK(few.told() == std::vector<std::pair<int, bool>>{{files::kAidVessels, true}, {files::kAidForce, true}});

    Attempt none(Names{}, PracticeMode::solo);
    for (const app::Key key : kAidKeys) none.press(key);
    CHECK(none.told().empty());

    Attempt unsaid(std::nullopt, PracticeMode::solo);
    for (const app::Key key : kAidKeys) unsaid.press(key);
    CHECK(unsaid.told().size() == kAidKeys.size());
}

TEST_CASE("coached practice begins with those of its aids that the scenario allows", "[app][aids]") {
    Attempt few({{"depth trace", "force"}}, PracticeMode::coached);
    CHECK(few.told().empty());
    CHECK(few.practice.depth_told());
    // on before: a press puts them away
    few.press(SDLK_t);
    few.press(SDLK_b);
    CHECK(few.told() == std::vector<std::pair<int, bool>>{{files::kAidTrace, false}, {files::kAidForce, false}});

    Attempt others({{"force"}}, PracticeMode::coached);
    CHECK_FALSE(others.practice.depth_told());
}

TEST_CASE("coaching that fades puts away what was on, and does not show what the scenario does not allow",
          "[app][aids]") {
    constexpr app::Coaching kFaded{false, false, false};
    Attempt few({{"cut-away", "force"}}, PracticeMode::coached, kFaded);
    few.practice.advance(kFrameS, {});
    CHECK(few.told() == std::vector<std::pair<int, bool>>{{files::kAidCutaway, false}});
    CHECK_FALSE(few.practice.depth_told());
}

TEST_CASE("an attempt that is gone on with shows no aid that the scenario does not allow, whatever its record tells",
          "[app][aids]") {
    const auto again_told = [](const Names& aids) {
        const support::Scratch scratch;
        const auto scenario = drill_with(scratch, aids);
        const session::Prepared ready = session::prepare(scenario.string(), std::nullopt, {});
        const std::filesystem::path file = scratch.path("stopped.attempt");
        const auto recorder = std::make_shared<session::AttemptRecorder>(
            files::AttemptWriter(file, session::header_of(ready, PracticeMode::solo), files::new_key_pair()));
        {
            session::Session live(ready.model, {PracticeMode::solo, recorder, nullptr});
            live.send({sim::Verb::aid, {files::kAidTrace, 1, 0}});
            REQUIRE(live.advance(10) == 10);
        }
        REQUIRE(recorder->park());
        app::Prepared prepared =
            app::Library().prepare(scenario.string(), false, PracticeMode::solo, {}, [](double, auto) {});
        prepared.before = session::open_attempt(file);
        app::Journal journal("");
        const app::Practice practice(std::move(prepared),
                                     app::load_instruments(files::shipped_folder() / "assets/instruments").models,
                                     PracticeMode::solo, app::Coaching{}, app::Settings{}, journal);
        REQUIRE(practice.session().state().step == 10);
        return practice.depth_told();
    };
    CHECK(again_told({"depth trace"}));
    CHECK_FALSE(again_told({"force"}));
}

TEST_CASE("chips of aids are those that the scenario allows", "[app][aids][gl]") {
    const auto window = support::window_if_any(kWidth, kHeight);
    if (!window) return;
    app::Ui ui(files::shipped_folder() / "assets/fonts.json", true);
    const auto chips = [&](const std::optional<Names>& aids, float text_scale) {
        Attempt attempt(aids, PracticeMode::coached);
        ui.set_text_scale(text_scale);
        static_cast<void>(screen_of(ui, attempt.practice));
        return chips_of(ui);
    };
    CHECK(chips(std::nullopt, 1.0f).size() == 6);
    CHECK(chips(Names{"section", "cut-away"}, 1.0f) == Names{"aid.cutaway", "aid.section"});
    CHECK(chips(Names{}, 1.0f).empty());
    // where there is little room they are folded away, if there are any
    CHECK(chips(Names{"force"}, 2.0f) == Names{"aid.fold"});
    CHECK(chips(Names{}, 2.0f).empty());
}

TEST_CASE("where a scenario allows no aids, coached practice shows what solo practice shows without them",
          "[app][aids][gl]") {
    const auto window = support::window_if_any(kWidth, kHeight);
    if (!window) return;
    app::Ui ui(files::shipped_folder() / "assets/fonts.json", true);
    const auto halfway = [&](const std::optional<Names>& aids, PracticeMode mode) {
        Attempt attempt(aids, mode);
        attempt.play_half();
        const bool cut = attempt.practice.draw_list(1.5).cut.has_value();
        return std::pair{cut, screen_of(ui, attempt.practice)};
    };
    const auto plain = halfway(Names{}, PracticeMode::solo);
    CHECK_FALSE(plain.first);
    CHECK(halfway(Names{}, PracticeMode::coached) == plain);
    // each of those that coaching begins with shows by itself
    for (const char* one : {"depth trace", "force", "advice"}) {
        INFO(one);
        CHECK(halfway(Names{one}, PracticeMode::coached).second != halfway(Names{one}, PracticeMode::solo).second);
    }
    CHECK(halfway(Names{"cut-away"}, PracticeMode::coached).first);
}

TEST_CASE("the force alone tells no depth", "[app][aids][gl]") {
    const auto window = support::window_if_any(kWidth, kHeight);
    if (!window) return;
    app::Ui ui(files::shipped_folder() / "assets/fonts.json", true);
    const auto panel = [&](const Names& aids) {
        Attempt attempt(aids, PracticeMode::coached);
        attempt.play_half();
        static_cast<void>(screen_of(ui, attempt.practice));
        const bool numbers = std::any_of(ui.places().begin(), ui.places().end(),
                                         [](const app::Place& place) { return place.name == "trace.numbers"; });
        return std::pair{attempt.practice.patient_rect(ui).h, numbers};
    };
    const auto with_depth = panel({"depth trace", "force"}), with_force = panel({"force"}), without = panel({});
    CHECK(with_depth.second);
    CHECK(with_force.first == with_depth.first);  // the curve has the panel to itself
    CHECK_FALSE(with_force.second);
    CHECK(without.first > with_force.first);
    CHECK_FALSE(without.second);
}
