#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/timed_command.hpp"
#include "engine/session/worker.hpp"
#include "sim/command.hpp"
#include "sim/scoring/recording.hpp"
#include "sim/step.hpp"

/// One attempt as it runs: commands in, whole steps, everything recorded before use.

namespace session {

/// What one step was told and what it left, in the order in which the attempt log keeps it.
struct StepRecord {
    std::int64_t step = 0;
    std::vector<sim::Command> commands;
    std::vector<sim::Answer> answers;
    sim::StepReport report;
    std::optional<sim::ThreadAnswer> about_threads;
};

/// Where step records go: the attempt log, or nowhere.
class Recorder {
 public:
    virtual ~Recorder() = default;
    /// Called after each step. @param state as the step left it
    virtual void record(const StepRecord& record, const sim::State& state) = 0;
};

struct SessionOptions {
    sim::PracticeMode mode = sim::PracticeMode::coached;
    std::shared_ptr<Recorder> recorder;     ///< may be null: nothing is kept on disk
    std::shared_ptr<AnswerSource> answers;  ///< null: computed inline, the tissue for threads built without a cache
};

/// The facts that a recording needs before its first step.
[[nodiscard]] sim::Recording recording_of(const sim::Model& model, sim::PracticeMode mode);

class Session {
 public:
    Session(std::shared_ptr<const sim::Model> model, SessionOptions options);

    /// Queue a command for the next step. @throws InputError for one outside its range
    void send(const sim::Command& command);

    /// Go on with an attempt that stopped: its steps are made again with what they were told, about 90 times as fast.
    /// The recorder hears of them too: one that writes must not be behind it yet.
    /// @param commands rising in step @param answers of the tissue for threads @param steps length of what is there
    /// @param recorded what these steps left in the record
    /// @pre nothing was sent or run yet
    /// @throws std::runtime_error in plain words when they do not come out as recorded
    void take_up(const std::vector<files::TimedCommand>& commands, std::vector<sim::ThreadAnswer> answers,
                 std::int64_t steps, const sim::Recording& recorded);

    /// Run up to `steps` whole steps. Stops early when simulated time waits for an answer, when the attempt is
    /// finished, or when a step reports a fault. @return steps run
    int advance(int steps);

    [[nodiscard]] bool waiting() const { return waiting_; }  ///< simulated time stands: an answer is due and not there
    /// Why: plain words where threads are asked about, else empty. With nobody waiting, why the tissue has no answer.
    [[nodiscard]] std::string waits_for() const { return options_.answers->about_threads(); }
    [[nodiscard]] bool finished() const { return state_.finished; }
    [[nodiscard]] const sim::Faults& faults() const { return faults_; }
    [[nodiscard]] double time_s() const { return static_cast<double>(state_.step) * sim::kStepS; }

    [[nodiscard]] const sim::Model& model() const { return *model_; }
    [[nodiscard]] const sim::State& state() const { return state_; }              ///< read only: screens draw from it
    [[nodiscard]] const sim::Recording& recording() const { return recording_; }  ///< grows as the attempt runs

    /// Events since the last call, for sound and captions.
    [[nodiscard]] std::vector<sim::Event> take_events();

 private:
    [[nodiscard]] bool gather_answers();
    void run_one();

    std::shared_ptr<const sim::Model> model_;
    SessionOptions options_;
    sim::State state_;
    sim::Recording recording_;
    sim::Faults faults_;
    std::vector<sim::Command> queued_;
    std::vector<sim::Answer> held_;  ///< taken from the source, kept until every answer of the step is there
    std::optional<sim::ThreadAnswer> held_about_threads_;
    std::vector<sim::Event> fresh_;
    bool waiting_ = false;
};

}  // namespace session
