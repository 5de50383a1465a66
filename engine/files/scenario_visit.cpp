#include "engine/files/scenario_visit.hpp"

namespace files {

namespace {

constexpr Range kPlaceMm{-400.0, 400.0};
constexpr std::size_t kAnswerBytes = 200;  // of what a patient says: two lines on the screen

sim::HistoryAnswer read_answer(const JsonValue& value) {
    JsonObject object = value.object();
    sim::HistoryAnswer answer;
    answer.says = object.at("says").text(kAnswerBytes);
    if (const auto calls = object.find("calls_for"))
        answer.calls_for = static_cast<sim::Decision>(calls->one_of(sim::kDecisions));
    object.refuse_unknown();
    return answer;
}

std::vector<std::string_view> finding_keys() {
    std::vector<std::string_view> keys;
    for (int i = 0; i < sim::kCallFindings; ++i) keys.push_back(sim::key_of(static_cast<sim::CallFinding>(i)));
    return keys;
}

sim::Opening read_opening(const JsonValue& value) {
    JsonObject object = value.object();
    sim::Opening opening;
    const auto bleeding = object.find("bleeding_at_mm");
    const auto calls = object.find("calls");
    if (bleeding.has_value() == calls.has_value()) value.refuse("exactly one of \"bleeding_at_mm\" and \"calls\"");
    if (bleeding) opening.bleeding_at_m = bleeding->point_mm(kPlaceMm);
    if (calls) {
        opening.gone_home = true;
        const std::vector<JsonValue> each = calls->array(sim::kCalls, sim::kCalls);
        for (std::size_t i = 0; i < each.size(); ++i)
            for (const JsonValue& heard : each[i].array(0, sim::kCallFindings))
                opening.heard[i] |= 1 << heard.one_of(finding_keys());
    }
    object.refuse_unknown();
    return opening;
}

}  // namespace

sim::VisitSpec read_visit(const JsonValue& value) {
    JsonObject object = value.object();
    sim::VisitSpec visit;
    visit.weight_kg = object.number("weight_kg", {35.0, 200.0});
    JsonObject history = object.at("history").object();
    for (std::size_t i = 0; i < sim::kHistoryItems; ++i)
        visit.history[i] = read_answer(history.at(sim::key_of(static_cast<sim::HistoryItem>(i))));
    history.refuse_unknown();
    JsonObject anaesthetic = object.at("anaesthetic").object();
    visit.anaesthetic.mg_per_ml = anaesthetic.number("mg_per_ml", {2.5, 20.0});
    visit.anaesthetic.adrenaline = anaesthetic.boolean_or("adrenaline", false);
    anaesthetic.refuse_unknown();
    if (const auto local = object.find("local_rules")) {
        JsonObject rules = local->object();
        visit.local.most_mg_per_kg = rules.number_or("max_mg_per_kg", {0.5, 7.0}, 0.0);
        visit.local.most_mg = rules.number_or("max_mg", {10.0, 500.0}, 0.0);
        visit.local.contact_time_s = rules.number_or("contact_time_s", {30.0, 600.0}, 0.0);
        rules.refuse_unknown();
    }
    visit.allergic_to_anaesthetic = object.boolean_or("allergic_to_anaesthetic", false);
    visit.bears_pain = object.number_or("bears_pain", {1.0, 10.0}, visit.bears_pain);
    visit.faints = object.boolean_or("faints", false);
    visit.swallows_every_s = object.number_or("swallows_every_s", {5.0, 600.0}, 0.0);
    if (const auto opening = object.find("begins_with")) visit.opening = read_opening(*opening);
    object.refuse_unknown();
    return visit;
}

}  // namespace files
