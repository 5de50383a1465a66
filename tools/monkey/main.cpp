#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <set>

#include "tools/monkey/habits.hpp"

/// Random valid input to the real trainer on a display, from a seed; every deed is listed, so that a run can be
/// repeated. Ends with status 1 on a crash, a sanitizer's report, 20 s without a frame, a trainer that ends on its own,
/// text without room, or a record that pk verify does not accept.

namespace {

struct Options {
    std::string program, pk, folder, repeat;
    double minutes = 1.0;
    int kills = 0;
    std::uint64_t seed = 1;
};

/// The same deeds at the same times.
void repeat(monkey::Room& room, const std::string& list) {
    std::ifstream in(list);
    if (!in) throw std::runtime_error(list + ": no such list of deeds");
    for (std::string line; std::getline(in, line);) {
        const auto timed = monkey::read_line(line);
        if (!timed) throw std::runtime_error(list + ": not a deed: " + line);
        if (const long early_ms = timed->ms - room.ms(); early_ms > 0 && room.starts() > 0)
            room.wait(static_cast<int>(early_ms));
        if (timed->deed.what == monkey::Do::start)
            room.start(timed->deed.word);
        else if (timed->deed.what == monkey::Do::close)
            room.close();
        else if (timed->deed.what == monkey::Do::kill)
            room.kill();
        else
            room.act(timed->deed);
    }
}

/// @return what is wrong with a record, empty when nothing is. `kept` counts those that are well
std::string verify_all(const Options& options, const std::filesystem::path& attempts, int& finished, int& unfinished) {
    std::set<std::filesystem::path> files;
    std::error_code none;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(attempts, none))
        if (entry.path().extension() == ".attempt") files.insert(entry.path());
    for (const auto& file : files) {
        std::string words;
        const int status = monkey::run_program({options.pk, "verify", file.string()}, words);
        if (status != 0) return fmt::format("pk verify ends with status {}: {}", status, words);
        (words.find("intact, finished") != std::string::npos ? finished : unfinished) += 1;
    }
    return "";
}

void tell(const monkey::Room& room, const monkey::Habits& habits) {
    fmt::print("{} deeds in {:.1f} minutes, {} starts, {} frames\n", room.deeds(),
               static_cast<double>(room.ms()) / 60'000.0, room.starts(), room.frames());
    for (const auto& [what, count] : room.seen().counts()) fmt::print("  {:5} {}\n", count, what);
    fmt::print("  {} controls and places clicked:", habits.clicked().size());
    for (const auto& [name, count] : habits.clicked()) fmt::print(" {}={}", name, count);
    fmt::print("\n");
}

int run(const Options& options) {
    const std::filesystem::path folder =
        std::filesystem::absolute(options.folder);  // what the standard asks of its places
    std::filesystem::create_directories(folder);
    // its own data and settings; the cache may be shared
    setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
    setenv("XDG_CONFIG_HOME", (folder / "config").c_str(), 1);
    const std::filesystem::path attempts = folder / "data/planekeeper/attempts";
    monkey::Room room(options.program, folder);
    monkey::Habits habits(room, options.seed, attempts);
    std::string wrong;
    try {
        if (options.repeat.empty()) {
            habits.begin();
            while (options.kills > 0 && habits.gone_on() < options.kills) habits.until_killed();
            while (options.kills == 0 && static_cast<double>(room.ms()) < options.minutes * 60'000.0) habits.once();
            room.close();
        } else {
            repeat(room, options.repeat);
        }
    } catch (const monkey::Fault& fault) {
        wrong = fault.what();
    }
    tell(room, habits);
    int finished = 0, unfinished = 0;
    // those of other learners that it has made lie below
    const std::string record = verify_all(options, folder / "data/planekeeper", finished, unfinished);
    fmt::print("{} attempts were killed and gone on with\n", habits.gone_on());
    fmt::print("{} attempts kept: {} finished, {} not finished\n", finished + unfinished, finished, unfinished);
    if (wrong.empty()) wrong = record;
    for (const std::string& misfit : room.seen().misfits()) fmt::print("misfit on {}\n", misfit);
    if (wrong.empty() && !room.seen().misfits().empty()) wrong = "text found too little room";
    if (wrong.empty()) return 0;
    fmt::print("FAULT after {} deeds, {} ms: {}\nrepeat it with --repeat {}; see {} and {}\n", room.deeds(), room.ms(),
               wrong, (folder / "deeds.txt").string(), room.errors().string(), room.journal().string());
    return 1;
}

}  // namespace

int main(int argc, char** argv) {
    Options options;
    CLI::App cli{"Random valid input to the trainer on the display that DISPLAY names."};
    cli.add_option("program", options.program, "the trainer")->required()->check(CLI::ExistingFile);
    cli.add_option("pk", options.pk, "the desk tool")->required()->check(CLI::ExistingFile);
    cli.add_option("folder", options.folder, "for deeds, journals, errors, attempts and settings")->required();
    cli.add_option("--minutes", options.minutes)->check(CLI::PositiveNumber);
    cli.add_option("--kills", options.kills,
                   "in place of minutes: end after so many attempts were killed and gone on with");
    cli.add_option("--seed", options.seed);
    cli.add_option("--repeat", options.repeat, "send the deeds of this list again");
    CLI11_PARSE(cli, argc, argv);
    std::setvbuf(stdout, nullptr, _IOLBF, 0);
    try {
        return run(options);
    } catch (const std::exception& error) {
        fmt::print(stderr, "monkey: {}\n", error.what());
        return 2;
    }
}
