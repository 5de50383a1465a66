#pragma once

#include <CLI/CLI.hpp>
#include <functional>

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

/// A line of progress on standard error while a patient is built, when that is a terminal.
void show_progress(double fraction, std::string_view what);

}  // namespace pk
