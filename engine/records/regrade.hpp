#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "engine/records/store.hpp"

/// Every attempt that is kept, scored anew by its own rubric and the version of the measures that it names.
///
/// A job is a name in the table of claims. Programs that work on one name, on one machine or many, share its attempts:
/// each is claimed by one of them for a while, and by another once that while is over without a result. What is kept of
/// an attempt is not changed: what differs is told.

namespace records {

struct RegradeSettings {
    std::string job;      ///< 1 to 200 bytes; the same name goes on with what was begun
    std::string program;  ///< which program scores, told with each result
    int jobs = 1;         ///< threads, 1 to 64; each has a connection of its own
    /// How long a claim of one attempt holds: longer than it takes, and than clocks of the machines differ. 1 to 86400.
    /// Assumed.
    std::int64_t lease_s = 120;
    StoreOptions store;  ///< of the connections
};

/// One attempt of a job.
struct Regraded {
    std::string attempt_id, content_hash, scenario, mode;
    bool finished = false;
    std::string program, kept_verdict, verdict;
    double kept_points = 0.0, kept_of = 0.0, points = 0.0, of = 0.0;
    std::vector<HeadingPoints> headings;   ///< as worked out now
    std::vector<std::string> differences;  ///< between what is kept and its file, in words
    std::string trouble;                   ///< why it could not be scored; then no figure of now means anything
    [[nodiscard]] bool same() const { return differences.empty() && trouble.empty(); }
    friend bool operator==(const Regraded&, const Regraded&) = default;
};

struct RegradeReport {
    std::int64_t all = 0;     ///< attempts of the job
    std::int64_t before = 0;  ///< done when this run began
    std::int64_t here = 0;    ///< scored by this run, and taken
    std::int64_t late = 0;    ///< scored by this run after the claim was over and another's result was taken
};

/// Work on a job until all of it is done, by this run or others; then its results can be read.
///
/// Attempts that were put in since, or went on, join the job. In memory are only the attempts that are being scored.
/// @param place    as of Store::open
/// @param actor    an instructor or a lead
/// @param progress told of attempts done by all and attempts of the job, from the calling thread; may be empty
/// @throws RecordsError; (bad_input) for settings outside their ranges
RegradeReport regrade(const std::string& place, const Actor& actor, const RegradeSettings& settings,
                      const std::function<void(std::int64_t done, std::int64_t all)>& progress = {});

/// Results of a job by attempt, a page at a time. @return how many
/// @throws RecordsError (damaged) for a result that is none
std::int64_t each_result(Store& store, const Actor& actor, const std::string& job,
                         const std::function<void(const Regraded&)>& each);

}  // namespace records
