#include "engine/files/scenario_visit.hpp"

namespace files {

namespace {

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
    visit.allergic_to_anaesthetic = object.boolean_or("allergic_to_anaesthetic", false);
    visit.bears_pain = object.number_or("bears_pain", {1.0, 10.0}, visit.bears_pain);
    visit.faints = object.boolean_or("faints", false);
    object.refuse_unknown();
    return visit;
}

}  // namespace files
