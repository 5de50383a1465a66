#include "engine/app/attempt_shelf.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <ctime>
#include <system_error>

#include "engine/files/attempt.hpp"
#include "engine/files/attempt_uses.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/rubric.hpp"

namespace app {

namespace fs = std::filesystem;

namespace {

bool newer(const PastAttempt& a, const PastAttempt& b) {
    if (a.trouble.empty() != b.trouble.empty()) return a.trouble.empty();
    return a.started_at != b.started_at ? a.started_at > b.started_at : a.file > b.file;
}

/// What is wrong in one sentence, without the path, which stands beside it.
std::string not_shown_words(const files::FileError& error) {
    if (error.place() == "line 1") return "Not an attempt file: line 1 is missing or changed. Nothing was deleted.";
    const std::string place = error.place().empty() ? "" : error.place() + ": ";
    return fmt::format("Not an attempt file: {}{}; accepted: {}. Nothing was deleted.", place, error.value(),
                       error.accepted());
}

}  // namespace

PastAttempt read_past_attempt(const fs::path& file, const fs::path& ledger) {
    PastAttempt out;
    out.file = file;
    out.scenario = out.title = file.stem().string();
    try {
        const files::LoadedAttempt loaded = files::read_attempt(file, ledger);
        out.scenario = loaded.header.scenario.id;
        out.title = loaded.scenario.scenario.title;
        out.started_at = loaded.header.started_at;
        out.mode = loaded.header.mode;
        out.finished = loaded.report.finished;
        if (!loaded.report.intact()) {
            out.trouble = std::string(loaded.report.verdict());
            if (!loaded.report.problems.empty()) {
                const files::Problem& first = loaded.report.problems.front();
                out.trouble +=
                    first.line == 0 ? ": " + first.what : fmt::format(": line {}: {}", first.line, first.what);
            }
            return out;
        }
        const sim::Rubric rubric = files::parse_rubric(loaded.header.rubric, file.string()).rubric;
        const sim::Score score = sim::score(loaded.recording, rubric);
        out.incomplete = score.verdict == sim::Verdict::incomplete;
        out.passed = score.verdict == sim::Verdict::pass;
        out.points = score.total_points;
        out.of = score.total_of;
        out.heading_points = score.heading_points;
        out.heading_of = score.heading_of;
        out.variant_seed = loaded.header.variant_seed;
        const files::AttemptUses uses = files::uses_of(loaded.recording.events);
        out.devices = uses.devices;
        out.aids_asked = uses.aids_asked;
    } catch (const files::FileError& error) {
        out.trouble = not_shown_words(error);
    } catch (const std::exception& error) {
        out.trouble = error.what();
    }
    return out;
}

std::string result_words(const PastAttempt& attempt) {
    if (!attempt.finished) return "Stopped";
    const char* verdict = attempt.passed ? "Passed" : attempt.incomplete ? "Not finished" : "Not passed";
    return fmt::format("{}: {:.0f} of {:.0f}", verdict, attempt.points, attempt.of);
}

Standing standing_of(const std::vector<PastAttempt>& attempts, const std::string& scenario) {
    Standing out;
    for (const PastAttempt& attempt : attempts) {
        if (attempt.scenario != scenario || !attempt.finished || !attempt.trouble.empty()) continue;
        if (!out.last) out.last = attempt;  // newest first
        // a pass is better than a fail with more points
        const auto rank = [](const PastAttempt& a) { return std::pair(a.passed, a.of > 0.0 ? a.points / a.of : 0.0); };
        if (!out.best || rank(attempt) > rank(*out.best)) out.best = attempt;
    }
    return out;
}

std::string when_words(const std::string& started_at) {
    std::tm utc{};
    const char* end = strptime(started_at.c_str(), "%Y-%m-%dT%H:%M:%SZ", &utc);
    if (end == nullptr || *end != '\0') return "";
    const std::time_t moment = timegm(&utc);
    std::tm here{};
    localtime_r(&moment, &here);
    static constexpr std::array kMonths{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    return fmt::format("{} {} {}, {:02}:{:02}", here.tm_mday, kMonths[static_cast<std::size_t>(here.tm_mon)],
                       here.tm_year + 1900, here.tm_hour, here.tm_min);
}

AttemptShelf::AttemptShelf(fs::path folder, fs::path ledger)
    : folder_(std::move(folder)), ledger_(std::move(ledger)), thread_([this] { work(); }) {}

AttemptShelf::~AttemptShelf() {
    {
        const std::lock_guard lock(mutex_);
        stop_ = true;
    }
    wake_.notify_all();
    thread_.join();
}

void AttemptShelf::refresh() {
    {
        const std::lock_guard lock(mutex_);
        asked_ = true;
    }
    wake_.notify_all();
}

void AttemptShelf::wait() {
    std::unique_lock lock(mutex_);
    idle_.wait(lock, [this] { return !asked_ && !busy_; });
}

bool AttemptShelf::reading() const {
    const std::lock_guard lock(mutex_);
    return asked_ || busy_;
}

std::vector<PastAttempt> AttemptShelf::attempts() const {
    const std::lock_guard lock(mutex_);
    return list_;
}

void AttemptShelf::work() {
    while (true) {
        {
            std::unique_lock lock(mutex_);
            wake_.wait(lock, [this] { return asked_ || stop_; });
            if (stop_) return;
            asked_ = false;
            busy_ = true;
        }
        read_folder();
        {
            const std::lock_guard lock(mutex_);
            busy_ = false;
        }
        ++changes_;
        idle_.notify_all();
    }
}

void AttemptShelf::read_folder() {
    std::map<fs::path, Known> now;
    std::error_code error;
    for (fs::directory_iterator entry(folder_, error), end; !error && entry != end; entry.increment(error)) {
        if (stop_) return;
        if (entry->path().extension() != ".attempt") continue;
        std::error_code ignored;
        Known known{entry->last_write_time(ignored), 0, {}};
        known.bytes = entry->is_regular_file(ignored) ? entry->file_size(ignored) : 0;
        const auto before = known_.find(entry->path());
        if (before != known_.end() && before->second.written == known.written && before->second.bytes == known.bytes)
            known.attempt = before->second.attempt;
        else
            known.attempt = read_past_attempt(entry->path(), ledger_);
        now.insert_or_assign(entry->path(), std::move(known));
    }
    known_ = std::move(now);
    std::vector<PastAttempt> list;
    for (const auto& [file, known] : known_) list.push_back(known.attempt);
    std::sort(list.begin(), list.end(), newer);
    const std::lock_guard lock(mutex_);
    list_ = std::move(list);
}

}  // namespace app
