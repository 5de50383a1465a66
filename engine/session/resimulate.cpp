#include "engine/session/resimulate.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <thread>

#include "build_stamp.hpp"
#include "engine/files/trace_text.hpp"
#include "engine/session/recorder.hpp"

namespace session {

namespace {

constexpr std::size_t kMostDifferences = 8;
constexpr double kForceToleranceN = 0.05;

void differ(Resimulation& out, std::string words) {
    if (out.differences.size() < kMostDifferences) out.differences.push_back(std::move(words));
}

/// Compare two lists by the text that the log would hold: what reads the same is the same.
template <typename T, typename Text>
bool same_list(const std::vector<T>& recorded, const std::vector<T>& computed, const char* what, const Text& text,
               Resimulation& out) {
    if (recorded.size() != computed.size()) {
        differ(out, fmt::format("{}: {} recorded, {} recomputed", what, recorded.size(), computed.size()));
        return false;
    }
    for (std::size_t i = 0; i < recorded.size(); ++i)
        if (text(recorded[i]) != text(computed[i])) {
            differ(out, fmt::format("{} {} of {} differs", what, i + 1, recorded.size()));
            return false;
        }
    return true;
}

/// Keeps the answers used and the state at each recorded checkpoint.
class Witness final : public Recorder {
 public:
    void record(const StepRecord& record, const sim::State& state) override {
        for (const sim::Answer& answer : record.answers) answers.push_back({record.step, answer});
        if (record.about_threads) about_threads.push_back({record.step, *record.about_threads});
        if (state.step % kCheckpointSteps == 0 && state.in_skin)
            checkpoints.push_back(*read_checkpoint(checkpoint_of(state)));  // as exact as the recorded ones
    }
    std::vector<files::AnswerAt> answers;
    std::vector<files::ThreadAnswerAt> about_threads;
    std::vector<Checkpoint> checkpoints;
};

bool near(const Checkpoint& a, const Checkpoint& b) {
    return std::abs(a.inserted_m - b.inserted_m) <= kPlaceToleranceM &&
           std::abs(a.hand_n - b.hand_n) <= kForceToleranceN && glm::length(a.tip_m - b.tip_m) <= kPlaceToleranceM &&
           a.tracks == b.tracks && a.holes == b.holes;
}

bool checkpoints_near(const std::vector<files::Checkpoint>& recorded, const std::vector<Checkpoint>& computed,
                      Resimulation& out) {
    bool all = true;
    for (const files::Checkpoint& one : recorded) {
        const auto was = read_checkpoint(one.json);
        const auto is = std::find_if(computed.begin(), computed.end(),
                                     [&](const Checkpoint& c) { return was && c.step == was->step; });
        if (was && is != computed.end() && near(*was, *is)) continue;
        differ(out, fmt::format("checkpoint at {:.1f} s is beyond the tolerance",
                                static_cast<double>(was ? was->step : one.step) * sim::kStepS));
        all = false;
    }
    return all;
}

template <typename T, typename Append>
auto as_text(const Append& append) {
    return [append](const T& value) {
        std::string text;
        append(text, value);
        return text;
    };
}

}  // namespace

std::string patient_hash_of(const files::LoadedAttempt& attempt) {
    return attempt.header.patient ? attempt.header.patient->hash : "";
}

void play_commands(Session& session, std::span<const files::TimedCommand> commands, std::int64_t until_step) {
    std::size_t next = 0;
    while (!session.finished() && session.state().step < until_step && !session.faults().any()) {
        while (next < commands.size() && commands[next].step == session.state().step)
            session.send(commands[next++].command);
        // with nothing to send, run on to the next command in one go
        const std::int64_t until = next < commands.size() ? std::min(commands[next].step, until_step) : until_step;
        const auto steps = static_cast<int>(std::max<std::int64_t>(1, until - session.state().step));
        if (session.advance(steps) == 0 && session.waiting())
            std::this_thread::sleep_for(std::chrono::microseconds(100));
    }
}

Resimulation resimulate(const files::LoadedAttempt& attempt, std::shared_ptr<const sim::Model> model,
                        std::shared_ptr<AnswerSource> answers, bool threads_anew) {
    Resimulation out;
    if (!answers) answers = std::make_shared<InlineAnswers>(thread_tissue_maker(model, patient_hash_of(attempt), true));
    if (!threads_anew) {
        std::vector<sim::ThreadAnswer> recorded;
        for (const files::ThreadAnswerAt& at : attempt.about_threads) recorded.push_back(at.answer);
        answers = std::make_shared<RecordedThreads>(std::move(recorded), std::move(answers));
    }
    out.same_build = attempt.header.build_id == build_id() && attempt.header.program_version == program_version();
    const auto witness = std::make_shared<Witness>();
    Session session(std::move(model), {attempt.header.mode, witness, std::move(answers)});

    const auto start = std::chrono::steady_clock::now();
    play_commands(session, attempt.commands, attempt.recording.steps);
    out.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    out.steps = session.state().step;

    const sim::Recording& was = attempt.recording;
    const sim::Recording& is = session.recording();
    const auto row_text = [](const sim::TraceRow& row) {
        std::string text;
        files::ColumnMemory alone;
        files::append_rows(text, {&row, 1}, alone);
        return text;
    };
    const auto answer_text = [](const files::AnswerAt& a) {
        return fmt::format("{} {} {} {} {} {}", a.step, a.answer.key, files::value_text(a.answer.normal_stiffness_pa),
                           files::value_text(a.answer.tangent_stiffness_pa),
                           files::value_text(a.answer.tent_per_force_m_per_n),
                           files::value_text(a.answer.tent_width_m));
    };
    const bool rows = same_list(was.rows, is.rows, "trace row", row_text, out);
    const bool events = same_list(was.events, is.events, "event", as_text<sim::Event>(files::append_event), out);
    const bool tracks = same_list(was.tracks, is.tracks, "track", as_text<sim::TrackRecord>(files::append_track), out);
    const bool asked = same_list(attempt.answers, witness->answers, "answer", answer_text, out);
    const auto lift_text = [](const sim::LiftRow& row) {
        std::string text;
        files::ColumnMemory alone;
        files::append_lifts(text, {&row, 1}, alone);
        return text;
    };
    const auto about_text = [](const files::ThreadAnswerAt& a) {
        std::string text;
        files::ColumnMemory alone;
        files::append_thread_answers(text, {&a, 1}, alone);
        return text;
    };
    const bool lifts = same_list(was.lifts, is.lifts, "row of lift", lift_text, out);
    const bool about =
        same_list(attempt.about_threads, witness->about_threads, "answer about threads", about_text, out);
    out.same_bits = rows && events && tracks && asked && lifts && about && out.steps == was.steps;
    out.within_tolerance = checkpoints_near(attempt.checkpoints, witness->checkpoints, out);
    return out;
}

std::string program_version() { return PLANEKEEPER_VERSION; }

std::string build_id() { return PLANEKEEPER_BUILD_ID; }

}  // namespace session
