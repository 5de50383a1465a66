#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "engine/files/attempt.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"
#include "engine/files/rubric.hpp"
#include "engine/files/scenario.hpp"
#include "engine/files/script.hpp"
#include "engine/session/performers.hpp"
#include "engine/session/prepare.hpp"
#include "tools/pk/commands.hpp"

/// Commands about what is written down: is a file in order, and the scripts that scenarios ship with.

namespace pk {

namespace {

namespace fs = std::filesystem;

/// What kind of file this is, by its ending and folder; read by the reader that the trainer uses.
std::string check_file(const fs::path& path) {
    const std::string ending = path.extension().string();
    const std::string folder = fs::absolute(path).parent_path().filename().string();
    if (ending == ".script") {
        const files::Script script = files::load_script(path);
        return fmt::format("script, {:.1f} s, {} commands", static_cast<double>(script.steps) * sim::kStepS,
                           script.commands.size());
    }
    if (ending == ".attempt") {
        const files::LoadedAttempt attempt = files::read_attempt(path);
        return fmt::format("attempt at {}, {}", attempt.recording.scenario_id, attempt.report.verdict());
    }
    if (folder == "rubrics") {
        const files::LoadedRubric rubric = files::load_rubric(path);
        return fmt::format("rubric, {} items, {} critical rules", rubric.rubric.items.size(),
                           rubric.rubric.critical.size());
    }
    if (folder == "patients") {
        static_cast<void>(files::parse_patient(files::load_source(path), path.string()));
        return "patient";
    }
    const files::LoadedScenario loaded = files::load_scenario(path);
    static_cast<void>(files::load_rubric(files::find_rubric_for(path, loaded.scenario.rubric)));
    return fmt::format("{} \"{}\", {} instruments, {} planned vectors", loaded.scenario.kind, loaded.scenario.title,
                       loaded.scenario.tray.size(), loaded.scenario.plan.size());
}

}  // namespace

Run add_check(CLI::App& app) {
    struct Arguments {
        std::vector<std::string> paths;
        bool json = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("check", "is this scenario, patient, rubric, script or attempt in order?");
    command->add_option("files", a->paths, "files, or names of scenarios")->required();
    command->add_flag("--json", a->json, "print findings for programs");
    return [a] {
        nlohmann::json findings = nlohmann::json::array();
        int refused = 0;
        for (const std::string& name : a->paths) {
            try {
                const bool is_path = name.find('/') != std::string::npos || fs::exists(name);
                const fs::path path = is_path ? fs::path(name) : files::find_scenario(name);
                const std::string what = check_file(path);
                findings.push_back({{"file", name}, {"accepted", true}, {"what", what}});
                if (!a->json) fmt::print("{}: {}\n", name, what);
            } catch (const files::FileError& error) {
                ++refused;
                findings.push_back({{"file", error.file()},
                                    {"accepted", false},
                                    {"place", error.place()},
                                    {"value", error.value()},
                                    {"accepts", error.accepted()}});
                if (!a->json) fmt::print(stderr, "pk: {}\n", error.what());
            }
        }
        if (a->json) fmt::print("{}\n", findings.dump(2, ' ', false, nlohmann::json::error_handler_t::replace));
        return refused == 0 ? 0 : 1;
    };
}

Run add_compose(CLI::App& app) {
    struct Arguments {
        std::string scenario, skill = "capable", flaw, out;
        double much = 1.0;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("compose", "write a scenario's script anew by a scripted performer");
    command->add_option("scenario", a->scenario, "name of a scenario, or a file")->required();
    command->add_option("--skill", a->skill, "capable or careless")->check(CLI::IsMember({"capable", "careless"}));
    std::vector<std::string> flaws;
    for (int i = 0; i < session::kFlaws; ++i) flaws.emplace_back(session::name_of(static_cast<session::Flaw>(i)));
    command->add_option("--flaw", a->flaw, "of a capable performer, one thing that is done badly")
        ->check(CLI::IsMember(flaws));
    command->add_option("--much", a->much, "how badly, 0 to 1")->check(CLI::Range(0.0, 1.0));
    command->add_option("--out", a->out, "where to write it")->required();
    return [a] {
        const session::Prepared prepared = session::prepare(a->scenario, std::nullopt, show_progress);
        session::Performer performer;
        for (int i = 0; i < session::kFlaws; ++i)
            if (session::name_of(static_cast<session::Flaw>(i)) == a->flaw)
                performer.flaw[static_cast<std::size_t>(i)] = a->much;
        const auto answers = session::inline_answers(prepared);
        files::write_atomically(a->out, a->skill == "capable"
                                            ? session::perform(prepared.model, performer, answers).script
                                            : session::perform_carelessly(prepared.model, answers).script);
        fmt::print("{}\n", a->out);
        return 0;
    };
}

}  // namespace pk
