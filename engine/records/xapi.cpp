#include "engine/records/xapi.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "engine/files/crypto.hpp"
#include "engine/records/records_error.hpp"
#include "sim/trace.hpp"

namespace records {

namespace {

using nlohmann::ordered_json;

// verbs and the activity type of ADL's vocabulary (from memory)
constexpr const char* kVerbs = "http://adlnet.gov/expapi/verbs/";
constexpr const char* kSimulation = "http://adlnet.gov/expapi/activities/simulation";
constexpr const char* kScenarios = "https://planekeeper.example/scenarios/";
constexpr const char* kExtensions = "https://planekeeper.example/extensions/";
constexpr const char* kCaution = "Training aid, not a medical device. A good score is not permission to treat.";

/// Percent-encoded (RFC 3986 2.1): all but unreserved characters.
std::string encoded(const std::string& text) {
    std::string out;
    for (const char c : text) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
                           c == '.' || c == '_' || c == '~';
        out += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
    }
    return out;
}

const char* verb_of(const AttemptFacts& facts) {
    if (!facts.finished) return "suspended";
    if (facts.verdict == "pass") return "passed";
    return facts.verdict == "fail" ? "failed" : "terminated";
}

void need_home_page(const std::string& page) {
    const bool http = page.starts_with("http://") || page.starts_with("https://");
    const bool plain = std::all_of(page.begin(), page.end(),
                                   [](char c) { return c > 0x20 && c < 0x7f && c != '"' && c != '<' && c != '>'; });
    if (!http || !plain || page.size() < 10 || page.size() > 1000)
        throw RecordsError(Fault::bad_input, "home page", page, "https://... without spaces");
}

}  // namespace

std::string statement_id(const AttemptFacts& facts) {
    std::string digits =
        files::hex(files::sha256("planekeeper statement 1\n" + facts.id + "\n" + facts.content_hash)).substr(0, 32);
    digits[12] = '4';
    digits[16] = "89ab"[static_cast<std::size_t>(digits[16] % 4)];
    return fmt::format("{}-{}-{}-{}-{}", digits.substr(0, 8), digits.substr(8, 4), digits.substr(12, 4),
                       digits.substr(16, 4), digits.substr(20));
}

std::string duration_text(double seconds) { return fmt::format("PT{:.2f}S", seconds); }

ordered_json statement_of(const AttemptRow& row, const XapiSettings& settings) {
    need_home_page(settings.home_page);
    const AttemptFacts& facts = row.facts;
    const std::string verb = verb_of(facts);
    ordered_json result{{"completion", facts.finished && facts.verdict != "incomplete"},
                        {"duration", duration_text(static_cast<double>(facts.steps) * sim::kStepS)}};
    if (facts.verdict == "pass" || facts.verdict == "fail") {
        result["success"] = facts.verdict == "pass";
        if (facts.of > 0.0) {
            const double points = std::clamp(facts.points, 0.0, facts.of);
            result["score"] = {{"scaled", points / facts.of}, {"raw", points}, {"min", 0}, {"max", facts.of}};
        }
    }
    return {
        {"id", statement_id(facts)},
        {"actor", {{"objectType", "Agent"}, {"account", {{"homePage", settings.home_page}, {"name", row.learner_id}}}}},
        {"verb", {{"id", kVerbs + verb}, {"display", {{"en", verb}}}}},
        {"object",
         {{"objectType", "Activity"},
          {"id", kScenarios + encoded(facts.scenario)},
          {"definition", {{"type", kSimulation}, {"name", {{"en", facts.scenario}}}}}}},
        {"result", result},
        {"context",
         {{"revision", facts.scenario_hash},
          {"platform", "Planekeeper " + facts.program_version},
          {"language", "en"},
          {"extensions",
           {{std::string(kExtensions) + "attempt", facts.id},
            {std::string(kExtensions) + "mode", facts.mode},
            {std::string(kExtensions) + "aids_asked", facts.aids_asked},
            {std::string(kExtensions) + "scoring_version", facts.scoring_version},
            {std::string(kExtensions) + "caution", kCaution}}}}},
        {"timestamp", facts.started_at}};
}

}  // namespace records
