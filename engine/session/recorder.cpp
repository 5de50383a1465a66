#include "engine/session/recorder.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

namespace session {

std::string checkpoint_of(const sim::State& s) {
    const auto whole = [](double value, double per_unit) { return std::llround(value * per_unit); };
    return fmt::format("[{},{},{},{},{},{},{},{}]", s.step, whole(s.inserted_m, sim::kRowPerM),
                       whole(s.tip_m.x, sim::kRowPerM), whole(s.tip_m.y, sim::kRowPerM),
                       whole(s.tip_m.z, sim::kRowPerM), whole(s.force.hand_n, sim::kRowPerN), s.tracks_opened,
                       s.holes.size());
}

std::optional<Checkpoint> read_checkpoint(const std::string& text) {
    const auto list = nlohmann::json::parse(text, nullptr, false);
    if (!list.is_array() || list.size() != 8) return std::nullopt;
    std::array<std::int64_t, 8> is{};
    for (std::size_t i = 0; i < is.size(); ++i) {
        if (!list[i].is_number_integer()) return std::nullopt;
        is[i] = list[i].get<std::int64_t>();
    }
    const auto metres = [&](std::size_t i) { return static_cast<double>(is[i]) / sim::kRowPerM; };
    return Checkpoint{is[0], metres(1), {metres(2), metres(3), metres(4)}, static_cast<double>(is[5]) / sim::kRowPerN,
                      is[6], is[7]};
}

void AttemptRecorder::record(const StepRecord& record, const sim::State& state) {
    for (const sim::Command& command : record.commands) window_.commands.push_back({record.step, command});
    for (const sim::Answer& answer : record.answers) window_.answers.push_back({record.step, answer});
    const auto append = [](auto& to, const auto& from) { to.insert(to.end(), from.begin(), from.end()); };
    append(window_.rows, record.report.rows);
    append(window_.events, record.report.events);
    append(window_.tracks, record.report.tracks);
    append(window_.lifts, record.report.lifts);
    if (record.about_threads) window_.about_threads.push_back({record.step, *record.about_threads});
    window_.to_step = state.step;
    // a checkpoint only beside something: a resting hand costs nothing
    if (state.step % kCheckpointSteps == 0 && state.in_skin) window_.checkpoint_json = checkpoint_of(state);
    if (state.step % files::kWindowSteps == 0) {
        writer_.window(window_);
        window_ = {};
    }
    if (state.finished) close(true);
}

bool AttemptRecorder::park() {
    if (closed_) return writer_.trouble().empty();
    window_.to_step = std::max(window_.to_step, writer_.steps());  // nothing may have happened since the last window
    writer_.window(window_);
    window_ = {};
    return writer_.trouble().empty();
}

bool AttemptRecorder::close(bool finished) {
    if (closed_) return writer_.trouble().empty();
    const std::int64_t steps = std::max(window_.to_step, writer_.steps());
    park();
    closed_ = true;
    return writer_.end(steps, finished);
}

}  // namespace session
