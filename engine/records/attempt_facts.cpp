#include "engine/records/attempt_facts.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <exception>
#include <map>

#include "engine/files/attempt_score.hpp"
#include "engine/files/attempt_uses.hpp"
#include "engine/files/bytes.hpp"
#include "engine/records/records_error.hpp"

namespace records {

namespace {

constexpr double kSameFigure = 1e-6;  // points; another compiler may add them up in another order

[[noreturn]] void refuse(const std::string& name, const std::string& what) {
    throw RecordsError(Fault::bad_input, name, what, "an intact attempt that pk verify accepts");
}

std::string first_fault(const files::VerifyReport& report) {
    const files::Problem& first = report.problems.front();
    return first.line == 0 ? first.what : fmt::format("line {}: {}", first.line, first.what);
}

void add_score(const files::LoadedAttempt& attempt, const std::string& name, AttemptFacts& facts) {
    const sim::Score score = files::score_of(attempt, name);
    if (facts.finished) facts.verdict = std::string(sim::name_of(score.verdict));
    facts.points = score.total_points;
    facts.of = score.total_of;
    for (const files::MeasuredHeading& one : files::measured_headings(score))
        facts.headings.push_back({std::string(one.heading), one.points, one.of});
}

}  // namespace

std::string sealed_bytes(const std::filesystem::path& file, const std::filesystem::path& ledger) {
    const files::VerifyReport report = files::verify(file, ledger);
    if (!report.intact()) refuse(file.string(), first_fault(report));
    return files::read_bytes(file, files::kAttemptBytes);
}

std::string fingerprint_of(std::string_view public_key) {
    const auto bytes = files::from_hex<32>(public_key);
    if (!bytes)
        throw RecordsError(Fault::bad_input, "key", std::string(public_key), "64 lower-case hexadecimal digits");
    return files::hex(files::sha256(files::view_of(*bytes)));
}

bool is_moment(std::string_view text) {
    static constexpr std::string_view kShape = "dddd-dd-ddTdd:dd:ddZ";
    if (text.size() != kShape.size()) return false;
    const auto number = [&](std::size_t at) { return 10 * (text[at] - '0') + (text[at + 1] - '0'); };
    for (std::size_t i = 0; i < text.size(); ++i)
        if (kShape[i] == 'd' ? text[i] < '0' || text[i] > '9' : text[i] != kShape[i]) return false;
    static constexpr std::array kDays{31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const int month = number(5), day = number(8);
    return month >= 1 && month <= 12 && day >= 1 && day <= kDays[static_cast<std::size_t>(month - 1)] &&
           number(11) < 24 && number(14) < 60 && number(17) < 61;
}

AttemptFacts facts_of(std::string_view bytes, const std::string& name) {
    try {
        const files::LoadedAttempt attempt = files::read_attempt_bytes(bytes, name);
        if (!attempt.report.intact()) refuse(name, "an attempt that is not intact: " + first_fault(attempt.report));
        const files::AttemptHeader& header = attempt.header;
        if (!files::from_hex<16>(header.attempt_id)) refuse(name, "an attempt_id of " + header.attempt_id);
        if (!is_moment(header.started_at)) refuse(name, "a started_at of " + header.started_at);
        AttemptFacts facts;
        facts.id = header.attempt_id;
        facts.content_hash = files::hex(files::sha256(bytes));
        facts.learner_key = fingerprint_of(files::hex(header.public_key));
        facts.scenario = header.scenario.id;
        facts.scenario_hash = header.scenario.hash;
        facts.rubric_hash = header.rubric.hash;
        facts.mode = std::string(sim::name_of(header.mode));
        facts.seed = std::to_string(header.variant_seed);
        const files::AttemptUses uses = files::uses_of(attempt.recording.events);
        for (std::size_t i = 0; i < uses.devices.size(); ++i)
            if (uses.devices[i])
                facts.devices +=
                    (facts.devices.empty() ? "" : " ") + std::string(sim::name_of(static_cast<sim::Device>(i)));
        facts.aids_asked = uses.aids_asked;
        facts.started_at = header.started_at;
        facts.steps = attempt.recording.steps;
        facts.finished = attempt.report.finished;
        facts.scoring_version = header.scoring_version;
        facts.program_version = header.program_version;
        add_score(attempt, name, facts);
        return facts;
    } catch (const RecordsError&) {
        throw;
    } catch (const std::exception& error) {
        refuse(name, error.what());
    }
}

std::vector<std::string> differences(const AttemptFacts& kept, const AttemptFacts& is) {
    std::vector<std::string> out;
    const auto text = [&](std::string_view column, const std::string& has, const std::string& should) {
        if (has != should) out.push_back(fmt::format("column {} is \"{}\", its file says \"{}\"", column, has, should));
    };
    const auto figure = [&](std::string_view column, double has, double should) {
        if (!(std::abs(has - should) <= kSameFigure))
            out.push_back(fmt::format("column {} is {}, its file says {}", column, has, should));
    };
    text("id", kept.id, is.id);
    text("content_hash", kept.content_hash, is.content_hash);
    text("learner_key", kept.learner_key, is.learner_key);
    text("scenario", kept.scenario, is.scenario);
    text("scenario_hash", kept.scenario_hash, is.scenario_hash);
    text("rubric_hash", kept.rubric_hash, is.rubric_hash);
    text("mode", kept.mode, is.mode);
    text("seed", kept.seed, is.seed);
    text("devices", kept.devices, is.devices);
    text("started_at", kept.started_at, is.started_at);
    text("verdict", kept.verdict, is.verdict);
    text("program_version", kept.program_version, is.program_version);
    figure("aids_asked", static_cast<double>(kept.aids_asked), static_cast<double>(is.aids_asked));
    figure("steps", static_cast<double>(kept.steps), static_cast<double>(is.steps));
    figure("finished", kept.finished ? 1 : 0, is.finished ? 1 : 0);
    figure("points", kept.points, is.points);
    figure("points_of", kept.of, is.of);
    figure("scoring_version", static_cast<double>(kept.scoring_version), static_cast<double>(is.scoring_version));
    std::map<std::string, HeadingPoints> has;
    for (const HeadingPoints& heading : kept.headings) has[heading.heading] = heading;
    for (const HeadingPoints& should : is.headings) {
        const auto found = has.find(should.heading);
        if (found == has.end()) {
            out.push_back(fmt::format("the heading {} is missing", should.heading));
            continue;
        }
        figure("points of " + should.heading, found->second.points, should.points);
        figure("points_of of " + should.heading, found->second.of, should.of);
        has.erase(found);
    }
    for (const auto& [heading, points] : has) out.push_back(fmt::format("the heading {} is not in its file", heading));
    return out;
}

}  // namespace records
