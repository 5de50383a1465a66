#pragma once

#include "engine/files/attempt.hpp"
#include "engine/session/session.hpp"

/// Writes a session to its attempt log, a window of 64 steps at a time.

namespace session {

inline constexpr std::int64_t kCheckpointSteps = 250;  ///< one each second

/// A few numbers of the state, for comparing a resimulation on another machine: JSON.
[[nodiscard]] std::string checkpoint_of(const sim::State& state);

class AttemptRecorder final : public Recorder {
 public:
    explicit AttemptRecorder(files::AttemptWriter writer) : writer_(std::move(writer)) {}

    void record(const StepRecord& record, const sim::State& state) override;

    /// Put what is still in memory on disk and close the attempt. @param finished the learner ended it
    /// @return false when it could not be written, see trouble()
    bool close(bool finished);

    /// What keeps the record from being written, empty when all is well.
    [[nodiscard]] const std::string& trouble() const { return writer_.trouble(); }
    [[nodiscard]] const files::AttemptWriter& writer() const { return writer_; }

 private:
    files::AttemptWriter writer_;
    files::WindowData window_;
    bool closed_ = false;
};

}  // namespace session
