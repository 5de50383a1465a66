#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "engine/files/bytes.hpp"
#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "engine/session/performers.hpp"
#include "engine/session/publishing.hpp"
#include "engine/session/variant_choice.hpp"
#include "sim/anatomy/head.hpp"
#include "tools/pk/commands.hpp"

/// Cases from the desk: begin one from another, look at what its plan would meet, publish it once it has been tried.

namespace pk {

namespace {

namespace fs = std::filesystem;

/// A folder as the shipped one: cases or drills, patients and rubrics beside each other.
int begin_case(const std::string& name, const std::string& from, const std::string& title, const fs::path& folder) {
    const fs::path source = files::find_scenario(from);
    const files::LoadedScenario loaded = files::load_scenario(source);
    auto document = nlohmann::ordered_json::parse(loaded.source.text);
    document["title"] = title.empty() ? name : title;
    const fs::path file = folder / (loaded.scenario.kind == "drill" ? "drills" : "cases") / (name + ".json");
    if (fs::exists(file)) throw files::FileError(file.string(), "", "there already", "a name that is free");
    const auto put = [&](const fs::path& to, const std::string& text) {
        fs::create_directories(to.parent_path());
        if (!fs::exists(to)) files::write_atomically(to, text);
        fmt::print("{}\n", to.string());
    };
    if (loaded.patient_source)
        put(folder / "patients" / (loaded.patient_source->id + ".json"), loaded.patient_source->text);
    const files::SourceText rubric = files::load_rubric(files::find_rubric_for(source, loaded.scenario.rubric)).source;
    put(folder / "rubrics" / (rubric.id + ".json"), rubric.text);
    put(file, document.dump(1) + "\n");
    return 0;
}

/// What lies along a planned vector at the middle of the superficial fat.
struct Along {
    double length_m = 0.0, thinnest_m = 1.0, mean_m = 0.0, nearest_m = 1.0;
    std::string nearest;
};

Along look_along(const sim::Anatomy& anatomy, const sim::PlannedVector& vector) {
    constexpr int kStations = 24;
    Along out;
    std::vector<sim::Clearance> found;
    sim::Vec3 before{};
    for (int i = 0; i <= kStations; ++i) {
        const double t = static_cast<double>(i) / kStations;
        const sim::SkinPoint skin = anatomy.nearest_skin(glm::mix(vector.entry_m, vector.end_m, t));
        if (i > 0) out.length_m += glm::length(skin.position_m - before);
        before = skin.position_m;
        const sim::LayerPoint layers = anatomy.layers_at(skin.position_m - 0.5 * sim::kMm * skin.normal);
        const double top_m = layers.bottom_m[0], thick_m = layers.bottom_m[1] - layers.bottom_m[0];
        out.thinnest_m = std::min(out.thinnest_m, thick_m);
        out.mean_m += thick_m / (kStations + 1);
        const sim::Vec3 middle_m = skin.position_m - (top_m + 0.5 * thick_m) * skin.normal;
        found.clear();
        anatomy.clearances(middle_m, middle_m, 30.0 * sim::kMm, found);
        for (const sim::Clearance& one : found)
            if (one.distance_m < out.nearest_m) {
                out.nearest_m = one.distance_m;
                out.nearest = anatomy.structures()[static_cast<std::size_t>(one.structure)].name;
            }
    }
    return out;
}

int preview(const std::string& name, bool play, bool json) {
    const session::Prepared prepared = session::prepare(name, std::nullopt, show_progress);
    const sim::Scenario& scenario = prepared.loaded.scenario;
    nlohmann::json out{{"title", scenario.title}, {"goal", scenario.goal}, {"vectors", nlohmann::json::array()}};
    if (!json) fmt::print("{}\n{}\n\n", scenario.title, scenario.goal);
    for (const sim::PlannedVector& vector : scenario.plan) {
        const Along along = look_along(*prepared.model->anatomy, vector);
        out["vectors"].push_back({{"side", sim::name_of(vector.side)},
                                  {"planned_length_mm", 1e3 * vector.length_m},
                                  {"skin_length_mm", 1e3 * along.length_m},
                                  {"fat_thinnest_mm", 1e3 * along.thinnest_m},
                                  {"fat_mean_mm", 1e3 * along.mean_m},
                                  {"nearest", along.nearest},
                                  {"nearest_mm", 1e3 * along.nearest_m}});
        if (!json)
            fmt::print(
                "{} vector: {:.1f} mm along the skin (planned {:.1f}), superficial fat {:.1f} mm, at its "
                "thinnest {:.1f} mm; nearest at its middle: {}\n",
                sim::name_of(vector.side), 1e3 * along.length_m, 1e3 * vector.length_m, 1e3 * along.mean_m,
                1e3 * along.thinnest_m,
                along.nearest.empty() ? "nothing within 30 mm"
                                      : fmt::format("{}, {:.1f} mm to its wall", along.nearest, 1e3 * along.nearest_m));
    }
    if (play) {
        const auto answers = session::inline_answers(prepared);
        const session::Performance done = session::perform(prepared.model, {}, answers);
        const sim::Score score = sim::score(done.recording, prepared.rubric.rubric);
        out["capable"] = {
            {"verdict", sim::name_of(score.verdict)}, {"points", score.total_points}, {"of", score.total_of}};
        for (const sim::ScoredMeasure& one : score.measures)
            if (one.measure.name.starts_with("lift_")) out["capable"][one.measure.name] = one.measure.shown;
        if (!json) {
            fmt::print("\ncapable hands: {}, {:.1f} of {:.1f} points\n", sim::name_of(score.verdict),
                       score.total_points, score.total_of);
            for (const sim::ScoredMeasure& one : score.measures)
                if (one.measure.name.starts_with("lift_"))
                    fmt::print("  {}: {:.2f} {}\n", one.measure.name, one.measure.shown, one.measure.unit);
            for (const sim::Deduction& one : score.deductions) fmt::print("  -{:.1f}  {}\n", one.points, one.what);
        }
    }
    if (json) fmt::print("{}\n", out.dump(2));
    return 0;
}

std::string script_text(const std::string& given) {
    return given.empty() ? "" : files::read_bytes(files::find_script(given), files::kDocumentBytes);
}

void print_trial(const char* who, const session::Trial& trial) {
    fmt::print("{}: {}, {:.1f} of {:.1f} points\n", who, trial.verdict, trial.points, trial.possible);
    for (const std::string& reason : trial.reasons) fmt::print("  {}\n", reason);
}

int publish_case(const std::string& name, const std::string& capable_file, const std::string& careless_file) {
    const fs::path file = files::find_scenario(name);
    const session::Prepared prepared = session::prepare(name, std::nullopt, show_progress);
    const session::Tryout tried = session::try_out(prepared, script_text(capable_file), script_text(careless_file));
    print_trial("capable", tried.well);
    print_trial("careless", tried.badly);
    for (const std::string& why : tried.refused) fmt::print(stderr, "pk: not published: {}\n", why);
    if (!tried.refused.empty()) return 1;
    const files::KeyPair key = files::load_or_create_keys();
    const auto publication = session::publication_of(prepared, tried.well, tried.badly, key);
    fmt::print("published: {}\n",
               session::publish(file, prepared, publication, tried.capable, tried.careless, key).string());
    return 0;
}

int check_case(const std::string& name) {
    const session::Prepared prepared = session::prepare(name, std::nullopt, show_progress);
    const fs::path file = files::own_scenarios_folder() / "published" / (prepared.loaded.source.id + ".json");
    const session::Publication publication =
        session::parse_publication(files::read_bytes(file, files::kDocumentBytes), file.string());
    const std::vector<std::string> changed = session::changes_since(publication, prepared);
    for (const std::string& what : changed) fmt::print("{}\n", what);
    if (changed.empty())
        fmt::print("as it was published at {} by {}\n", publication.published_at, files::hex(publication.publisher));
    return changed.empty() ? 0 : 1;
}

}  // namespace

Run add_case(CLI::App& app) {
    struct Arguments {
        std::string name, from, title, folder = ".", capable, careless;
        bool play = false, json = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("case", "write a scenario of your own: new, preview, publish, check");
    command->require_subcommand(1);
    CLI::App* fresh = command->add_subcommand("new", "begin one as a copy of another");
    fresh->add_option("name", a->name, "of its file: letters, digits and _")
        ->required()
        ->check([](const std::string& name) {
            const bool good = !name.empty() && name.size() <= 60 && std::all_of(name.begin(), name.end(), [](char c) {
                return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
            });
            return good ? std::string() : name + " is not accepted; accepted: 1 to 60 letters, digits and _";
        });
    fresh->add_option("--from", a->from, "scenario to begin with")->required();
    fresh->add_option("--title", a->title, "as learners read it");
    fresh->add_option("--out", a->folder, "folder for cases, patients and rubrics");
    CLI::App* looks = command->add_subcommand("preview", "what its plan would meet, and what capable hands reach");
    looks->add_option("case", a->name, "its file")->required();
    looks->add_flag("--play", a->play, "let a scripted performer work it");
    looks->add_flag("--json", a->json, "print figures for programs");
    CLI::App* goes = command->add_subcommand("publish", "try it, and put it where the trainer finds it");
    goes->add_option("case", a->name, "its file")->required();
    goes->add_option("--capable", a->capable, "script that reaches the goal; composed when not given");
    goes->add_option("--careless", a->careless, "script that fails; composed when not given");
    CLI::App* checks = command->add_subcommand("check", "is it still as it was published?");
    checks->add_option("case", a->name, "its name, or its file")->required();
    return [=] {
        if (fresh->parsed()) return begin_case(a->name, a->from, a->title, a->folder);
        if (looks->parsed()) return preview(a->name, a->play, a->json);
        if (goes->parsed()) return publish_case(a->name, a->capable, a->careless);
        return check_case(a->name);
    };
}

}  // namespace pk
