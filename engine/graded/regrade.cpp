#include "engine/graded/regrade.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <fstream>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <thread>

#include "engine/files/attempt_score.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "sim/core/errors.hpp"

namespace graded {

namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr int kMostJobs = 64;

/// Hash of each file whose line is whole; the rest of the output is cut off.
std::map<std::string, std::string> done_before(const fs::path& output) {
    std::map<std::string, std::string> done;
    if (!fs::exists(output)) return done;
    std::ifstream in(output, std::ios::binary);
    std::uintmax_t whole = 0;
    for (std::string line; std::getline(in, line) && !in.eof();) {
        const json row = json::parse(line, nullptr, false);
        const bool good = row.is_object() && row.contains("file") && row["file"].is_string() &&
                          row.contains("sha256") && row["sha256"].is_string();
        if (!good)
            throw files::FileError(output.string(), "byte " + std::to_string(whole), line.substr(0, 80),
                                   "lines of an earlier run of pk regrade, or a new file");
        done[row["file"]] = row["sha256"];
        whole += line.size() + 1;
    }
    std::error_code error;
    fs::resize_file(output, whole, error);
    if (error) throw files::FileError(output.string(), "", error.message(), "a file that can be written");
    return done;
}

json scored(const files::LoadedAttempt& attempt, const std::string& file) {
    const sim::Score score = files::score_of(attempt, file);
    json headings = json::object();
    for (const files::MeasuredHeading& one : files::measured_headings(score))
        headings[std::string(one.heading)] = {one.points, one.of};
    return {{"attempt", attempt.header.attempt_id},
            {"scenario", attempt.header.scenario.id},
            {"mode", sim::name_of(attempt.header.mode)},
            {"variant_seed", attempt.header.variant_seed},
            {"key", files::hex(attempt.header.public_key)},
            {"started_at", attempt.header.started_at},
            {"record", attempt.report.verdict()},
            {"verdict", sim::name_of(score.verdict)},
            {"points", score.total_points},
            {"of", score.total_of},
            {"headings", headings}};
}

class Regrading {
 public:
    Regrading(const std::vector<fs::path>& attempts, const fs::path& output,
              const std::function<void(std::size_t, std::size_t)>& progress)
        : attempts_(attempts), output_(output), progress_(progress), before_(done_before(output)) {
        file_ = files::Descriptor(::open(output.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644));
        if (!file_.open())
            throw files::FileError(output.string(), "", files::words_of_errno(errno), "a file that can be written");
    }

    /// Take one file after the other until none is left or the output cannot be written.
    void work() {
        for (std::size_t i = next_++; i < attempts_.size() && !failed(); i = next_++) finish(row_of(attempts_[i]));
    }

    [[nodiscard]] RegradeReport report() const {
        if (error_ != 0)
            throw files::FileError(output_.string(), "", files::words_of_errno(error_), "a file that can be written");
        return report_;
    }

 private:
    struct Row {
        std::optional<json> line;  ///< nothing: it stands there already
        bool intact = true, readable = true;
    };

    [[nodiscard]] Row row_of(const fs::path& path) const {
        const std::string file = path.string();
        Row out;
        json line;
        std::string hash;
        try {
            hash = files::hex(files::sha256(files::read_bytes(path, files::kAttemptBytes)));
            const auto before = before_.find(file);
            if (before != before_.end() && before->second == hash) return out;
            const files::LoadedAttempt attempt = files::read_attempt(path);
            out.intact = attempt.report.intact();
            line = scored(attempt, file);
        } catch (const std::exception& error) {
            out.readable = false;
            line = {{"trouble", error.what()}};
        }
        line["file"] = file;
        line["sha256"] = hash;
        out.line = std::move(line);
        return out;
    }

    void finish(const Row& row) {
        const std::string text =
            row.line ? row.line->dump(-1, ' ', false, json::error_handler_t::replace) + "\n" : std::string();
        const std::lock_guard lock(mutex_);
        if (row.line) {
            if (error_ == 0) error_ = files::write_all(file_.number(), text);
            ++report_.done;
            report_.not_intact += row.readable && !row.intact ? 1 : 0;
            report_.unreadable += row.readable ? 0 : 1;
        } else {
            ++report_.before;
        }
        if (progress_) progress_(report_.done + report_.before, attempts_.size());
    }

    [[nodiscard]] bool failed() {
        const std::lock_guard lock(mutex_);
        return error_ != 0;
    }

    const std::vector<fs::path>& attempts_;
    const fs::path& output_;
    const std::function<void(std::size_t, std::size_t)>& progress_;
    const std::map<std::string, std::string> before_;
    files::Descriptor file_;
    std::atomic<std::size_t> next_{0};
    std::mutex mutex_;
    RegradeReport report_;
    int error_ = 0;
};

}  // namespace

RegradeReport regrade(const std::vector<fs::path>& attempts, const fs::path& output, int jobs,
                      const std::function<void(std::size_t, std::size_t)>& progress) {
    if (jobs < 1 || jobs > kMostJobs) throw sim::InputError("jobs", jobs, "1 to " + std::to_string(kMostJobs));
    Regrading all(attempts, output, progress);
    std::vector<std::thread> others;
    for (int i = 1; i < jobs; ++i) others.emplace_back([&all] { all.work(); });
    all.work();
    for (std::thread& one : others) one.join();
    return all.report();
}

}  // namespace graded
