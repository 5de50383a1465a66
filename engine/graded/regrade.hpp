#pragma once

#include <cstddef>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

/// Scoring many attempts anew, on as many threads as are asked for, in memory that does not grow with their number.

namespace graded {

struct RegradeReport {
    std::size_t done = 0;        ///< scored now
    std::size_t before = 0;      ///< found done already in the output
    std::size_t not_intact = 0;  ///< of those done now: scored as far as the record holds, and marked
    std::size_t unreadable = 0;  ///< of those done now: their line says why
};

/// Score each attempt by its own rubric and by the version of the measures that it names. One line of JSON each is
/// appended to the output when it is done, in the order in which they are: file, sha256 of its bytes, attempt,
/// scenario, mode, anatomy, key, beginning, verdict, points, points by heading, or why it cannot be read.
///
/// A run that was stopped is gone on with by the same call: files whose line stands in the output with the same hash
/// are left alone, a torn last line is cut off.
/// @param jobs 1 to 64 threads @param progress told after each, from one thread at a time; may be empty
/// @throws files::FileError where the output cannot be read or written; sim::InputError for a number of jobs
RegradeReport regrade(const std::vector<std::filesystem::path>& attempts, const std::filesystem::path& output, int jobs,
                      const std::function<void(std::size_t done, std::size_t all)>& progress = {});

}  // namespace graded
