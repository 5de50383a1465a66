#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "engine/files/attempt.hpp"
#include "engine/session/session.hpp"

/// An attempt made to stand still at any of its moments: the state as it was, for drawing.
///
/// The record keeps commands and the tissue's answers, and a step is a pure function of both; so the state at a moment
/// is the nearest snapshot before it, stepped on. Figures never come from here: they come from the record.

namespace session {

/// What is needed to step through an attempt again.
struct Tape {
    std::vector<files::TimedCommand> commands;  ///< rising in step
    std::vector<files::AnswerAt> answers;       ///< as the steps took them
    std::vector<files::ThreadAnswerAt> about_threads;
    std::vector<sim::State> snapshots;  ///< rising in step, one each kSnapshotSteps; may be empty
    std::int64_t steps = 0;             ///< length of the attempt
};

inline constexpr std::int64_t kSnapshotSteps = 500;  ///< 2 s: 25 ms of stepping at ninety times playing time

/// Without snapshots: a file keeps none.
[[nodiscard]] Tape tape_of(const files::LoadedAttempt& attempt);

/// Read an attempt that is to be looked at.
/// @throws files::FileError when there is none, or its record is not as it was written: the first problem in words
[[nodiscard]] files::LoadedAttempt open_attempt(const std::filesystem::path& path,
                                                const std::filesystem::path& ledger = {});

/// What an attempt gained since it was looked at last.
struct Growth {
    Tape tape;  ///< commands and answers that came; `steps` is the length of the attempt now
    /// Rows, events, tracks and lifts that came; length and end as they are now.
    sim::Recording recording;
};

/// How much of an attempt was handed on already.
struct GrownTo {
    std::size_t commands = 0, answers = 0, about_threads = 0, rows = 0, events = 0, tracks = 0, lifts = 0;
};
/// What `attempt` has beyond `from`, which then stands at its end.
[[nodiscard]] Growth growth_of(const files::LoadedAttempt& attempt, GrownTo& from);

/// Keeps the tape of a session that runs, and hands every step on to the recorder that keeps it on disk.
class TapeRecorder final : public Recorder {
 public:
    /// @param next may be null
    explicit TapeRecorder(std::shared_ptr<Recorder> next) : next_(std::move(next)) {}

    void record(const StepRecord& record, const sim::State& state) override;
    /// From now on hand every step to this one, which heard nothing of those before.
    void hand_on_to(std::shared_ptr<Recorder> next) { next_ = std::move(next); }
    [[nodiscard]] const Tape& tape() const { return tape_; }

 private:
    std::shared_ptr<Recorder> next_;
    Tape tape_;
};

class Replay {
 public:
    /// @param recording as it was scored: what was left in the tissue, and what re-stepping is compared with
    Replay(std::shared_ptr<const sim::Model> model, Tape tape, sim::Recording recording);

    /// Step through the whole attempt once, keep snapshots, and compare with the recorded rows. Not needed for a tape
    /// that brought its snapshots. About 90 times playing time.
    void build(const std::function<void(double fraction, std::string_view what)>& progress = {});

    /// The attempt went on: what it gained is added to tape and recording. The replay stands where it stood.
    void grow(const Growth& growth);
    /// Step on from where building came to, at most so many steps, and stand there. @return steps made; 0: at the end
    std::int64_t build_on(std::int64_t most_steps);
    [[nodiscard]] std::int64_t built() const { return built_; }

    /// Stand at this step: the state after so many steps. Clamped to the attempt.
    void seek(std::int64_t step);

    [[nodiscard]] std::int64_t step() const { return state_.step; }
    [[nodiscard]] std::int64_t steps() const { return tape_.steps; }
    [[nodiscard]] const sim::State& state() const { return state_; }
    [[nodiscard]] const sim::Model& model() const { return *model_; }
    [[nodiscard]] const sim::Recording& recording() const { return recording_; }

    /// Tracks that had been closed by now: what lies in the tissue.
    [[nodiscard]] std::span<const sim::TrackRecord> tracks_closed() const;

    /// Largest distance between a recorded tip and the one re-stepped here; 0 when build() had nothing to compare.
    [[nodiscard]] double deviation_m() const { return deviation_m_; }
    /// What a viewer must know about what is shown, empty when it is the recorded attempt to within 0.05 mm.
    [[nodiscard]] std::string caveat() const;

 private:
    sim::StepReport step_on();
    void compare(const sim::StepReport& report);

    std::shared_ptr<const sim::Model> model_;
    Tape tape_;
    sim::Recording recording_;
    sim::State state_;
    std::int64_t built_ = 0;  ///< how far build() and build_on() came
    std::size_t next_row_ = 0;
    double deviation_m_ = 0.0;
    int answers_missing_ = 0;
    std::int64_t stopped_at_ = -1;  ///< a step reported a fault here; -1: none did
};

/// The first time the tip came this far along a track, between rows by straight line. @return step
[[nodiscard]] std::int64_t step_at_distance(const sim::Recording& recording, int track, double along_m);

/// Index in recording.tracks of the track that was open at a step; else the last one opened before, else the first; -1
/// when no track was closed.
[[nodiscard]] int track_at(const sim::Recording& recording, std::int64_t step);

/// Threads in the tissue as the attempt left them, those drawn out too. The replay stands where it stood.
[[nodiscard]] std::vector<sim::HeldThread> threads_at_end(Replay& replay);

}  // namespace session
