#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <filesystem>

#include "engine/files/file_error.hpp"
#include "engine/graded/regrade.hpp"
#include "tools/pk/commands.hpp"

/// Scoring a school's attempts anew.

namespace pk {

namespace fs = std::filesystem;

std::vector<fs::path> attempts_in(const std::vector<std::string>& places) {
    std::vector<fs::path> out;
    for (const std::string& place : places) {
        if (!fs::exists(place)) throw files::FileError(place, "", "missing", "an attempt, or a folder of attempts");
        if (!fs::is_directory(place)) {
            out.emplace_back(place);
            continue;
        }
        for (const auto& entry : fs::recursive_directory_iterator(place))
            if (entry.path().extension() == ".attempt") out.push_back(entry.path());
    }
    std::sort(out.begin(), out.end());
    out.erase(std::unique(out.begin(), out.end()), out.end());
    return out;
}

Run add_regrade(CLI::App& app) {
    struct Arguments {
        std::vector<std::string> places;
        std::string out;
        int jobs = 1;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command =
        app.add_subcommand("regrade", "score many attempts anew; a run that was stopped is gone on with");
    command->add_option("attempts", a->places, "attempts, or folders of them")->required();
    command->add_option("--out", a->out, "JSON Lines, one an attempt; appended to")->required();
    command->add_option("--jobs", a->jobs, "threads, 1 to 64")->check(CLI::Range(1, 64));
    return [a] {
        const auto start = std::chrono::steady_clock::now();
        const std::vector<fs::path> attempts = attempts_in(a->places);
        const graded::RegradeReport report =
            graded::regrade(attempts, a->out, a->jobs, [](std::size_t done, std::size_t all) {
                show_progress(static_cast<double>(done) / static_cast<double>(all), fmt::format("{} of {}", done, all));
            });
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
        fmt::print("{} scored, {} done before, {} not intact, {} unreadable; {:.1f} s on {} threads\n", report.done,
                   report.before, report.not_intact, report.unreadable, took.count(), a->jobs);
        return report.not_intact + report.unreadable == 0 ? 0 : 1;
    };
}

}  // namespace pk
