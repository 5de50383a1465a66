#include "engine/files/attempt_header.hpp"

#include <fmt/format.h>

#include <array>
#include <ctime>

#include "engine/files/trace_text.hpp"

namespace files {

namespace {

using nlohmann::json;

constexpr std::array<std::string_view, 3> kSides{"left", "right", "midline"};
constexpr std::array<std::string_view, 5> kKinds{"artery", "vein", "nerve", "duct", "gland"};
constexpr std::size_t kMostFacts = 100'000;

std::string json_quoted(std::string_view text) {
    return json(text).dump(-1, ' ', false, json::error_handler_t::replace);
}

std::string document_text(const SourceText& source) {
    return fmt::format(R"({{"id":{},"hash":"{}","content":{}}})", json_quoted(source.id), source.hash,
                       json_quoted(source.text));
}

SourceText read_document(const JsonValue& value) {
    JsonObject object = value.object();
    SourceText source = source_text(object.text("id"), object.at("content").text(kDocumentBytes));
    if (const JsonValue hash = object.at("hash"); hash.text() != source.hash)
        hash.refuse("the SHA-256 of the content beside it, " + source.hash);
    object.refuse_unknown();
    return source;
}

}  // namespace

std::string time_text() {
    const std::time_t now = std::time(nullptr);
    std::tm parts{};
    ::gmtime_r(&now, &parts);
    std::array<char, 32> text{};
    const std::size_t length = std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    return {text.data(), length};
}

std::string header_text(const AttemptHeader& header) {
    std::string out = fmt::format(
        R"({{"schema_version":{},"attempt_id":{},"program_version":{},"build_id":{},"scoring_version":{},"kernel":{},"started_at":{},)"
        R"("public_key":"{}","mode":"{}","variant_seed":{},"scenario":{},"rubric":{},"patient":{},"structures":[)",
        kAttemptSchema, json_quoted(header.attempt_id), json_quoted(header.program_version),
        json_quoted(header.build_id), header.scoring_version, json_quoted(header.kernel),
        json_quoted(header.started_at), hex(header.public_key), sim::name_of(header.mode), header.variant_seed,
        document_text(header.scenario), document_text(header.rubric),
        header.patient ? document_text(*header.patient) : "null");
    for (const sim::StructureFacts& facts : header.structures)
        out += fmt::format(R"([{},"{}","{}",{},{},{}],)", json_quoted(facts.name),
                           kKinds[static_cast<std::size_t>(facts.kind)], kSides[static_cast<std::size_t>(facts.side)],
                           value_text(facts.margin_m), value_text(facts.least_depth_m), facts.superficial ? 1 : 0);
    if (!header.structures.empty()) out.pop_back();
    out += "],\"ligaments\":[";
    for (const sim::LigamentFacts& facts : header.ligaments)
        out += fmt::format(R"([{},"{}",{}],)", json_quoted(facts.name), kSides[static_cast<std::size_t>(facts.side)],
                           value_text(facts.strength_n));
    if (!header.ligaments.empty()) out.pop_back();
    out += "],\"concerns\":[";
    for (const sim::Concern& concern : header.concerns)
        out += fmt::format(R"([{},"{}",{},{},{}],)", json_quoted(concern.name),
                           kSides[static_cast<std::size_t>(concern.side)], value_text(concern.place_m.x),
                           value_text(concern.place_m.y), value_text(concern.place_m.z));
    if (!header.concerns.empty()) out.pop_back();
    out += "]}";
    return out;
}

AttemptHeader read_header(const JsonValue& value) {
    JsonObject object = value.object();
    AttemptHeader header;
    const JsonValue version = object.at("schema_version");
    header.schema_version = version.integer(kOldestAttemptSchema, kAttemptSchema);
    header.attempt_id = object.text("attempt_id");
    header.program_version = object.text("program_version");
    header.build_id = object.text("build_id");
    header.scoring_version =
        header.schema_version < 5 ? 1 : static_cast<int>(object.at("scoring_version").integer(1, sim::kScoringVersion));
    header.kernel = object.text("kernel");
    header.started_at = object.text("started_at");
    const JsonValue key = object.at("public_key");
    if (const auto bytes = from_hex<32>(key.text()))
        header.public_key = *bytes;
    else
        key.refuse("64 lower-case hexadecimal digits");
    header.mode = static_cast<sim::PracticeMode>(object.at("mode").one_of(sim::kPracticeModes));
    header.variant_seed = object.at("variant_seed").unsigned_integer();
    header.scenario = read_document(object.at("scenario"));
    header.rubric = read_document(object.at("rubric"));
    if (const JsonValue patient = object.at("patient"); !patient.raw().is_null())
        header.patient = read_document(patient);
    const auto word_index = [](NumberList& list, std::span<const std::string_view> words) {
        const std::string word = list.text();
        for (std::size_t i = 0; i < words.size(); ++i)
            if (words[i] == word) return i;
        list.refuse("a word of its list");
    };
    for (const JsonValue& item : object.at("structures").array(0, kMostFacts)) {
        NumberList list(item);
        sim::StructureFacts facts;
        facts.name = list.text();
        facts.kind = static_cast<sim::StructureKind>(word_index(list, kKinds));
        facts.side = static_cast<sim::Side>(word_index(list, kSides));
        facts.margin_m = list.value();
        facts.least_depth_m = list.value();
        facts.superficial = list.whole(0, 1) == 1;
        list.end();
        header.structures.push_back(std::move(facts));
    }
    for (const JsonValue& item : object.at("ligaments").array(0, kMostFacts)) {
        NumberList list(item);
        sim::LigamentFacts facts;
        facts.name = list.text();
        facts.side = static_cast<sim::Side>(word_index(list, kSides));
        facts.strength_n = list.value();
        list.end();
        header.ligaments.push_back(std::move(facts));
    }
    if (header.schema_version >= 4)
        for (const JsonValue& item : object.at("concerns").array(0, kMostFacts)) {
            NumberList list(item);
            sim::Concern concern;
            concern.name = list.text();
            concern.side = static_cast<sim::Side>(word_index(list, kSides));
            for (int i = 0; i < 3; ++i) concern.place_m[i] = list.value();
            list.end();
            header.concerns.push_back(std::move(concern));
        }
    object.refuse_unknown();
    return header;
}

}  // namespace files
