#include "engine/app/observed_list.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <set>
#include <tuple>

#include "engine/app/event_words.hpp"
#include "engine/files/places.hpp"
#include "engine/language/words.hpp"
#include "engine/session/ending_threads.hpp"

namespace app {

namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t kHeadBytes = 64ULL << 10;  // of an attempt that may not be the newest: its first line
constexpr auto kLookEach = std::chrono::milliseconds(1000);
constexpr std::size_t kKeyDigits = 8;  // of a key that stands for a learner

bool is_below(const fs::path& folder, const fs::path& file) {
    std::error_code none;
    const fs::path whole = fs::weakly_canonical(file, none);
    return !folder.empty() &&
           std::mismatch(folder.begin(), folder.end(), whole.begin(), whole.end()).first == folder.end();
}

}  // namespace

const char* standing_words(session::Standing standing, bool finished) {
    switch (standing) {
        case session::Standing::live:
            return language::word("live");
        case session::Standing::stopped:
            return language::word("stopped");
        case session::Standing::ended:
            return finished ? language::word("finished") : language::word("given up");
    }
    return "";
}

Mark mark_of(session::Standing standing) {
    return standing == session::Standing::live    ? Mark::good
           : standing == session::Standing::ended ? Mark::neutral
                                                  : Mark::caution;
}

ObservedReader::ObservedReader(fs::path folder, const fs::path& own) : folder_(std::move(folder)) {
    std::error_code none;
    own_ = fs::weakly_canonical(own, none);
}

/// Whose attempt it is, from its first line: read once.
void ObservedReader::look_at(const files::FoundAttempt& found) {
    Known& known = known_[found.file];
    known.seen = true;
    const bool as_before = known.written == found.written;
    known.written = found.written;
    if (known.key != files::PublicKey{} || (as_before && !known.trouble.empty())) return;
    files::AttemptTail tail(found.file);
    do static_cast<void>(tail.read_on(kHeadBytes));
    while (!tail.begun() && tail.behind());
    known.trouble = tail.not_begun();
    if (!tail.begun()) return;
    known.key = tail.attempt().header.public_key;
    known.tail = std::move(tail);
    if (!found.learner.empty()) names_[known.key] = found.learner;
}

ObservedRow ObservedReader::row_of(const files::FoundAttempt& found, Known& known) const {
    if (!known.tail) known.tail.emplace(found.file);
    static_cast<void>(known.tail->read_all());
    const files::LoadedAttempt& attempt = known.tail->attempt();
    ObservedRow row;
    row.file = found.file;
    row.station = found.station;
    const auto name = names_.find(known.key);
    row.learner =
        name != names_.end() ? name->second : language::say("Key {}", files::hex(known.key).substr(0, kKeyDigits));
    row.title = attempt.scenario.scenario.title;
    row.started_at = attempt.header.started_at;
    row.mode = attempt.header.mode;
    row.steps = attempt.recording.steps;
    if (!attempt.recording.events.empty()) {
        const Happening last = happening_of(attempt.recording.events.back(), attempt.recording);
        row.last = last.detail.empty() ? last.what : last.what + ": " + last.detail;
    }
    row.standing = session::standing_of(*known.tail);
    row.finished = attempt.recording.finished;
    row.trouble = known.tail->trouble();
    const bool open = row.mode == sim::PracticeMode::graded && row.standing != session::Standing::ended;
    row.refused = open && is_below(own_, found.file);
    if (row.refused) row.last.clear();
    return row;
}

ObservedRows ObservedReader::read(const std::function<bool()>& stop) {
    ObservedRows out;
    out.read = true;
    files::FoundAttempts found = files::find_attempts(folder_);
    out.trouble = std::move(found.trouble);
    if (found.data_folders == 0 && out.trouble.empty())
        out.trouble.push_back(language::say("{}: no trainer has kept anything here yet.", folder_.string()));
    for (auto& [file, known] : known_) known.seen = false;
    for (const files::FoundAttempt& one : found.attempts) {
        if (stop && stop()) return out;
        look_at(one);
        if (const std::string& trouble = known_[one.file].trouble; !trouble.empty()) out.trouble.push_back(trouble);
    }
    std::erase_if(known_, [](const auto& one) { return !one.second.seen; });
    // the newest of each learner at each station: the list begins with what was written last
    std::set<std::tuple<std::string, files::PublicKey>> listed;
    for (const files::FoundAttempt& one : found.attempts) {
        if (stop && stop()) return out;
        Known& known = known_[one.file];
        if (known.key == files::PublicKey{}) continue;
        if (listed.emplace(one.station, known.key).second)
            out.rows.push_back(row_of(one, known));
        else
            known.tail.reset();
    }
    const auto rank = [](const ObservedRow& row) {
        return std::tuple(row.standing != session::Standing::live, row.station, row.learner);
    };
    std::stable_sort(out.rows.begin(), out.rows.end(),
                     [&](const ObservedRow& a, const ObservedRow& b) { return rank(a) < rank(b); });
    return out;
}

struct ObservedList::Shared {
    explicit Shared(const fs::path& folder) : reader(folder, files::all_learners_folder()) {}

    mutable std::mutex mutex;
    std::condition_variable wake;
    ObservedReader reader;  ///< of the thread alone
    std::atomic<bool> stop = false;
    std::atomic<std::size_t> looks = 0;
    ObservedRows rows;  ///< under the mutex

    void work() {
        while (!stop) {
            ObservedRows now = reader.read([this] { return stop.load(); });
            std::unique_lock lock(mutex);
            rows = std::move(now);
            ++looks;
            wake.wait_for(lock, kLookEach, [this] { return stop.load(); });
        }
    }
};

ObservedList::ObservedList(const fs::path& folder) : shared_(std::make_shared<Shared>(folder)) {
    static_cast<void>(session::ending_threads());  // there before the thread, gone after it
    thread_ = std::thread([shared = shared_] { shared->work(); });
}

ObservedList::~ObservedList() {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->stop = true;
    }
    shared_->wake.notify_all();
    session::ending_threads().add(std::move(thread_));
}

ObservedRows ObservedList::rows() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->rows;
}

std::size_t ObservedList::looks() const { return shared_->looks; }

}  // namespace app
