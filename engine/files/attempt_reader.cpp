#include <fmt/format.h>

#include <algorithm>

#include "engine/files/attempt.hpp"
#include "engine/files/attempt_header.hpp"
#include "engine/files/attempt_lines.hpp"
#include "engine/files/command_text.hpp"
#include "engine/files/trace_text.hpp"
#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr std::size_t kMostListed = 1'000'000;            // commands and the like in one line
constexpr std::int64_t kMostSteps = 366LL * 86400 * 250;  // a year

AnswerAt read_answer(const JsonValue& value) {
    NumberList list(value);
    AnswerAt at;
    at.step = list.whole(0, kMostSteps);
    at.answer.key = static_cast<std::uint64_t>(list.whole(0));
    at.answer.normal_stiffness_pa = list.single();
    at.answer.tangent_stiffness_pa = list.single();
    at.answer.tent_per_force_m_per_n = list.single();
    at.answer.tent_width_m = list.single();
    list.end();
    return at;
}

template <typename T, typename Read>
void read_list(JsonObject& line, std::string_view key, std::vector<T>& out, Read read) {
    const auto list = line.find(key);
    if (!list) return;
    for (const JsonValue& item : list->array(1, kMostListed)) out.push_back(read(item));
}

/// Number of the first line that cannot be trusted; past the last when all can.
std::size_t first_doubtful_line(const VerifyReport& report) {
    std::size_t first = report.lines + 1;
    for (const Problem& problem : report.problems)
        if (problem.line > 0 && !report.cut) first = std::min(first, problem.line);
    return first;
}

LoadedAttempt read_lines(std::string_view bytes, const std::string& file, VerifyReport report) {
    LoadedAttempt out;
    out.report = std::move(report);
    const ChainLines chain = split_chain(bytes);
    const std::size_t doubtful = first_doubtful_line(out.report);
    if (chain.lines.empty() || chain.lines.front().seq != 0 || doubtful <= 1)
        throw FileError(file, "line 1", "a header that is missing or changed", "the header line of an attempt");
    AttemptLines reader(file, out);
    for (const ChainLine& line : chain.lines) {
        if (line.number >= doubtful) break;
        reader.line(line);
    }
    return out;
}

}  // namespace

void AttemptLines::line(const ChainLine& chain) {
    const std::string name = fmt::format("{}, line {}", file_, chain.number);
    const JsonDocument document = JsonDocument::parse(name, chain.body);
    JsonObject object = document.root().object();
    static_cast<void>(object.at("seq").integer(0, kMostSteps));
    if (chain.seq == 0)
        header(object);
    else
        window(object);
    object.refuse_unknown();
}

void AttemptLines::header(JsonObject& line) {
    out_.header = read_header(line.at("header"));
    const AttemptHeader& header = out_.header;
    out_.scenario =
        parse_scenario(header.scenario, header.patient, fmt::format("{}, line 1, header.scenario.content", file_));
    sim::Scenario& scenario = out_.scenario.scenario;
    scenario.patient.variant_seed = header.variant_seed;
    sim::Recording& recording = out_.recording;
    recording.scoring_version = header.scoring_version;
    recording.scenario_id = scenario.id;
    recording.scenario_title = scenario.title;
    recording.rubric_id = header.rubric.id;
    recording.mode = header.mode;
    recording.variant_seed = header.variant_seed;
    recording.tray = scenario.tray;
    recording.plan = scenario.plan;
    recording.visit = scenario.visit;
    recording.headings = scenario.headings;
    recording.structures = header.structures;
    recording.ligaments = header.ligaments;
    recording.concerns = header.concerns;
}

void AttemptLines::window(JsonObject& line) {
    sim::Recording& recording = out_.recording;
    recording.steps = line.at("to").integer(recording.steps, kMostSteps);
    if (const auto list = line.find("commands"))
        for (const TimedCommand& command : read_commands(*list)) out_.commands.push_back(command);
    read_list(line, "answers", out_.answers, read_answer);
    if (const auto rows = line.find("rows")) {
        const auto read = read_rows(*rows, memory_.rows);
        recording.rows.insert(recording.rows.end(), read.begin(), read.end());
    }
    if (const auto lifts = line.find("lifts")) {
        const auto read = read_lifts(*lifts, memory_.lifts);
        recording.lifts.insert(recording.lifts.end(), read.begin(), read.end());
    }
    if (const auto answers = line.find("thread_answers")) {
        const auto read = read_thread_answers(*answers, memory_.about_threads);
        out_.about_threads.insert(out_.about_threads.end(), read.begin(), read.end());
    }
    read_list(line, "events", recording.events, read_event);
    read_list(line, "tracks", recording.tracks, read_track);
    if (const auto checkpoint = line.find("checkpoint"))
        out_.checkpoints.push_back({recording.steps, checkpoint->text(1 << 20)});
    if (const auto resumed = line.find("resumed_at")) {
        static_cast<void>(resumed->text());
        ++out_.resumes;
    }
    if (const auto end = line.find("end")) read_end(*end);
}

void AttemptLines::read_end(const JsonValue& value) {
    JsonObject end = value.object();
    out_.recording.finished = end.at("finished").boolean();
    const auto total = [&](std::string_view key, std::size_t is) {
        const JsonValue written = end.at(key);
        if (written.integer(0, INT64_MAX) != static_cast<std::int64_t>(is))
            written.refuse(fmt::format("{}, as many as the lines hold", is));
    };
    total("commands", out_.commands.size());
    total("answers", out_.answers.size());
    total("rows", out_.recording.rows.size());
    total("events", out_.recording.events.size());
    total("tracks", out_.recording.tracks.size());
    if (out_.header.schema_version >= 4) {
        total("thread_answers", out_.about_threads.size());
        total("lifts", out_.recording.lifts.size());
    }
    end.refuse_unknown();
}

LoadedAttempt read_attempt(const std::filesystem::path& path, const std::filesystem::path& ledger) {
    VerifyReport report = verify(path, ledger);
    return read_lines(read_bytes(path, kAttemptBytes), path.string(), std::move(report));
}

LoadedAttempt read_attempt_bytes(std::string_view bytes, const std::string& name) {
    return read_lines(bytes, name, verify_bytes(bytes, name));
}

}  // namespace files
