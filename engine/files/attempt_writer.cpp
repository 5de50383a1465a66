#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>

#include "engine/files/attempt.hpp"
#include "engine/files/attempt_header.hpp"
#include "engine/files/command_text.hpp"
#include "engine/files/trace_text.hpp"
#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr std::size_t kMostWaitingBytes = 32ULL << 20;  // kept in memory while the disk takes nothing

void lock(const Descriptor& file, const std::filesystem::path& path) {
    if (::flock(file.number(), LOCK_EX | LOCK_NB) == 0) return;
    throw FileError(path.string(), "", "an attempt that another program is writing", "one that nobody else has open");
}

template <typename T, typename Append>
void append_list(std::string& out, std::string_view key, const std::vector<T>& items, Append append) {
    if (items.empty()) return;
    out += fmt::format(",\"{}\":[", key);
    for (const T& item : items) {
        append(item);
        out += ',';
    }
    out.back() = ']';
}

std::string window_text(std::int64_t seq, const WindowData& data, WindowMemory& memory) {
    std::string out = fmt::format("{{\"seq\":{},\"to\":{}", seq, data.to_step);
    if (!data.commands.empty()) {
        out += ",\"commands\":";
        append_commands(out, data.commands);
    }
    append_list(out, "answers", data.answers, [&](const AnswerAt& at) {
        const sim::Answer& answer = at.answer;
        out += fmt::format("[{},{},{},{},{},{}]", at.step, answer.key, single_text(answer.normal_stiffness_pa),
                           single_text(answer.tangent_stiffness_pa), single_text(answer.tent_per_force_m_per_n),
                           single_text(answer.tent_width_m));
    });
    const auto append_text = [&out](std::string_view key, const auto& items, const auto& append) {
        if (items.empty()) return;
        out += fmt::format(",\"{}\":\"", key);
        append(items);
        out += '"';
    };
    append_text("thread_answers", data.about_threads,
                [&](const auto& items) { append_thread_answers(out, items, memory.about_threads); });
    append_text("lifts", data.lifts, [&](const auto& items) { append_lifts(out, items, memory.lifts); });
    append_text("rows", data.rows, [&](const auto& items) { append_rows(out, items, memory.rows); });
    append_list(out, "events", data.events, [&](const sim::Event& event) { append_event(out, event); });
    append_list(out, "tracks", data.tracks, [&](const sim::TrackRecord& track) { append_track(out, track); });
    if (!data.checkpoint_json.empty()) out += ",\"checkpoint\":" + nlohmann::json(data.checkpoint_json).dump();
    out += '}';
    return out;
}

std::int64_t size_of(const auto& list) { return static_cast<std::int64_t>(list.size()); }

}  // namespace

AttemptWriter::AttemptWriter(const std::filesystem::path& path, AttemptHeader header, const KeyPair& key,
                             Options options)
    : path_(path), key_(key), options_(std::move(options)) {
    if (header.attempt_id.empty()) header.attempt_id = random_id();
    if (header.started_at.empty()) header.started_at = time_text();
    header.public_key = key.public_key;
    attempt_id_ = header.attempt_id;
    file_ = Descriptor(::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644));
    if (!file_.open())
        throw FileError(path.string(), "", words_of_errno(errno), "a new file in a folder that can be written");
    lock(file_, path);
    queue(fmt::format("{{\"seq\":0,\"header\":{}}}", header_text(header)), false);
    if (flush()) return;
    ::unlink(path.c_str());  // ours, made above, and without a whole line
    // of "FILE: WORDS; BYTES wait" the words: the file is named by the error, and nothing waits any more
    const std::size_t from = path.string().size() + 2;
    throw FileError(path.string(), "",
                    fmt::format("a disk that answers \"{}\"", trouble_.substr(from, trouble_.rfind(';') - from)),
                    "room for the attempt's first line");
}

AttemptWriter AttemptWriter::resume(const std::filesystem::path& path, const KeyPair& key, Options options) {
    AttemptWriter writer;
    writer.path_ = path;
    writer.key_ = key;
    writer.options_ = std::move(options);
    writer.file_ = Descriptor(::open(path.c_str(), O_WRONLY | O_CLOEXEC | O_NONBLOCK));
    if (!writer.file_.open())
        throw FileError(path.string(), "", words_of_errno(errno), "an attempt that can be written");
    lock(writer.file_, path);

    const LoadedAttempt attempt = read_attempt(path, writer.options_.ledger);
    const auto refuse = [&](std::string what, std::string accepted) {
        throw FileError(path.string(), "", std::move(what), std::move(accepted));
    };
    if (!attempt.report.intact())
        refuse(fmt::format("an attempt that is {}", attempt.report.verdict()), "one that is intact, unfinished");
    if (attempt.report.finished) refuse("a finished attempt", "one that is intact, unfinished");
    if (attempt.header.public_key != key.public_key) refuse("an attempt of another key", "one begun with this key");

    const ChainLines chain = split_chain(read_bytes(path, kAttemptBytes));
    if (chain.torn && ::ftruncate(writer.file_.number(), static_cast<off_t>(chain.whole_bytes)) != 0)
        refuse(words_of_errno(errno), "a file whose torn last line can be cut off");
    writer.length_ = chain.whole_bytes;
    writer.attempt_id_ = attempt.header.attempt_id;
    writer.seq_ = static_cast<std::int64_t>(chain.lines.size());
    writer.hash_ = chain.lines.back().hash;
    writer.to_step_ = attempt.recording.steps;
    writer.commands_ = size_of(attempt.commands);
    writer.answers_ = size_of(attempt.answers);
    writer.rows_ = size_of(attempt.recording.rows);
    std::string written;
    append_rows(written, attempt.recording.rows, writer.memory_.rows);  // for what the next row is compared with
    append_lifts(written, attempt.recording.lifts, writer.memory_.lifts);
    append_thread_answers(written, attempt.about_threads, writer.memory_.about_threads);
    writer.lifts_ = size_of(attempt.recording.lifts);
    writer.about_threads_ = size_of(attempt.about_threads);
    writer.events_ = size_of(attempt.recording.events);
    writer.tracks_ = size_of(attempt.recording.tracks);
    writer.queue(
        fmt::format("{{\"seq\":{},\"to\":{},\"resumed_at\":\"{}\"}}", writer.seq_, writer.to_step_, time_text()),
        false);
    if (!writer.flush()) throw FileError(path.string(), "", writer.trouble_, "room to go on");
    return writer;
}

void AttemptWriter::queue(std::string body, bool signed_line) {
    hash_ = chained(hash_, body);
    if (signed_line) {
        const Signature signature = sign(key_, view_of(hash_));
        waiting_ += chain_line(body, hash_, &signature);
    } else {
        waiting_ += chain_line(body, hash_, nullptr);
    }
    ++seq_;
}

bool AttemptWriter::flush() {
    const int error = write_all_at(file_.number(), waiting_, length_);
    if (error == 0) {
        length_ += waiting_.size();
        waiting_.clear();
        trouble_.clear();
        return true;
    }
    // keep whole lines only; if even this fails, the piece is a torn last line, which every reader leaves out
    if (::ftruncate(file_.number(), static_cast<off_t>(length_)) != 0) errno = 0;
    trouble_ = fmt::format("{}: {}; {} bytes of the attempt wait in memory", path_.string(), words_of_errno(error),
                           waiting_.size());
    return false;
}

bool AttemptWriter::window(const WindowData& data) {
    SIM_ASSERT(!ended_);
    SIM_ASSERT(data.to_step >= to_step_);
    if (data.empty() && data.to_step - to_step_ < kHeartbeatSteps) return trouble_.empty();
    if (waiting_.size() > kMostWaitingBytes) return false;  // the chain on disk stays whole; what comes now is lost
    queue(window_text(seq_, data, memory_), false);
    to_step_ = data.to_step;
    commands_ += size_of(data.commands);
    answers_ += size_of(data.answers);
    rows_ += size_of(data.rows);
    events_ += size_of(data.events);
    tracks_ += size_of(data.tracks);
    about_threads_ += size_of(data.about_threads);
    lifts_ += size_of(data.lifts);
    return flush();
}

bool AttemptWriter::end(std::int64_t steps, bool finished) {
    if (!ended_) {
        SIM_ASSERT(steps >= to_step_);
        queue(
            fmt::format(R"({{"seq":{},"to":{},"end":{{"finished":{},"commands":{},"answers":{},"rows":{},"events":{},)"
                        R"("tracks":{},"thread_answers":{},"lifts":{}}}}})",
                        seq_, steps, finished, commands_, answers_, rows_, events_, tracks_, about_threads_, lifts_),
            true);
        to_step_ = steps;
        ended_ = true;
    }
    if (!flush()) return false;
    // to the disk before the seal, so that a power failure never leaves a seal without its end
    ::fsync(file_.number());
    write_seal();
    return trouble_.empty();
}

void AttemptWriter::write_seal() {
    const std::string text = seal_text(make_seal(key_, attempt_id_, static_cast<std::size_t>(seq_), hash_));
    try {
        write_atomically(seal_path(path_), text);
    } catch (const FileError& error) {
        trouble_ = error.what();
    }
    if (options_.ledger.empty()) return;
    const Descriptor ledger(::open(options_.ledger.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600));
    const int error = ledger.open() ? write_all(ledger.number(), text) : errno;
    if (error != 0) trouble_ = fmt::format("{}: {}", options_.ledger.string(), words_of_errno(error));
}

}  // namespace files
