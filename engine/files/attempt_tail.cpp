#include "engine/files/attempt_tail.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>

#include "engine/files/attempt_lines.hpp"
#include "engine/files/file_error.hpp"

namespace files {

namespace {

using Clock = std::chrono::steady_clock;

constexpr std::int64_t kNanosecondsPerS = 1'000'000'000;

std::int64_t written_ns(const struct stat& is) {
    return static_cast<std::int64_t>(is.st_mtim.tv_sec) * kNanosecondsPerS + is.st_mtim.tv_nsec;
}

/// As many bytes as there are, at most `count`.
std::string read_at(int descriptor, std::uint64_t offset, std::uint64_t count) {
    std::string out(count, '\0');
    std::size_t got = 0;
    while (got < out.size()) {
        const ssize_t now = ::pread(descriptor, out.data() + got, out.size() - got, static_cast<off_t>(offset + got));
        if (now < 0 && errno == EINTR) continue;
        if (now <= 0) break;
        got += static_cast<std::size_t>(now);
    }
    out.resize(got);
    return out;
}

/// The moment that a file's time names, as if its clock were this machine's; never in the future.
Clock::time_point moment_of(std::int64_t file_ns) {
    const auto now = std::chrono::system_clock::now().time_since_epoch();
    const auto age = std::chrono::duration_cast<std::chrono::nanoseconds>(now) - std::chrono::nanoseconds(file_ns);
    return Clock::now() - std::max(std::chrono::nanoseconds(0), age);
}

}  // namespace

AttemptTail::AttemptTail(std::filesystem::path file)
    : file_(std::move(file)),
      attempt_(std::make_unique<LoadedAttempt>()),
      reader_(std::make_unique<AttemptLines>(file_.string(), *attempt_)),
      grown_(Clock::now()) {}

AttemptTail::AttemptTail(AttemptTail&&) noexcept = default;
AttemptTail& AttemptTail::operator=(AttemptTail&&) noexcept = default;
AttemptTail::~AttemptTail() = default;

double AttemptTail::quiet_s() const { return std::chrono::duration<double>(Clock::now() - grown_).count(); }

std::string AttemptTail::not_begun() const {
    if (begun() || !trouble_.empty()) return begun() ? "" : trouble_;
    return FileError(file_.string(), "", "a file without a whole line", "an attempt, which begins with a header line")
        .what();
}

bool AttemptTail::read_on(std::uint64_t most_bytes) {
    if (given_up_) return false;
    trouble_.clear();
    behind_ = false;
    // a pipe of this name must not hold anybody up
    const Descriptor in(::open(file_.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
    if (!in.open()) {
        trouble_ = FileError(file_.string(), "", words_of_errno(errno), "an attempt that can be read").what();
        seen_ = {};
        return false;
    }
    return look(in.number(), most_bytes);
}

bool AttemptTail::read_all() {
    bool came = read_on();
    while (behind_ && !given_up_ && trouble_.empty()) came = read_on() || came;
    return came;
}

bool AttemptTail::look(int descriptor, std::uint64_t most_bytes) {
    struct stat is {};
    if (::fstat(descriptor, &is) != 0 || !S_ISREG(is.st_mode)) {
        give_up(0, "no regular file", "an attempt");
        return false;
    }
    const Seen now{static_cast<std::uint64_t>(is.st_size), written_ns(is), is.st_ino};
    if (now == seen_) return false;
    if (now.bytes > kAttemptBytes) {
        give_up(0, fmt::format("{} bytes", now.bytes), fmt::format("at most {} bytes", kAttemptBytes));
        return false;
    }
    if (now.bytes < whole_) {
        trouble_ = FileError(file_.string(), "", fmt::format("{} bytes, where {} were read", now.bytes, whole_),
                             "a file that only grows")
                       .what();
        return false;
    }
    if (seen_.number == 0) grown_ = moment_of(now.written_ns);
    const std::uint64_t from = whole_ - last_.size();
    const std::uint64_t room = std::max(room_, most_bytes);
    const std::string text = read_at(descriptor, from, std::min(now.bytes - from, last_.size() + room));
    if (text.size() < last_.size()) {
        trouble_ =
            FileError(file_.string(), "", "a file that was cut while it was read", "a file that only grows").what();
        return false;
    }
    if (!text.starts_with(last_)) {
        give_up(lines_, "another line than the one that was read", "the same file, which only grows");
        return false;
    }
    const std::size_t before = lines_;
    const bool first_look = seen_.number == 0;
    seen_ = now;
    take(std::string_view(text).substr(last_.size()));
    if (lines_ > before && !first_look) grown_ = Clock::now();
    behind_ = !given_up_ && from + text.size() < now.bytes;
    // a line that is longer than what was read: more at once
    room_ = behind_ && lines_ == before ? std::min(2 * room, kAttemptBytes) : 0;
    if (behind_) seen_.bytes = whole_;  // look again although nothing changes
    return lines_ > before;
}

bool AttemptTail::take(std::string_view piece) {
    const ChainLines chain = split_chain(piece);
    std::size_t at = 0;
    for (ChainLine line : chain.lines) {
        line.number = lines_ + 1;
        if (!take_line(line)) return false;
        const std::size_t end = piece.find('\n', at) + 1;
        last_ = std::string(piece.substr(at, end - at));
        whole_ += end - at;
        at = end;
    }
    return true;
}

bool AttemptTail::take_line(const ChainLine& line) {
    if (ended()) {
        give_up(line.number, "a line after the signed end", "nothing");
        return false;
    }
    if (line.seq != static_cast<std::int64_t>(lines_) || chained(hash_, line.body) != line.hash) {
        give_up(line.number, "a line whose number or hash does not fit",
                "the lines of an attempt, each chained to the one before");
        return false;
    }
    const std::int64_t steps = attempt_->recording.steps;
    const std::size_t events = attempt_->recording.events.size();
    try {
        reader_->line(line);
    } catch (const std::exception& error) {
        // of a line that is not understood nothing is believed
        attempt_->recording.steps = steps;
        attempt_->recording.events.resize(std::min(events, attempt_->recording.events.size()));
        attempt_->recording.finished = false;
        const bool names_file = dynamic_cast<const FileError*>(&error) != nullptr;
        trouble_ =
            names_file ? error.what() : fmt::format("{}, line {}: {}", file_.string(), line.number, error.what());
        given_up_ = true;
        return false;
    }
    hash_ = line.hash;
    ++lines_;
    if (!line.signature) return true;
    if (!signature_holds(attempt_->header.public_key, view_of(line.hash), *line.signature)) {
        give_up(line.number, "a signature that does not hold", "the signature of the key in the first line");
        return false;
    }
    attempt_->report.finished = true;
    return true;
}

void AttemptTail::give_up(std::size_t line, const std::string& what, const std::string& accepted) {
    const std::string place = line > 0 ? fmt::format("line {}", line) : "";
    trouble_ = FileError(file_.string(), place, what, accepted).what();
    given_up_ = true;
}

}  // namespace files
