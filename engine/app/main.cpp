#include <CLI/CLI.hpp>
#include <cstdio>
#include <cstdlib>

#include "engine/app/app.hpp"
#include "engine/app/settings.hpp"
#include "engine/language/language.hpp"
#include "engine/language/words.hpp"
#include "engine/session/machine.hpp"

namespace {

constexpr int kDone = 0, kRefused = 1, kUsage = 2;

/// "1280x720"
bool read_size(const std::string& text, app::Options& options) {
    char beyond = 0;
    return std::sscanf(text.c_str(), "%dx%d%c", &options.width, &options.height, &beyond) == 2 &&
           options.width >= 640 && options.width <= 7680 && options.height >= 400 && options.height <= 4320;
}

}  // namespace

int main(int argc, char** argv) {
    session::keep_freed_memory();
    app::Options options;
    std::string size = "1280x720", mode, data, posture, words;
    double at_s = -1.0;
    int turn_degrees = 0;
    CLI::App cli{"Planekeeper: practise placing barbed lifting threads. A training aid, not a medical device."};
    cli.add_option("--scenario", options.scenario, "start with this drill or case");
    cli.add_option("--learner", options.learner, "who works, by name; who worked last when not given");
    cli.add_option("--variant", options.variant, "anatomy of --scenario, by the number that a debrief told");
    cli.add_option("--replay", options.replay, "show a recorded attempt");
    cli.add_option("--session", options.session, "take in this bundle of a graded session, and show it");
    cli.add_option("--rate", options.rate, "rate the attempts in this folder, blind to name and score");
    cli.add_option("--author", options.author, "write this case of your own; begun like --scenario where it is new");
    cli.add_option("--observe", options.observe,
                   "look on at what trainers write in this data folder, or in those it holds")
        ->check(CLI::ExistingDirectory);
    cli.add_option("--records", options.records,
                   "how a cohort stands, from a school's records: a file or postgresql://...");
    cli.add_option("--picture", options.picture, "write a still to this PNG file and end");
    cli.add_option("--screen", options.screen, "screen of the still")
        ->check(CLI::IsMember({"start", "past", "settings", "progress", "learners", "sessions", "rating", "observing",
                               "cohort", "practice", "score"}));
    cli.add_option("--view", options.view, "camera of the still")->check(CLI::IsMember({"work", "whole"}));
    cli.add_option("--portrait", options.portrait, "still of this patient alone");
    cli.add_option("--azimuth", options.azimuth_deg, "camera of the portrait, degrees; of other stills so far round");
    cli.add_option("--elevation", options.elevation_deg, "camera of a practice still so much higher, degrees");
    cli.add_option("--loss", options.loss, "debrief still: this line of the list is selected");
    cli.add_option("--page", options.page, "debrief still: page, 0 to 7; of --author: its part, 1 to 12")
        ->check(CLI::Range(0, 12));
    cli.add_option("--layers", options.layers,
                   "debrief still: 0 full, 1 half, 2 off for each layer from the skin down");
    cli.add_option("--beside", options.beside, "debrief still: 1 moved paths, 2 reference, 3 an earlier attempt")
        ->check(CLI::Range(0, 3));
    cli.add_flag("--vessels", options.vessels, "show vessels and nerves in the still");
    cli.add_option("--over", options.over, "for --picture: what lies over the tray: section, probe or settings")
        ->check(CLI::IsMember({"section", "probe", "settings"}));
    cli.add_option("--script", options.script, "hands for --picture and --frames");
    cli.add_option("--at", at_s, "moment of the script, or of the replay, in seconds")->check(CLI::NonNegativeNumber);
    cli.add_option("--size", size, "of the window: WIDTHxHEIGHT");
    cli.add_option("--text", options.text_percent, "size of text and controls in percent")->check(CLI::Range(100, 200));
    cli.add_option("--mode", mode, "of practice")->check(CLI::IsMember({"coached", "solo", "graded"}));
    cli.add_option("--language", words, "of the words; otherwise as it is set")
        ->check(CLI::IsMember(std::vector<std::string>(language::kChoices.begin(), language::kChoices.end())));
    cli.add_option("--posture", posture, "of the patient in --picture and --frames, once the tissue is there")
        ->check(CLI::IsMember({"upright", "reclined", "lying"}));
    cli.add_option("--turn", turn_degrees, "of the head in such a picture, degrees, > 0 to the patient's left")
        ->check(CLI::Range(-session::kMostTurnDegrees, session::kMostTurnDegrees));
    cli.add_flag("--final-shape", options.final_shape,
                 "wait until the skin of a practice still lies in its final shape");
    cli.add_option("--data", data, "folder with assets and scenarios");
    cli.add_option("--journal", options.journal, "write what happens to this file");
    cli.add_option("--frames", options.frames, "bench: draw so many frames, print their times as JSON")
        ->check(CLI::Range(1, 100000));
    cli.add_flag("--busy", options.busy, "bench: while a worker computes");
    cli.add_flag("--latency", options.latency, "bench: also from an event to its picture");
    cli.add_option("--quality", options.quality, "hold this step of drawing, 0 best; otherwise frame times choose")
        ->check(CLI::Range(0, view::kQualitySteps - 1));
    try {
        cli.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return cli.exit(error) == 0 ? kDone : kUsage;
    }
    if (!read_size(size, options)) {
        std::fprintf(stderr, "--size: %s is not accepted; accepted: WIDTHxHEIGHT, 640x400 to 7680x4320\n",
                     size.c_str());
        return kUsage;
    }
    if (!data.empty()) setenv("PLANEKEEPER_HOME", data.c_str(), 1);
    if (at_s >= 0.0) options.at_s = at_s;
    if (!mode.empty())
        options.mode = mode == "graded" ? sim::PracticeMode::graded
                       : mode == "solo" ? sim::PracticeMode::solo
                                        : sim::PracticeMode::coached;
    if (!posture.empty() || turn_degrees != 0)
        options.position = session::Position(posture == "lying"      ? session::Posture::lying
                                             : posture == "reclined" ? session::Posture::reclined
                                                                     : session::Posture::upright,
                                             turn_degrees);
    const bool still = !options.picture.empty() || options.frames > 0;
    // a picture needs no display; a window that nobody sees would only run on
    if (std::getenv("DISPLAY") == nullptr && std::getenv("WAYLAND_DISPLAY") == nullptr) {
        if (still) {
            setenv("SDL_VIDEODRIVER", "offscreen", 0);
        } else if (std::getenv("SDL_VIDEODRIVER") == nullptr) {
            std::fprintf(stderr,
                         "planekeeper: no display: neither DISPLAY nor WAYLAND_DISPLAY is set. Without one, --picture "
                         "makes stills, and pk plays, scores and prints attempts.\n");
            return kRefused;
        }
    }
    options.language = words;
    if (words.empty()) words = app::SettingsKeeper(app::settings_file()).now().language;
    if (const std::string trouble = language::choose(words); !trouble.empty())
        std::fprintf(stderr, "planekeeper: %s. Words are in English.\n", trouble.c_str());
    try {
        app::App app(options);
        if (options.frames > 0) return app.bench();
        if (options.picture.empty()) return app.run();
        const int done = app.picture();
        for (const std::string& missed : language::missed())
            std::fprintf(stderr, "not translated: %s\n", missed.c_str());
        return done;
    } catch (const std::exception& error) {
        std::fprintf(stderr, "planekeeper: %s\n", error.what());
        return kRefused;
    }
}
