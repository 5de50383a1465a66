#pragma once

#include <array>
#include <atomic>
#include <condition_variable>
#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "sim/scoring/rubric.hpp"

/// The attempts that this user has kept, read and scored on a thread of their own.

namespace app {

/// One file of the attempts folder.
struct PastAttempt {
    std::filesystem::path file;
    std::string scenario, title;
    std::string started_at;  ///< "2026-03-01T10:15:00Z"
    sim::PracticeMode mode = sim::PracticeMode::coached;
    bool finished = false;
    bool passed = false;
    bool incomplete = false;  ///< ended by hand before the planned pass was made
    double points = 0.0, of = 0.0;
    std::array<double, sim::kHeadings> heading_points{}, heading_of{};  ///< of = 0: not measured
    std::array<bool, sim::kDevices> devices{};                          ///< what the hands were moved with
    int aids_asked = 0;                                                 ///< times that an aid was asked for
    std::uint64_t variant_seed = 0;
    std::string trouble;  ///< not empty: it cannot be shown, and why
};

/// It was stopped in the middle, by leaving, closing the window or a machine that went off.
[[nodiscard]] inline bool can_go_on(const PastAttempt& attempt) { return attempt.trouble.empty() && !attempt.finished; }

/// It can be looked at. Graded work is shown only at its end: what stopped can still be gone on with.
[[nodiscard]] inline bool may_be_shown(const PastAttempt& attempt) {
    return attempt.trouble.empty() && (attempt.finished || attempt.mode != sim::PracticeMode::graded);
}

/// Last and best of one scenario's finished attempts.
struct Standing {
    std::optional<PastAttempt> last, best;
};

/// "Passed: 46 of 55", "Not finished: 24 of 55".
[[nodiscard]] std::string result_words(const PastAttempt& attempt);

class AttemptShelf {
 public:
    /// @param folder need not be there
    AttemptShelf(std::filesystem::path folder, std::filesystem::path ledger);
    ~AttemptShelf();
    AttemptShelf(const AttemptShelf&) = delete;
    AttemptShelf& operator=(const AttemptShelf&) = delete;

    /// Look at the folder again. Files that have not changed are not read again.
    void refresh();
    void wait();  ///< until the last refresh is through

    [[nodiscard]] bool reading() const;
    [[nodiscard]] std::vector<PastAttempt> attempts() const;  ///< newest first, those that cannot be read last
    /// Counts what attempts() would list anew: grows with each change.
    [[nodiscard]] std::size_t changes() const { return changes_; }

 private:
    struct Known {
        std::filesystem::file_time_type written;
        std::uintmax_t bytes = 0;
        PastAttempt attempt;
    };
    void work();
    void read_folder();

    std::filesystem::path folder_, ledger_;
    mutable std::mutex mutex_;
    std::condition_variable wake_, idle_;
    std::map<std::filesystem::path, Known> known_;  ///< of the thread
    std::vector<PastAttempt> list_;
    bool asked_ = false, busy_ = false;
    std::atomic<bool> stop_ = false;
    std::atomic<std::size_t> changes_ = 0;
    std::thread thread_;  ///< last: starts when everything above is there
};

/// Read and score one file; what is wrong with it goes to `trouble`.
[[nodiscard]] PastAttempt read_past_attempt(const std::filesystem::path& file, const std::filesystem::path& ledger);

[[nodiscard]] Standing standing_of(const std::vector<PastAttempt>& attempts, const std::string& scenario);

/// "1 Mar 2026, 10:15" in this machine's time; empty for what is no time.
[[nodiscard]] std::string when_words(const std::string& started_at);

}  // namespace app
