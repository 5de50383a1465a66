#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/attempt.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "engine/files/rubric.hpp"
#include "engine/files/script.hpp"
#include "engine/gl/moment_pictures.hpp"
#include "engine/gl/window.hpp"
#include "engine/report/debrief_pdf.hpp"
#include "engine/report/score_text.hpp"
#include "engine/session/paper_section.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/view/head_look.hpp"
#include "tools/pk/commands.hpp"

/// Commands about attempts: make one from a script, score it, check it, recompute it, print it.

namespace pk {

namespace {

constexpr std::int64_t kTailSteps = 250;  // a script that does not say finish runs on for a second

struct Judged {
    files::LoadedAttempt attempt;
    sim::Rubric rubric;
    sim::Score score;
};

Judged judge(const std::string& path) {
    Judged out{files::read_attempt(path), {}, {}};
    out.rubric = files::parse_rubric(out.attempt.header.rubric, path).rubric;
    out.score = sim::score(out.attempt.recording, out.rubric);
    return out;
}

/// Pictures of the costliest moments; none, with the reason said, where nothing can be drawn.
std::vector<report::Picture> pictures_of(const Judged& judged, session::Replay& replay,
                                         const std::shared_ptr<const sim::Model>& model,
                                         const std::vector<report::Loss>& losses) {
    constexpr int kWindowW = 640, kWindowH = 480;
    // a picture needs no display
    if (std::getenv("DISPLAY") == nullptr && std::getenv("WAYLAND_DISPLAY") == nullptr)
        setenv("SDL_VIDEODRIVER", "offscreen", 0);
    try {
        const gl::Window window({"pk", kWindowW, kWindowH, false});
        gl::Renderer renderer(files::shipped_folder() / "assets/shaders");
        view::HeadLook look;
        if (judged.attempt.scenario.head)
            look = view::build_head_look(*judged.attempt.scenario.head, session::two_threads(), {});
        view::Scene scene(model, std::move(look));
        return gl::moment_pictures(renderer, scene, replay, losses);
    } catch (const gl::NoGraphics& error) {
        fmt::print(stderr, "pk: printed without pictures: {}\n", error.what());
        return {};
    }
}

/// What needs the patient and the attempt made to stand still: pictures and the section along the shaft.
void add_moments(const Judged& judged, report::DebriefFacts& facts) {
    if (!judged.attempt.report.intact() || judged.attempt.recording.rows.empty()) return;
    const std::shared_ptr<const sim::Model> model = session::model_of(judged.attempt, show_progress);
    session::Replay replay(model, session::tape_of(judged.attempt), judged.attempt.recording);
    replay.build();
    if (!replay.caveat().empty()) fmt::print(stderr, "pk: {}\n", replay.caveat());
    const std::vector<report::Loss> losses = report::losses(judged.score, judged.attempt.recording);
    facts.section = session::paper_section(replay, losses, judged.rubric.bands);
    facts.pictures = pictures_of(judged, replay, model, losses);
    facts.threads = session::threads_at_end(replay);
    if (judged.attempt.recording.visit) facts.outline = view::head_outline(*model->anatomy);
}

/// A damaged record is scored as far as it goes, and says so.
void warn_if_damaged(const files::LoadedAttempt& attempt) {
    if (attempt.report.intact()) return;
    fmt::print(stderr, "pk: this record is not intact; the figures are of what stands before the first problem\n");
    for (const files::Problem& problem : attempt.report.problems)
        fmt::print(stderr, "pk: line {}: {}\n", problem.line, problem.what);
}

}  // namespace

void show_progress(double fraction, std::string_view what) {
    if (isatty(STDERR_FILENO) == 0) return;
    fmt::print(stderr, "\r{:3.0f} %  {:<40}{}", 100.0 * fraction, what, fraction >= 1.0 ? "\n" : "");
}

/// The last reason, in words.
std::string_view why_unanswered(const sim::Recording& recording) {
    const auto last = std::find_if(recording.events.rbegin(), recording.events.rend(), [](const sim::Event& event) {
        return event.kind == sim::EventKind::tissue_trouble;
    });
    if (last == recording.events.rend()) return "no reason was recorded";
    return sim::words_of(static_cast<sim::ThreadTrouble>(last->value[0]));
}

Run add_rehearse(CLI::App& app) {
    struct Arguments {
        std::string scenario, script, out;
        std::optional<std::uint64_t> seed;
        bool json = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command =
        app.add_subcommand("rehearse", "play a script on a scenario without a window and keep the attempt");
    command->add_option("scenario", a->scenario, "name of a scenario, or a file")->required();
    command->add_option("--script", a->script, "name of a script, or a file")->required();
    command->add_option("--out", a->out, "where to write the attempt")->required();
    command->add_option("--seed", a->seed, "variant of the anatomy, in place of the scenario's");
    command->add_flag("--json", a->json, "print figures for programs");
    return [a] {
        const session::Prepared prepared = session::prepare(a->scenario, a->seed, show_progress);
        const files::Script script = files::load_script(files::find_script(a->script));
        const auto recorder = std::make_shared<session::AttemptRecorder>(
            files::AttemptWriter(a->out, session::header_of(prepared, sim::PracticeMode::solo),
                                 files::load_or_create_keys(), {files::ledger_path()}));
        session::Session session(prepared.model,
                                 {sim::PracticeMode::solo, recorder, session::inline_answers(prepared)});
        session::play_commands(session, script.commands, script.steps + kTailSteps);
        if (session.faults().threads_unanswered > 0)
            fmt::print(stderr, "pk: {} questions about threads had no answer: {}\n",
                       session.faults().threads_unanswered, why_unanswered(session.recording()));
        if (!session.finished()) recorder->close(false);
        if (!recorder->trouble().empty()) {
            fmt::print(stderr, "pk: {}\n", recorder->trouble());
            return 1;
        }
        if (session.faults().any()) {
            fmt::print(stderr, "pk: the simulation stopped at {:.3f} s: {} values not finite, {} answers missing\n",
                       session.time_s(), session.faults().non_finite, session.faults().answers_missing);
            return 1;
        }
        if (a->json)
            fmt::print("{}\n", nlohmann::json{{"attempt", a->out},
                                              {"time_s", session.time_s()},
                                              {"finished", session.finished()},
                                              {"tracks", session.recording().tracks.size()}}
                                   .dump());
        else
            fmt::print("{}: {:.1f} s of work, {}\n", a->out, session.time_s(),
                       session.finished() ? "finished" : "not finished");
        return 0;
    };
}

Run add_score(CLI::App& app) {
    struct Arguments {
        std::string attempt;
        bool json = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("score", "figures and points of an attempt, from its record");
    command->add_option("attempt", a->attempt, "the attempt")->required();
    command->add_flag("--json", a->json, "print figures for programs");
    return [a] {
        const Judged judged = judge(a->attempt);
        warn_if_damaged(judged.attempt);
        fmt::print("{}\n", a->json ? report::score_json(judged.score)
                                   : report::score_table(judged.attempt.recording, judged.score));
        return judged.attempt.report.intact() ? 0 : 1;
    };
}

Run add_verify(CLI::App& app) {
    struct Arguments {
        std::string attempt;
        bool json = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("verify", "is the record of an attempt as it was written, and whole?");
    command->add_option("attempt", a->attempt, "the attempt")->required();
    command->add_flag("--json", a->json, "print figures for programs");
    return [a] {
        const files::VerifyReport report = files::verify(a->attempt, files::ledger_path());
        if (a->json) {
            nlohmann::json problems = nlohmann::json::array();
            for (const files::Problem& problem : report.problems)
                problems.push_back({{"line", problem.line}, {"what", problem.what}});
            fmt::print("{}\n", nlohmann::json{{"verdict", report.verdict()},
                                              {"lines", report.lines},
                                              {"attempt_id", report.attempt_id},
                                              {"public_key", report.public_key},
                                              {"problems", problems},
                                              {"notes", report.notes}}
                                   .dump());
        } else {
            fmt::print("{}: {} ({} lines)\n", a->attempt, report.verdict(), report.lines);
            for (const files::Problem& problem : report.problems)
                fmt::print("  line {}: {}\n", problem.line, problem.what);
            for (const std::string& note : report.notes) fmt::print("  {}\n", note);
        }
        return report.intact() && !report.cut ? 0 : 1;
    };
}

Run add_resimulate(CLI::App& app) {
    struct Arguments {
        std::string attempt;
        std::uint64_t disorder = 0;
        bool json = false, worker = false, tissue = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("resimulate", "recompute an attempt from its commands and compare");
    command->add_option("attempt", a->attempt, "the attempt")->required();
    command->add_flag("--tissue", a->tissue, "build the tissue and work out anew what it answered about threads, too");
    command->add_flag("--worker", a->worker, "let a background thread answer for the tissue");
    command->add_option("--disorder", a->disorder, "delay and shuffle the worker's answers by this seed");
    command->add_flag("--json", a->json, "print figures for programs");
    return [a] {
        const files::LoadedAttempt attempt = files::read_attempt(a->attempt);
        warn_if_damaged(attempt);
        std::shared_ptr<session::AnswerSource> answers;
        const std::shared_ptr<const sim::Model> model = session::model_of(attempt, show_progress);
        if (a->worker || a->disorder != 0)
            answers = std::make_shared<session::Worker>(
                a->disorder, session::thread_tissue_maker(model, session::patient_hash_of(attempt)));
        const session::Resimulation result = session::resimulate(attempt, model, answers, a->tissue);
        const double speed =
            result.seconds > 0.0 ? static_cast<double>(result.steps) * sim::kStepS / result.seconds : 0.0;
        if (a->json) {
            fmt::print("{}\n", nlohmann::json{{"same_build", result.same_build},
                                              {"same_bits", result.same_bits},
                                              {"within_tolerance", result.within_tolerance},
                                              {"steps", result.steps},
                                              {"speed", speed},
                                              {"differences", result.differences}}
                                   .dump());
        } else {
            fmt::print("{}: {} steps at {:.0f} times playing time: {}\n", a->attempt, result.steps, speed,
                       result.same_bits          ? "the same bits"
                       : result.within_tolerance ? "within the tolerance, not the same bits"
                                                 : "differs");
            if (!result.same_build) fmt::print("  recorded by another build: the recorded verdict stands\n");
            for (const std::string& difference : result.differences) fmt::print("  {}\n", difference);
        }
        return result.holds() ? 0 : 1;
    };
}

Run add_report(CLI::App& app) {
    struct Arguments {
        std::string attempt, pdf, paper = "a4";
        bool plain = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("report", "the debrief of an attempt on paper");
    command->add_option("attempt", a->attempt, "the attempt")->required();
    command->add_option("--pdf", a->pdf, "where to write it")->required();
    command->add_flag("--plain", a->plain, "without pictures: no patient is prepared");
    command->add_option("--paper", a->paper, "a4 or letter")->check(CLI::IsMember({"a4", "letter"}));
    return [a] {
        const Judged judged = judge(a->attempt);
        warn_if_damaged(judged.attempt);
        report::DebriefFacts facts;
        facts.attempt_hash = files::hex(judged.attempt.report.last_hash);
        facts.record_state = std::string(judged.attempt.report.verdict());
        facts.build = session::program_version() + ", " + session::build_id();
        facts.rubric_title = judged.rubric.title;
        if (!a->plain) add_moments(judged, facts);
        const auto paper = a->paper == "a4" ? report::Paper::a4 : report::Paper::letter;
        files::write_atomically(
            a->pdf, report::debrief_pdf(judged.attempt.recording, judged.score, judged.rubric, facts, paper));
        fmt::print("debrief written to {}\n", a->pdf);
        return 0;
    };
}

}  // namespace pk
