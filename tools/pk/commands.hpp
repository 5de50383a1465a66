#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

/// The commands of pk. Each adds itself to the parser and returns what to run when it was chosen: 0 done, 1 refused or
/// failed a check. Wrong usage is the parser's, 2.

namespace pk {

using Run = std::function<int()>;

Run add_check(CLI::App& app);
Run add_rehearse(CLI::App& app);
Run add_score(CLI::App& app);
Run add_verify(CLI::App& app);
Run add_resimulate(CLI::App& app);
Run add_report(CLI::App& app);
Run add_anatomy(CLI::App& app);
Run add_bench(CLI::App& app);
Run add_compose(CLI::App& app);
Run add_performers(CLI::App& app);
Run add_case(CLI::App& app);
Run add_regrade(CLI::App& app);
Run add_session(CLI::App& app);
Run add_tissue(CLI::App& app);
Run add_ultrasound(CLI::App& app);
Run add_statistics(CLI::App& app);
Run add_records(CLI::App& app);
Run add_ratings(CLI::App& app);

/// Attempts among files and folders, folders through and through; each once, in alphabetical order.
/// @throws files::FileError for a place that is not there
[[nodiscard]] std::vector<std::filesystem::path> attempts_in(const std::vector<std::string>& places);

/// A line of progress on standard error while a patient is built, when that is a terminal.
void show_progress(double fraction, std::string_view what);

}  // namespace pk
