#include "engine/graded/graded_session.hpp"

#include <array>
#include <cmath>
#include <ctime>
#include <nlohmann/json.hpp>
#include <set>

#include "engine/files/bytes.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/graded/sealing.hpp"
#include "sim/core/errors.hpp"

namespace graded {

namespace {

using files::JsonObject;
using files::JsonValue;
using nlohmann::json;

constexpr std::size_t kMostName = 120;
constexpr std::size_t kMostBoxBytes = 256U << 20U;

files::PublicKey key_in(const JsonValue& value) {
    if (const auto key = files::from_hex<32>(value.text())) return *key;
    value.refuse("64 lower-case hexadecimal digits");
}

std::string name_in(const JsonValue& value) {
    std::string name = value.text(kMostName);
    if (name.empty()) value.refuse("a name of 1 to 120 bytes");
    return name;
}

std::vector<Party> parties_in(const JsonValue& list) {
    std::vector<Party> out;
    std::set<std::string> names;
    std::set<files::PublicKey> keys;
    for (const JsonValue& item : list.array(1, kMostPeople)) {
        JsonObject object = item.object();
        Party party;
        party.name = name_in(object.at("name"));
        if (!names.insert(party.name).second) object.at("name").refuse("a name that nobody else in the list has");
        for (const JsonValue& key : object.at("keys").array(1, kMostKeys)) {
            party.keys.push_back(key_in(key));
            if (!keys.insert(party.keys.back()).second) key.refuse("a key that comes once");
        }
        object.refuse_unknown();
        out.push_back(std::move(party));
    }
    return out;
}

std::string time_in(const JsonValue& value) {
    std::string text = value.text();
    if (!seconds_of(text)) value.refuse("a time as 2026-12-01T08:00:00Z");
    return text;
}

Plan plan_in(JsonObject& object) {
    Plan plan;
    plan.title = name_in(object.at("title"));
    plan.opens_at = time_in(object.at("opens_at"));
    plan.closes_at = time_in(object.at("closes_at"));
    if (*seconds_of(plan.closes_at) <= *seconds_of(plan.opens_at))
        object.at("closes_at").refuse("a time after opens_at, " + plan.opens_at);
    plan.minutes = object.number("minutes", {0.0, kMostMinutes});
    constexpr std::array<std::string_view, 2> kForms{"common", "matched"};
    plan.common_form = object.at("anatomy").one_of(kForms) == 0;
    std::set<std::string> named;
    for (const JsonValue& item : object.at("scenarios").array(1, kMostScenarios)) {
        plan.scenarios.push_back(name_in(item));
        if (!named.insert(plan.scenarios.back()).second) item.refuse("a scenario that comes once");
    }
    plan.learners = parties_in(object.at("learners"));
    plan.stations = parties_in(object.at("stations"));
    return plan;
}

json json_of(const std::vector<Party>& parties) {
    json out = json::array();
    for (const Party& party : parties) {
        json keys = json::array();
        for (const files::PublicKey& key : party.keys) keys.push_back(files::hex(key));
        out.push_back({{"name", party.name}, {"keys", keys}});
    }
    return out;
}

json json_of(const files::SourceText& document) {
    return {{"id", document.id}, {"text", document.text}, {"hash", document.hash}};
}

files::SourceText document_in(const JsonValue& value) {
    JsonObject object = value.object();
    files::SourceText out = files::source_text(object.text("id"), object.at("text").text(files::kDocumentBytes));
    if (object.text("hash") != out.hash) object.at("hash").refuse("the hash of the text beside it, " + out.hash);
    object.refuse_unknown();
    return out;
}

json json_of(const Session& session) {
    json forms = json::array(), slots = json::array();
    for (const Form& form : session.forms)
        forms.push_back({{"scenario", json_of(form.scenario)},
                         {"rubric", json_of(form.rubric)},
                         {"patient", form.patient ? json_of(*form.patient) : json()}});
    for (const Slot& slot : session.slots)
        slots.push_back(
            {{"id", slot.id}, {"learner", slot.learner}, {"form", slot.form}, {"variant_seed", slot.variant_seed}});
    const Plan& plan = session.plan;
    return {{"schema_version", kGradedSchema},
            {"session_id", session.id},
            {"issued_at", session.issued_at},
            {"issuer", files::hex(session.issuer)},
            {"title", plan.title},
            {"opens_at", plan.opens_at},
            {"closes_at", plan.closes_at},
            {"minutes", plan.minutes},
            {"anatomy", plan.common_form ? "common" : "matched"},
            {"scenarios", plan.scenarios},
            {"learners", json_of(plan.learners)},
            {"stations", json_of(plan.stations)},
            {"forms", forms},
            {"slots", slots}};
}

std::string id_in(const JsonValue& value) {
    std::string id = value.text();
    if (!files::from_hex<16>(id)) value.refuse("32 lower-case hexadecimal digits");
    return id;
}

std::vector<Form> forms_in(const JsonValue& list, std::size_t scenarios) {
    std::vector<Form> out;
    for (const JsonValue& item : list.array(scenarios, scenarios)) {
        JsonObject object = item.object();
        Form form{document_in(object.at("scenario")), document_in(object.at("rubric")), std::nullopt};
        if (const JsonValue patient = object.at("patient"); !patient.raw().is_null())
            form.patient = document_in(patient);
        object.refuse_unknown();
        out.push_back(std::move(form));
    }
    return out;
}

std::vector<Slot> slots_in(const JsonValue& list, std::size_t learners, std::size_t forms) {
    std::vector<Slot> out;
    std::set<std::string> ids;
    for (const JsonValue& item : list.array(1, kMostPeople * kMostScenarios)) {
        JsonObject object = item.object();
        Slot slot;
        slot.id = id_in(object.at("id"));
        if (!ids.insert(slot.id).second) object.at("id").refuse("an id that comes once");
        slot.learner =
            static_cast<std::size_t>(object.at("learner").integer(0, static_cast<std::int64_t>(learners) - 1));
        slot.form = static_cast<std::size_t>(object.at("form").integer(0, static_cast<std::int64_t>(forms) - 1));
        slot.variant_seed = object.at("variant_seed").unsigned_integer();
        object.refuse_unknown();
        out.push_back(std::move(slot));
    }
    return out;
}

/// The two parts of a signed text: one line of JSON, then one of signature.
constexpr std::string_view kSignatureLine = "\nsignature ";

}  // namespace

const Slot* Session::slot(const std::string& slot_id) const {
    for (const Slot& one : slots)
        if (one.id == slot_id) return &one;
    return nullptr;
}

Plan parse_plan(const std::string& text, const std::string& file) {
    const auto document = files::JsonDocument::parse(file, text);
    JsonObject object = document.root_object(kGradedSchema);
    Plan plan = plan_in(object);
    object.refuse_unknown();
    return plan;
}

Session issue(Plan plan, std::vector<Form> forms, const SeedFor& seed_for, const files::KeyPair& issuer) {
    SIM_ASSERT(forms.size() == plan.scenarios.size());
    Session session;
    session.id = files::random_id();
    session.issued_at = utc_of(std::time(nullptr));
    session.issuer = issuer.public_key;
    for (std::size_t l = 0; l < plan.learners.size(); ++l)
        for (std::size_t f = 0; f < forms.size(); ++f)
            session.slots.push_back({files::random_id(), l, f, seed_for(f, plan.common_form ? 0 : l)});
    session.plan = std::move(plan);
    session.forms = std::move(forms);
    return session;
}

std::string session_text(const Session& session, const files::KeyPair& issuer) {
    const std::string body = json_of(session).dump();
    return body + std::string(kSignatureLine) + files::hex(files::sign(issuer, body)) + "\n";
}

Session parse_session(const std::string& text, const std::string& file) {
    const std::size_t at = text.rfind(kSignatureLine);
    const std::string accepted = "a session that `pk session issue` wrote";
    if (at == std::string::npos) throw files::FileError(file, "", "no signature", accepted);
    const std::string body = text.substr(0, at);
    const auto document = files::JsonDocument::parse(file, body);
    JsonObject object = document.root_object(kGradedSchema);
    Session session;
    session.id = id_in(object.at("session_id"));
    session.issued_at = time_in(object.at("issued_at"));
    session.issuer = key_in(object.at("issuer"));
    session.plan = plan_in(object);
    session.forms = forms_in(object.at("forms"), session.plan.scenarios.size());
    session.slots = slots_in(object.at("slots"), session.plan.learners.size(), session.forms.size());
    object.refuse_unknown();
    std::string signature_text = text.substr(at + kSignatureLine.size());
    if (!signature_text.empty() && signature_text.back() == '\n') signature_text.pop_back();
    const auto signature = files::from_hex<64>(signature_text);
    if (!signature || !files::signature_holds(session.issuer, body, *signature))
        throw files::FileError(file, "signature", "not that of the issuer", accepted + " and nobody has changed");
    return session;
}

std::string bundle_text(const std::string& session_text, const files::PublicKey& station) {
    return json{{"schema_version", kGradedSchema},
                {"station", files::hex(station)},
                {"sealed", base64(sealed_for(station, session_text))}}
               .dump() +
           "\n";
}

Session open_bundle(const std::string& text, const std::string& file, const files::KeyPair& station) {
    const auto document = files::JsonDocument::parse(file, text);
    JsonObject object = document.root_object(kGradedSchema);
    const JsonValue addressee = object.at("station");
    if (key_in(addressee) != station.public_key)
        addressee.refuse("a bundle for this station, whose key is " + files::hex(station.public_key));
    const JsonValue sealed = object.at("sealed");
    const auto box = from_base64(sealed.text(kMostBoxBytes));
    const auto inside = box ? opened(station, *box) : std::nullopt;
    if (!inside) throw files::FileError(file, "sealed", "a box that was touched", "the box as it was sealed");
    object.refuse_unknown();
    return parse_session(*inside, file + ": sealed");
}

std::optional<std::int64_t> seconds_of(const std::string& utc) {
    std::tm parts{};
    const char* end = ::strptime(utc.c_str(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    if (end == nullptr || *end != '\0' || utc.size() != 20) return std::nullopt;
    const std::int64_t seconds = ::timegm(&parts);
    if (utc_of(seconds) != utc) return std::nullopt;  // 30 February
    return seconds;
}

std::string utc_of(std::int64_t seconds) {
    const std::time_t time = seconds;
    std::tm parts{};
    ::gmtime_r(&time, &parts);
    std::array<char, 32> text{};
    const std::size_t length = std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    return {text.data(), length};
}

}  // namespace graded
