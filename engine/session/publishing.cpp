#include "engine/session/publishing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <nlohmann/json.hpp>

#include "engine/files/bytes.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/performers.hpp"
#include "engine/session/replay.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/session/session.hpp"

namespace session {

namespace fs = std::filesystem;
using nlohmann::json;

namespace {

constexpr std::int64_t kPublicationSchema = 1;
constexpr std::int64_t kTailSteps = 250;  // a script that does not say finish runs on for a second
constexpr std::size_t kMostReasons = 5;
constexpr std::string_view kSignatureLine = "\nsignature ";

json json_of(const Trial& trial) {
    return {{"script_hash", trial.script_hash},
            {"verdict", trial.verdict},
            {"points", trial.points},
            {"possible", trial.possible},
            {"reasons", trial.reasons}};
}

Trial trial_in(const files::JsonValue& value) {
    files::JsonObject object = value.object();
    Trial out;
    out.script_hash = object.text("script_hash");
    out.verdict = object.text("verdict");
    out.points = object.number("points", {-1e6, 1e6});
    out.possible = object.number("possible", {0.0, 1e6});
    for (const files::JsonValue& reason : object.at("reasons").array(0, kMostReasons))
        out.reasons.push_back(reason.text());
    object.refuse_unknown();
    return out;
}

std::string now_text() {
    const std::time_t now = std::time(nullptr);
    std::tm utc{};
    gmtime_r(&now, &utc);
    return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", utc.tm_year + 1900, utc.tm_mon + 1, utc.tm_mday,
                       utc.tm_hour, utc.tm_min, utc.tm_sec);
}

std::string result_words(const Trial& trial) {
    std::string out = fmt::format("{}, {:.1f} of {:.1f} points", trial.verdict, trial.points, trial.possible);
    for (const std::string& reason : trial.reasons) out += "; " + reason;
    return out;
}

}  // namespace

Trial try_script(const Prepared& prepared, const std::string& script, const std::string& file) {
    const files::Script compiled = files::compile_script(script, file);
    Session session(prepared.model, {sim::PracticeMode::solo, nullptr, inline_answers(prepared)});
    play_commands(session, compiled.commands, compiled.steps + kTailSteps);
    const sim::Score score = sim::score(session.recording(), prepared.rubric.rubric);
    Trial out{files::hex(files::sha256(script)),
              std::string(sim::name_of(score.verdict)),
              score.total_points,
              score.total_of,
              {}};
    for (const sim::Finding& fault : score.critical_faults) out.reasons.push_back(fault.what);
    for (const sim::Deduction& one : score.deductions) out.reasons.push_back(one.what);
    if (out.reasons.size() > kMostReasons) out.reasons.resize(kMostReasons);
    return out;
}

std::vector<std::string> refusals(const Trial& capable, const Trial& careless) {
    std::vector<std::string> out;
    if (capable.verdict != sim::name_of(sim::Verdict::pass))
        out.push_back("the capable script does not reach the goal: " + result_words(capable));
    if (careless.verdict != sim::name_of(sim::Verdict::fail))
        out.push_back("the careless script does not fail: " + result_words(careless));
    else if (careless.reasons.empty())
        out.emplace_back("the careless script fails for no reason that the rubric names");
    if (capable.script_hash == careless.script_hash) out.emplace_back("both scripts are the same");
    return out;
}

Tryout try_out(const Prepared& prepared, std::string capable, std::string careless) {
    const auto answers = inline_answers(prepared);
    Tryout out{std::move(capable), std::move(careless), {}, {}, {}};
    if (out.capable.empty()) out.capable = perform(prepared.model, {}, answers).script;
    if (out.careless.empty()) out.careless = perform_carelessly(prepared.model, answers).script;
    out.well = try_script(prepared, out.capable, "capable script");
    out.badly = try_script(prepared, out.careless, "careless script");
    out.refused = refusals(out.well, out.badly);
    return out;
}

Publication publication_of(const Prepared& prepared, Trial capable, Trial careless, const files::KeyPair& publisher) {
    return {prepared.loaded.source.id,
            prepared.loaded.source.hash,
            prepared.loaded.patient_source ? prepared.loaded.patient_source->hash : "",
            prepared.rubric.source.hash,
            std::move(capable),
            std::move(careless),
            std::string(program_version()),
            now_text(),
            publisher.public_key};
}

std::string publication_text(const Publication& publication, const files::KeyPair& publisher) {
    const std::string body =
        json{{"schema_version", kPublicationSchema},       {"scenario", publication.scenario},
             {"scenario_hash", publication.scenario_hash}, {"patient_hash", publication.patient_hash},
             {"rubric_hash", publication.rubric_hash},     {"capable", json_of(publication.capable)},
             {"careless", json_of(publication.careless)},  {"program_version", publication.program_version},
             {"published_at", publication.published_at},   {"publisher", files::hex(publication.publisher)}}
            .dump();
    return body + std::string(kSignatureLine) + files::hex(files::sign(publisher, body)) + "\n";
}

Publication parse_publication(const std::string& text, const std::string& file) {
    const std::size_t at = text.rfind(kSignatureLine);
    if (at == std::string::npos) throw files::FileError(file, "", "no signature", "what `pk case publish` wrote");
    const std::string body = text.substr(0, at);
    const auto document = files::JsonDocument::parse(file, body);
    files::JsonObject object = document.root_object(kPublicationSchema);
    Publication out;
    out.scenario = object.text("scenario");
    out.scenario_hash = object.text("scenario_hash");
    out.patient_hash = object.text("patient_hash");
    out.rubric_hash = object.text("rubric_hash");
    out.capable = trial_in(object.at("capable"));
    out.careless = trial_in(object.at("careless"));
    out.program_version = object.text("program_version");
    out.published_at = object.text("published_at");
    const files::JsonValue publisher = object.at("publisher");
    if (const auto key = files::from_hex<32>(publisher.text()))
        out.publisher = *key;
    else
        publisher.refuse("64 lower-case hexadecimal digits");
    object.refuse_unknown();
    std::string signature_text = text.substr(at + kSignatureLine.size());
    if (!signature_text.empty() && signature_text.back() == '\n') signature_text.pop_back();
    const auto signature = files::from_hex<64>(signature_text);
    if (!signature || !files::signature_holds(out.publisher, body, *signature))
        throw files::FileError(file, "signature", "not that of the publisher", "the publication as it was written");
    return out;
}

std::vector<std::string> changes_since(const Publication& publication, const Prepared& now) {
    std::vector<std::string> out;
    const auto compare = [&](const std::string& was, const std::string& is, const char* what) {
        if (was != is) out.push_back(fmt::format("{} has changed since {}", what, publication.published_at));
    };
    compare(publication.scenario_hash, now.loaded.source.hash, "the scenario");
    compare(publication.patient_hash, now.loaded.patient_source ? now.loaded.patient_source->hash : "", "the patient");
    compare(publication.rubric_hash, now.rubric.source.hash, "the rubric");
    return out;
}

fs::path publish(const fs::path& scenario, const Prepared& prepared, const Publication& publication,
                 const std::string& capable, const std::string& careless, const files::KeyPair& publisher) {
    const std::string& name = prepared.loaded.source.id;
    const fs::path shipped = files::shipped_folder() / "scenarios";
    for (const char* kind : {"drills", "cases"})
        if (fs::exists(shipped / kind / (name + ".json")))
            throw files::FileError(scenario.string(), "name", name, "a name that no shipped scenario has");
    static_cast<void>(files::all_learners_folder());
    const fs::path own = files::own_scenarios_folder();
    const auto put = [&](const char* folder, const std::string& file, const std::string& text) {
        std::error_code error;
        fs::create_directories(own / folder, error);
        if (error) throw files::FileError((own / folder).string(), "", error.message(), "a folder that can be written");
        files::write_atomically(own / folder / file, text);
    };
    // patients and rubrics may be shared with cases that were published before: theirs stay as they were
    const auto keep = [&](const char* folder, const files::SourceText& document) {
        const fs::path there = own / folder / (document.id + ".json");
        if (fs::exists(there) && files::load_source(there).hash != document.hash)
            throw files::FileError(there.string(), "", "another one of this name is in use by a published case",
                                   "another name for this one");
        put(folder, document.id + ".json", document.text);
    };
    if (prepared.loaded.patient_source) keep("patients", *prepared.loaded.patient_source);
    keep("rubrics", prepared.rubric.source);
    put("scripts", name + ".capable.script", capable);
    put("scripts", name + ".careless.script", careless);
    put("published", name + ".json", publication_text(publication, publisher));
    // last: what is listed is whole
    const char* kind = prepared.loaded.scenario.kind == "drill" ? "drills" : "cases";
    put(kind, name + ".json", prepared.loaded.source.text);
    return own / kind / (name + ".json");
}

}  // namespace session
