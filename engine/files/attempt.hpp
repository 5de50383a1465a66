#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/scenario.hpp"
#include "engine/files/timed_command.hpp"
#include "engine/files/trace_text.hpp"
#include "engine/files/verify.hpp"
#include "sim/request.hpp"
#include "sim/scoring/recording.hpp"

/// The record of an attempt: JSON Lines, appended as it runs, each line chained to the one before, the end signed.
/// The format, and what it can and cannot show, is scenarios/schema/ATTEMPT.md.

namespace files {

inline constexpr std::int64_t kAttemptSchema = 5;
inline constexpr std::int64_t kWindowSteps = 64;  ///< steps a line covers: 256 ms
inline constexpr std::int64_t kHeartbeatSteps =
    192;  ///< a line even when nothing happened: with one more window < 1.1 s

/// What the first line says.
struct AttemptHeader {
    std::int64_t schema_version = kAttemptSchema;  ///< as it was read; the writer writes its own
    std::string attempt_id;                        ///< 32 hexadecimal digits; the writer draws one when empty
    std::string program_version, build_id;
    int scoring_version = sim::kScoringVersion;  ///< definitions of the measures in force
    std::string kernel;                          ///< name of the linear algebra kernel, "" when none is used
    SourceText scenario;
    std::optional<SourceText> patient;  ///< nothing for the slab
    SourceText rubric;
    sim::PracticeMode mode = sim::PracticeMode::coached;
    std::uint64_t variant_seed = 0;  ///< the one in use, which may differ from the scenario's
    std::vector<sim::StructureFacts> structures;
    std::vector<sim::LigamentFacts> ligaments;
    std::vector<sim::Concern> concerns;
    std::string started_at;  ///< "2026-03-01T10:15:00Z"; the writer fills it in when empty
    PublicKey public_key{};  ///< the writer fills it in
};

struct AnswerAt {
    std::int64_t step = 0;
    sim::Answer answer;
    friend bool operator==(const AnswerAt&, const AnswerAt&) = default;
};

/// The answer to a question about threads, with the step that read it.
using ThreadAnswerAt = TimedThreadAnswer;

/// A few numbers of state for resimulate's comparison; what they are is the session's business.
struct Checkpoint {
    std::int64_t step = 0;
    std::string json;
    friend bool operator==(const Checkpoint&, const Checkpoint&) = default;
};

/// What happened since the last window.
struct WindowData {
    std::int64_t to_step = 0;  ///< steps simulated so far
    std::vector<TimedCommand> commands;
    std::vector<AnswerAt> answers;
    std::vector<sim::TraceRow> rows;
    std::vector<sim::Event> events;
    std::vector<sim::TrackRecord> tracks;
    std::vector<ThreadAnswerAt> about_threads;
    std::vector<sim::LiftRow> lifts;
    std::string checkpoint_json;  ///< empty: none

    [[nodiscard]] bool empty() const {
        return commands.empty() && answers.empty() && rows.empty() && events.empty() && tracks.empty() &&
               about_threads.empty() && lifts.empty() && checkpoint_json.empty();
    }
};

/// What the columns of a window's texts held last.
struct WindowMemory {
    ColumnMemory rows, lifts, about_threads;
};

/// Writes an attempt as it runs. Each line reaches the system before window() returns, so a killed process loses what
/// came after the last window and no more; a power failure may lose what the system had not yet put on the disk.
///
/// When a line cannot be written the file keeps its whole lines, trouble() says why, and the lines wait in memory to be
/// tried again with the next window.
class AttemptWriter {
 public:
    struct Options {
        std::filesystem::path ledger;  ///< where finished attempts are listed for this user; empty: nowhere
    };

    /// Begin a new attempt. Never overwrites.
    /// @throws FileError when the file exists, or the header cannot be written
    AttemptWriter(const std::filesystem::path& path, AttemptHeader header, const KeyPair& key, Options options);
    AttemptWriter(const std::filesystem::path& path, AttemptHeader header, const KeyPair& key)
        : AttemptWriter(path, std::move(header), key, Options{}) {}

    /// Go on with an attempt that was killed. A torn last line is cut off once the lines before it are found intact.
    /// @throws FileError when it is finished, not intact, not this key's, or in use
    [[nodiscard]] static AttemptWriter resume(const std::filesystem::path& path, const KeyPair& key, Options options);
    [[nodiscard]] static AttemptWriter resume(const std::filesystem::path& path, const KeyPair& key) {
        return resume(path, key, Options{});
    }

    /// Keep what happened up to `data.to_step`. Nothing is written when nothing changed and the last line is young.
    /// @return false when lines wait to be written, see trouble()
    bool window(const WindowData& data);

    /// Close and sign the attempt, then write its seal beside it.
    /// @param finished the learner ended it, or false when it was given up
    /// @return false when it could not be written: the attempt then stays `intact, unfinished`
    bool end(std::int64_t steps, bool finished);

    [[nodiscard]] const std::string& trouble() const { return trouble_; }  ///< empty when all is written
    [[nodiscard]] std::int64_t steps() const { return to_step_; }          ///< that the last line covers
    [[nodiscard]] const std::string& attempt_id() const { return attempt_id_; }
    [[nodiscard]] std::uint64_t bytes() const { return length_; }

 private:
    AttemptWriter() = default;
    void queue(std::string body, bool signed_line);
    bool flush();
    void write_seal();

    std::filesystem::path path_;
    KeyPair key_;
    Options options_;
    Descriptor file_;
    std::string attempt_id_;
    std::string waiting_;  // whole lines not yet on disk
    std::string trouble_;
    std::uint64_t length_ = 0;  // of the whole lines on disk
    std::int64_t seq_ = 0;
    std::int64_t to_step_ = 0;
    Hash hash_{};
    std::int64_t commands_ = 0, answers_ = 0, rows_ = 0, events_ = 0, tracks_ = 0, about_threads_ = 0, lifts_ = 0;
    WindowMemory memory_;
    bool ended_ = false;
};

inline constexpr std::int64_t kOldestAttemptSchema = 3;  ///< still read: it knew no threads in the tissue;
                                                         ///< 4 no version of the scoring, which was 1

struct LoadedAttempt {
    AttemptHeader header;
    LoadedScenario scenario;   ///< from the header, with the variant seed in use
    sim::Recording recording;  ///< all that scoring reads
    std::vector<TimedCommand> commands;
    std::vector<AnswerAt> answers;
    std::vector<ThreadAnswerAt> about_threads;
    std::vector<Checkpoint> checkpoints;
    int resumes = 0;
    VerifyReport report;  ///< when it is not intact, the rest holds what stands before the first problem
};

/// @param ledger as for verify()
/// @throws FileError when there is no attempt here: no readable header, or a line whose chain holds but whose content
///         this program does not know
[[nodiscard]] LoadedAttempt read_attempt(const std::filesystem::path& path, const std::filesystem::path& ledger = {});

/// The same of an attempt's bytes, wherever they are kept, without seal and ledger.
/// @param name stands for them in messages
/// @throws FileError as above
[[nodiscard]] LoadedAttempt read_attempt_bytes(std::string_view bytes, const std::string& name);

}  // namespace files
