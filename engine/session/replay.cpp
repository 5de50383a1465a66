#include "engine/session/replay.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/files/file_error.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/tissue/thread_tissue.hpp"

namespace session {

namespace {

constexpr std::int64_t kTellEachSteps = 1000;

bool key_below(const files::AnswerAt& a, std::uint64_t key) { return a.answer.key < key; }

}  // namespace

Tape tape_of(const files::LoadedAttempt& attempt) {
    return {attempt.commands, attempt.answers, attempt.about_threads, {}, attempt.recording.steps};
}

Growth growth_of(const files::LoadedAttempt& attempt, GrownTo& from) {
    Growth out;
    const auto rest = [](const auto& all, std::size_t& at, auto& to) {
        to.assign(all.begin() + static_cast<std::ptrdiff_t>(std::min(at, all.size())), all.end());
        at = all.size();
    };
    const sim::Recording& recording = attempt.recording;
    rest(attempt.commands, from.commands, out.tape.commands);
    rest(attempt.answers, from.answers, out.tape.answers);
    rest(attempt.about_threads, from.about_threads, out.tape.about_threads);
    rest(recording.rows, from.rows, out.recording.rows);
    rest(recording.events, from.events, out.recording.events);
    rest(recording.tracks, from.tracks, out.recording.tracks);
    rest(recording.lifts, from.lifts, out.recording.lifts);
    out.tape.steps = out.recording.steps = recording.steps;
    out.recording.finished = recording.finished;
    return out;
}

files::LoadedAttempt open_attempt(const std::filesystem::path& path, const std::filesystem::path& ledger) {
    files::LoadedAttempt attempt = files::read_attempt(path, ledger);
    if (attempt.report.intact()) return attempt;
    const files::Problem& first = attempt.report.problems.front();
    throw files::FileError(path.string(), first.line > 0 ? fmt::format("line {}", first.line) : "", first.what,
                           "a record as it was written; pk verify names all that was changed");
}

void TapeRecorder::record(const StepRecord& record, const sim::State& state) {
    for (const sim::Command& command : record.commands) tape_.commands.push_back({record.step, command});
    for (const sim::Answer& answer : record.answers) tape_.answers.push_back({record.step, answer});
    if (record.about_threads) tape_.about_threads.push_back({record.step, *record.about_threads});
    tape_.steps = state.step;
    if (state.step % kSnapshotSteps == 0) tape_.snapshots.push_back(state);
    if (next_) next_->record(record, state);
}

Replay::Replay(std::shared_ptr<const sim::Model> model, Tape tape, sim::Recording recording)
    : model_(std::move(model)),
      tape_(std::move(tape)),
      recording_(std::move(recording)),
      state_(sim::initial_state(*model_)) {
    std::stable_sort(tape_.answers.begin(), tape_.answers.end(),
                     [](const auto& a, const auto& b) { return a.answer.key < b.answer.key; });
    tape_.snapshots.insert(tape_.snapshots.begin(), state_);
}

sim::StepReport Replay::step_on() {
    const auto by_step = [](const files::TimedCommand& c, std::int64_t step) { return c.step < step; };
    std::vector<sim::Command> commands;
    for (auto at = std::lower_bound(tape_.commands.begin(), tape_.commands.end(), state_.step, by_step);
         at != tape_.commands.end() && at->step == state_.step; ++at)
        commands.push_back(at->command);
    std::vector<sim::Answer> answers;
    for (const sim::Request& request : sim::due(state_)) {
        const auto at = std::lower_bound(tape_.answers.begin(), tape_.answers.end(), request.key, key_below);
        if (at != tape_.answers.end() && at->answer.key == request.key) {
            answers.push_back(at->answer);
        } else {
            // a record that was cut off may lack its last answers: they can be worked out
            ++answers_missing_;
            answers.push_back(sim::answer(request));
        }
    }
    const sim::ThreadRequest* about = sim::thread_due(state_);
    if (about == nullptr) return sim::step(*model_, state_, commands, answers);
    const auto at = std::find_if(tape_.about_threads.begin(), tape_.about_threads.end(),
                                 [&](const files::ThreadAnswerAt& a) { return a.answer.key == about->key; });
    if (at != tape_.about_threads.end()) return sim::step(*model_, state_, commands, answers, &at->answer);
    // nobody looks back with the whole tissue at hand: threads stay as they were, and the viewer is told
    ++answers_missing_;
    const sim::ThreadAnswer none = sim::no_answer(*about, sim::ThreadTrouble::no_body);
    return sim::step(*model_, state_, commands, answers, &none);
}

void Replay::compare(const sim::StepReport& report) {
    for (const sim::TraceRow& row : report.rows) {
        while (next_row_ < recording_.rows.size() && recording_.rows[next_row_].step < row.step) ++next_row_;
        if (next_row_ >= recording_.rows.size() || recording_.rows[next_row_].step != row.step) continue;
        deviation_m_ = std::max(deviation_m_, glm::length(recording_.rows[next_row_].tip_m - row.tip_m));
    }
}

void Replay::build(const std::function<void(double, std::string_view)>& progress) {
    tape_.snapshots.resize(1);
    state_ = tape_.snapshots.front();
    built_ = 0;
    next_row_ = 0;
    deviation_m_ = 0.0;
    answers_missing_ = 0;
    stopped_at_ = -1;
    while (build_on(kTellEachSteps) > 0)
        if (progress)
            progress(static_cast<double>(state_.step) / static_cast<double>(tape_.steps),
                     "stepping through the attempt");
}

std::int64_t Replay::build_on(std::int64_t most_steps) {
    if (state_.step != built_) seek(built_);
    const std::int64_t until = std::min(tape_.steps, built_ + most_steps), from = built_;
    while (state_.step < until) {
        const sim::StepReport report = step_on();
        compare(report);
        built_ = state_.step;
        if (report.faults.any()) {
            stopped_at_ = tape_.steps = state_.step;
            break;
        }
        if (state_.step % kSnapshotSteps == 0) tape_.snapshots.push_back(state_);
    }
    return built_ - from;
}

void Replay::grow(const Growth& growth) {
    const auto append = [](auto& to, const auto& more) { to.insert(to.end(), more.begin(), more.end()); };
    append(tape_.commands, growth.tape.commands);
    append(tape_.about_threads, growth.tape.about_threads);
    const auto before = static_cast<std::ptrdiff_t>(tape_.answers.size());
    append(tape_.answers, growth.tape.answers);
    const auto by_key = [](const auto& a, const auto& b) { return a.answer.key < b.answer.key; };
    std::stable_sort(tape_.answers.begin() + before, tape_.answers.end(), by_key);
    std::inplace_merge(tape_.answers.begin(), tape_.answers.begin() + before, tape_.answers.end(), by_key);
    append(recording_.rows, growth.recording.rows);
    append(recording_.events, growth.recording.events);
    append(recording_.tracks, growth.recording.tracks);
    append(recording_.lifts, growth.recording.lifts);
    recording_.steps = growth.recording.steps;
    recording_.finished = growth.recording.finished;
    if (stopped_at_ < 0) tape_.steps = growth.tape.steps;
}

void Replay::seek(std::int64_t step) {
    const std::int64_t wanted = std::clamp<std::int64_t>(step, 0, tape_.steps);
    const auto after = std::upper_bound(tape_.snapshots.begin(), tape_.snapshots.end(), wanted,
                                        [](std::int64_t s, const sim::State& state) { return s < state.step; });
    const sim::State& nearest = *(after - 1);  // the first is at step 0
    // forwards from here is nearer, unless a snapshot lies between
    if (state_.step > wanted || state_.step < nearest.step) state_ = nearest;
    while (state_.step < wanted) static_cast<void>(step_on());
}

std::span<const sim::TrackRecord> Replay::tracks_closed() const {
    const auto closed = std::count_if(recording_.events.begin(), recording_.events.end(), [&](const sim::Event& event) {
        return event.kind == sim::EventKind::track_closed && event.step < state_.step;
    });
    const auto count = std::min(static_cast<std::size_t>(closed), recording_.tracks.size());
    return {recording_.tracks.data(), count};
}

std::string Replay::caveat() const {
    if (stopped_at_ >= 0)
        return fmt::format("Stepping stopped at {:.1f} s: a value was not finite.",
                           static_cast<double>(stopped_at_) * sim::kStepS);
    if (deviation_m_ > kPlaceToleranceM)
        return fmt::format("Recorded by another build: the tip is shown up to {:.2f} mm from its recorded place.",
                           deviation_m_ / sim::kMm);
    if (answers_missing_ > 0)
        return fmt::format("The record lacks {} answers of the tissue: worked out again.", answers_missing_);
    return "";
}

std::int64_t step_at_distance(const sim::Recording& recording, int track, double along_m) {
    const sim::TraceRow* before = nullptr;
    for (const sim::TraceRow& row : recording.rows) {
        if (row.track != track) continue;
        if (row.inserted_m >= along_m) {
            if (before == nullptr || !(row.inserted_m > before->inserted_m)) return row.step;
            const double t = (along_m - before->inserted_m) / (row.inserted_m - before->inserted_m);
            return before->step + std::llround(std::clamp(t, 0.0, 1.0) * static_cast<double>(row.step - before->step));
        }
        if (before == nullptr || row.inserted_m > before->inserted_m) before = &row;
    }
    return before != nullptr ? before->step : 0;
}

int track_at(const sim::Recording& recording, std::int64_t step) {
    int opened = -1;
    for (const sim::Event& event : recording.events)
        if (event.kind == sim::EventKind::track_opened && (event.step <= step || opened < 0)) opened = event.subject;
    for (std::size_t i = 0; i < recording.tracks.size(); ++i)
        if (recording.tracks[i].track == opened) return static_cast<int>(i);
    return recording.tracks.empty() ? -1 : static_cast<int>(recording.tracks.size()) - 1;
}

std::vector<sim::HeldThread> threads_at_end(Replay& replay) {
    const std::int64_t stood = replay.step();
    replay.seek(replay.steps());
    std::vector<sim::HeldThread> out = replay.state().threads;
    replay.seek(stood);
    return out;
}

}  // namespace session
