#include "engine/session/reference.hpp"

#include <fmt/format.h>

#include <optional>

#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/performers.hpp"
#include "engine/session/resimulate.hpp"

namespace session {

namespace {

constexpr std::int64_t kTailSteps = 250;  // a script that does not say finish runs on for a second

ReferencePass play(const std::shared_ptr<const sim::Model>& model, const sim::Rubric& rubric,
                   const files::Script& script, const std::shared_ptr<AnswerSource>& answers) {
    const auto tape = std::make_shared<TapeRecorder>(nullptr);
    Session session(model, {sim::PracticeMode::solo, tape, answers});
    play_commands(session, script.commands, script.steps + kTailSteps);
    ReferencePass out;
    out.score = sim::score(session.recording(), rubric);
    out.replay = std::make_shared<Replay>(model, tape->tape(), session.recording());
    return out;
}

std::optional<files::Script> shipped_script(const std::string& scenario) {
    try {
        return files::load_script(files::find_script(scenario + ".capable"));
    } catch (const files::FileError&) {
        return std::nullopt;  // a scenario of one's own may have none
    }
}

std::string points_of(const sim::Score& score) {
    return fmt::format("{:.0f} of {:.0f} points", score.total_points, score.total_of);
}

}  // namespace

ReferencePass reference_pass(std::shared_ptr<const sim::Model> model, const sim::Rubric& rubric,
                             std::shared_ptr<AnswerSource> answers) {
    if (const auto script = shipped_script(model->scenario.id)) {
        ReferencePass shipped = play(model, rubric, *script, answers);
        if (shipped.score.verdict == sim::Verdict::pass) {
            shipped.words = "The shipped capable script on this anatomy, " + points_of(shipped.score);
            return shipped;
        }
    }
    const files::Script composed =
        files::compile_script(perform(model, Performer{}, answers).script, "composed script");
    ReferencePass out = play(model, rubric, composed, answers);
    out.words = "A capable script composed for this anatomy, " + points_of(out.score);
    if (out.score.verdict != sim::Verdict::pass) out.words += "; it does not pass here: look at it with care";
    return out;
}

}  // namespace session
