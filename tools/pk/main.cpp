#include <fmt/format.h>

#include <exception>
#include <vector>

#include "engine/session/machine.hpp"
#include "engine/session/resimulate.hpp"
#include "tools/pk/commands.hpp"

namespace {

constexpr int kRefused = 1;
constexpr int kUsage = 2;

}  // namespace

int main(int argc, char** argv) {
    session::keep_freed_memory();
    CLI::App app{
        "pk: the desk tool of Planekeeper, a training simulator for thread placement.\n"
        "Training aid, not a medical device and not a plan for a real patient. A good score is not permission to "
        "treat.",
        "pk"};
    app.require_subcommand(1);
    app.set_version_flag("--version", session::program_version());
    const std::vector<std::pair<const char*, pk::Run>> commands{
        {"check", pk::add_check(app)},           {"rehearse", pk::add_rehearse(app)},
        {"score", pk::add_score(app)},           {"verify", pk::add_verify(app)},
        {"resimulate", pk::add_resimulate(app)}, {"compose", pk::add_compose(app)},
        {"report", pk::add_report(app)},         {"anatomy", pk::add_anatomy(app)},
        {"bench", pk::add_bench(app)},           {"tissue", pk::add_tissue(app)},
        {"performers", pk::add_performers(app)}, {"ultrasound", pk::add_ultrasound(app)},
        {"session", pk::add_session(app)},       {"case", pk::add_case(app)},
        {"regrade", pk::add_regrade(app)},       {"statistics", pk::add_statistics(app)},
        {"records", pk::add_records(app)},       {"ratings", pk::add_ratings(app)},
    };
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? 0 : kUsage;
    }
    try {
        for (const auto& [name, run] : commands)
            if (app.got_subcommand(name)) return run();
    } catch (const std::exception& error) {
        // every refusal of files and sim ends here with its file, place, value and what is accepted
        fmt::print(stderr, "pk: {}\n", error.what());
        return kRefused;
    }
    return kUsage;
}
