#include "engine/session/recorder.hpp"

#include <fmt/format.h>

namespace session {

std::string checkpoint_of(const sim::State& s) {
    return fmt::format(
        R"({{"step":{},"inserted_m":{:.10f},"tip_m":[{:.10f},{:.10f},{:.10f}],"hand_n":{:.10f},"tracks":{},"holes":{}}})",
        s.step, s.inserted_m, s.tip_m.x, s.tip_m.y, s.tip_m.z, s.force.hand_n, s.tracks_opened, s.holes.size());
}

void AttemptRecorder::record(const StepRecord& record, const sim::State& state) {
    for (const sim::Command& command : record.commands) window_.commands.push_back({record.step, command});
    for (const sim::Answer& answer : record.answers) window_.answers.push_back({record.step, answer});
    const auto append = [](auto& to, const auto& from) { to.insert(to.end(), from.begin(), from.end()); };
    append(window_.rows, record.report.rows);
    append(window_.events, record.report.events);
    append(window_.tracks, record.report.tracks);
    window_.to_step = state.step;
    // a checkpoint only beside something: a resting hand costs nothing
    if (state.step % kCheckpointSteps == 0 && state.in_skin) window_.checkpoint_json = checkpoint_of(state);
    if (state.step % files::kWindowSteps == 0) {
        writer_.window(window_);
        window_ = {};
    }
    if (state.finished) close(true);
}

bool AttemptRecorder::close(bool finished) {
    if (closed_) return writer_.trouble().empty();
    closed_ = true;
    const std::int64_t steps = std::max(window_.to_step, writer_.steps());
    window_.to_step = steps;  // nothing may have happened since the last window: then this one is empty
    writer_.window(window_);
    window_ = {};
    return writer_.end(steps, finished);
}

}  // namespace session
