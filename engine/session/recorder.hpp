#pragma once

#include "engine/files/attempt.hpp"
#include "engine/session/session.hpp"

/// Writes a session to its attempt log, a window of 64 steps at a time.

namespace session {

inline constexpr std::int64_t kCheckpointSteps = 250;  ///< one each second

/// A few numbers of the state, for comparing a resimulation on another machine.
struct Checkpoint {
    std::int64_t step = 0;
    double inserted_m = 0.0;  ///< to 1 um, as the tip
    sim::Vec3 tip_m{};
    double hand_n = 0.0;  ///< to 0.1 mN
    std::int64_t tracks = 0, holes = 0;
};
[[nodiscard]] std::string checkpoint_of(const sim::State& state);
[[nodiscard]] std::optional<Checkpoint> read_checkpoint(const std::string& text);  ///< nothing: it is none

class AttemptRecorder final : public Recorder {
 public:
    explicit AttemptRecorder(files::AttemptWriter writer) : writer_(std::move(writer)) {}

    void record(const StepRecord& record, const sim::State& state) override;

    /// Put what is still in memory on disk and close the attempt. @param finished the learner ended it
    /// @return false when it could not be written, see trouble()
    bool close(bool finished);

    /// Put what is still in memory on disk and leave the attempt open: somebody will go on with it.
    bool park();

    /// What keeps the record from being written, empty when all is well.
    [[nodiscard]] const std::string& trouble() const { return writer_.trouble(); }
    [[nodiscard]] const files::AttemptWriter& writer() const { return writer_; }

 private:
    files::AttemptWriter writer_;
    files::WindowData window_;
    bool closed_ = false;
};

}  // namespace session
