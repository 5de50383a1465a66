#include <catch2/catch.hpp>

#if defined(__GNUC__)
// the library's headers are not written for our warnings
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wold-style-cast"
#pragma GCC diagnostic ignored "-Wsign-conversion"
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wshadow"
#endif
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>
#if defined(__GNUC__)
#pragma GCC diagnostic pop
#endif

#include "engine/files/attempt_header.hpp"
#include "files_support.hpp"

using Adapter = valijson::adapters::NlohmannJsonAdapter;
using files_test::bytes_of;
using nlohmann::json;

namespace {

/// Why a value is not what the schema says; empty when it is.
std::string misfit(const std::string& schema_name, const json& value) {
    const json text = json::parse(bytes_of("scenarios/schema/" + schema_name + ".schema.json"));
    valijson::Schema schema;
    valijson::SchemaParser().populateSchema(Adapter(text), schema);
    valijson::ValidationResults results;
    valijson::Validator validator;
    if (validator.validate(schema, Adapter(value), &results)) return "";
    std::string why = "not valid:";
    valijson::ValidationResults::Error error;
    while (results.popError(error)) {
        for (const std::string& part : error.context) why += " " + part;
        why += " " + error.description + ";";
    }
    return why;
}

}  // namespace

TEST_CASE("shipped files are what the schemas say", "[files][schema]") {
    int checked = 0;
    for (const auto& [folder, schema] : std::vector<std::pair<std::string, std::string>>{
             {"drills", "scenario"}, {"cases", "scenario"}, {"patients", "patient"}, {"rubrics", "rubric"}}) {
        if (!std::filesystem::exists("scenarios/" + folder)) continue;
        for (const auto& entry : std::filesystem::directory_iterator("scenarios/" + folder)) {
            INFO(entry.path().string());
            CHECK(misfit(schema, json::parse(bytes_of(entry.path()))) == "");
            ++checked;
        }
    }
    CHECK(checked >= 6);
    CHECK(misfit("instrument_models", json::parse(bytes_of("assets/instruments/manifest.json"))) == "");
    CHECK(misfit("scenario", json::parse(files_test::scenario_text())) == "");
    files::AttemptHeader header = files_test::test_header();
    header.variant_seed = 7;  // the validator counts in 63 bits
    CHECK(misfit("attempt_header", json::parse(files::header_text(header))) == "");
}

TEST_CASE("what the reader refuses is not what the schema says either", "[files][schema]") {
    for (const auto& [from, to] :
         std::vector<std::pair<std::string, std::string>>{{"\"gauge\": 18", "\"gauge\": 99"},
                                                          {"\"gauge\": 18", "\"gauge\": \"18\""},
                                                          {"\"gauge\": 18, ", ""},
                                                          {"\"bending\"", "\"bendin\""},
                                                          {"\"schema_version\": 1", "\"schema_version\": 2"},
                                                          {"[-30, 0, 0]", "[-30, 0]"},
                                                          {"\"rubric\": \"single_pass\"", "\"rubric\": \"../x\""},
                                                          {"\"drill\"", "\"drill\", \"aids\": [\"ghost\"]"},
                                                          {"\"drill\"", "\"drill\", \"aids\": [\"force\", \"force\"]"},
                                                          {"\"drill\"", "\"dril\""}}) {
        INFO(to);
        const std::string text = files_test::replaced(files_test::scenario_text(), from, to);
        CHECK(misfit("scenario", json::parse(text)) != "");
        CHECK_THROWS_AS(files::parse_scenario(files::source_text("x", text), std::nullopt, "x"), files::FileError);
    }
}

TEST_CASE("the patient's schema has the fields and ranges that the reader has", "[files][schema]") {
    const json schema = json::parse(bytes_of("scenarios/schema/patient.schema.json"));
    for (const sim::HeadParameterField& field : sim::head_parameter_fields()) {
        const json& property = schema.at("properties").at(std::string(field.name));
        CHECK(property.at("minimum").get<double>() == field.low);
        CHECK(property.at("maximum").get<double>() == field.high);
    }
    // five that are no numbers of the table: version, about, seed, source, sources
    CHECK(schema.at("properties").size() == sim::head_parameter_fields().size() + 5);
}
