#include "engine/records/attempt_facts.hpp"

#include <fmt/format.h>

#include <array>
#include <exception>

#include "engine/files/attempt.hpp"
#include "engine/files/attempt_uses.hpp"
#include "engine/files/rubric.hpp"
#include "engine/records/records_error.hpp"

namespace records {

namespace {

[[noreturn]] void refuse(const std::string& name, const std::string& what) {
    throw RecordsError(Fault::bad_input, name, what, "an intact attempt that pk verify accepts");
}

std::string first_fault(const files::VerifyReport& report) {
    const files::Problem& first = report.problems.front();
    return first.line == 0 ? first.what : fmt::format("line {}: {}", first.line, first.what);
}

void add_score(const files::LoadedAttempt& attempt, const std::string& name, AttemptFacts& facts) {
    const sim::Rubric rubric = files::parse_rubric(attempt.header.rubric, name).rubric;
    const sim::Score score = sim::score(attempt.recording, rubric);
    if (facts.finished) facts.verdict = std::string(sim::name_of(score.verdict));
    facts.points = score.total_points;
    facts.of = score.total_of;
    for (std::size_t i = 0; i < sim::kHeadings; ++i)
        if (score.heading_of[i] > 0.0)
            facts.headings.push_back(
                {std::string(sim::key_of(static_cast<sim::Heading>(i))), score.heading_points[i], score.heading_of[i]});
}

}  // namespace

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

}  // namespace records
