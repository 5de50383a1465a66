#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "engine/app/ui.hpp"
#include "engine/files/station_folders.hpp"
#include "engine/session/attempt_follower.hpp"
#include "sim/scenario.hpp"

/// Who works on what, at the stations whose folders are looked into: read again and again on a thread of its own.

namespace app {

/// A learner at a station, and the attempt that was written last.
struct ObservedRow {
    std::filesystem::path file;
    std::string station;  ///< name of its folder; empty where there is one only
    std::string learner;  ///< name, or the beginning of the key where no list tells it
    std::string title;
    std::string started_at;  ///< "2026-03-01T10:15:00Z"
    sim::PracticeMode mode = sim::PracticeMode::coached;
    std::int64_t steps = 0;
    std::string last;  ///< what happened last, in words; empty: nothing yet
    session::Standing standing = session::Standing::stopped;
    bool finished = false;  ///< ended by whoever made it, not given up
    std::string trouble;    ///< why it is not read any further, with the file's name
    bool refused = false;   ///< graded, not finished, and this account's own: nobody looks over their own shoulder
};

struct ObservedRows {
    bool read = false;                 ///< the folder has been looked through at least once
    std::vector<ObservedRow> rows;     ///< live ones first, then by station and learner
    std::vector<std::string> trouble;  ///< files that are no attempts, and what else cannot be read
};

/// Reads a folder once. Keeps what it has read, so that the next time only what was appended is read.
class ObservedReader {
 public:
    /// @param own data folder of whoever runs this program
    ObservedReader(std::filesystem::path folder, const std::filesystem::path& own);
    /// @param stop asked between files
    [[nodiscard]] ObservedRows read(const std::function<bool()>& stop = {});

 private:
    struct Known {
        files::PublicKey key{};
        std::filesystem::file_time_type written;
        std::optional<files::AttemptTail> tail;  ///< while it is the newest of its learner
        std::string trouble;                     ///< not empty: no header
        bool seen = false;
    };
    void look_at(const files::FoundAttempt& found);
    [[nodiscard]] ObservedRow row_of(const files::FoundAttempt& found, Known& known) const;

    std::filesystem::path folder_, own_;
    std::map<std::filesystem::path, Known> known_;
    std::map<files::PublicKey, std::string> names_;  ///< of learners, by the key of attempts in their folders
};

class ObservedList {
 public:
    explicit ObservedList(const std::filesystem::path& folder);
    ~ObservedList();
    ObservedList(const ObservedList&) = delete;
    ObservedList& operator=(const ObservedList&) = delete;

    [[nodiscard]] ObservedRows rows() const;
    /// Grows each time that the folder has been looked through.
    [[nodiscard]] std::size_t looks() const;

 private:
    struct Shared;
    std::shared_ptr<Shared> shared_;
    std::thread thread_;
};

struct ObservedView {
    const std::filesystem::path& folder;
    const ObservedRows& rows;
    const std::string& trouble;  ///< why the last one could not be shown
};
struct ObservedChoice {
    bool back = false;
    std::optional<std::size_t> watch;  ///< a row
};
[[nodiscard]] ObservedChoice draw_observed(Ui& ui, const ObservedView& view);

/// "live", "stopped", "finished", "given up".
[[nodiscard]] const char* standing_words(session::Standing standing, bool finished);
[[nodiscard]] Mark mark_of(session::Standing standing);

}  // namespace app
