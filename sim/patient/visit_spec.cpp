#include "sim/patient/visit_spec.hpp"

#include <algorithm>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

struct ItemWords {
    std::string_view key, question;
};

constexpr std::array<ItemWords, kHistoryItems> kItems{{
    {"medicines", "Which medicines do you take?"},
    {"past_treatments", "Earlier threads, fillers or operations here?"},
    {"scarring", "Do your scars grow thick?"},
    {"herpes", "Do you get cold sores?"},
    {"infection", "Any infection or sore skin now?"},
    {"immune_disease", "Any disease of the immune system?"},
    {"pregnancy", "Are you pregnant or nursing?"},
    {"allergy", "Any allergies?"},
    {"expectations", "What do you hope for?"},
    {"body_image", "How much does this trouble your days?"},
}};

}  // namespace

std::string_view key_of(HistoryItem item) { return kItems[static_cast<std::size_t>(item)].key; }
std::string_view question_of(HistoryItem item) { return kItems[static_cast<std::size_t>(item)].question; }

Decision VisitSpec::right_decision() const {
    return std::max_element(history.begin(), history.end(),
                            [](const HistoryAnswer& a, const HistoryAnswer& b) { return a.calls_for < b.calls_for; })
        ->calls_for;
}

double VisitSpec::limit_mg() const {
    double limit_mg = label_limit_mg();
    if (local.most_mg_per_kg > 0.0) limit_mg = std::min(limit_mg, local.most_mg_per_kg * weight_kg);
    if (local.most_mg > 0.0) limit_mg = std::min(limit_mg, local.most_mg);
    return limit_mg;
}

double VisitSpec::label_limit_mg() const {
    return anaesthetic.adrenaline ? std::min(7.0 * weight_kg, 500.0) : std::min(4.5 * weight_kg, 300.0);
}

void validate(const VisitSpec& visit) {
    require_within("visit.weight_kg", visit.weight_kg, 35.0, 200.0);
    require_within("visit.anaesthetic.mg_per_ml", visit.anaesthetic.mg_per_ml, 2.5, 20.0);
    const LocalRules& local = visit.local;
    if (local.most_mg_per_kg != 0.0) require_within("visit.local_rules.max_mg_per_kg", local.most_mg_per_kg, 0.5, 7.0);
    if (local.most_mg != 0.0) require_within("visit.local_rules.max_mg", local.most_mg, 10.0, 500.0);
    if (local.contact_time_s != 0.0)
        require_within("visit.local_rules.contact_time_s", local.contact_time_s, 30.0, 600.0);
    require_within("visit.bears_pain", visit.bears_pain, 1.0, 10.0);
    if (visit.swallows_every_s != 0.0) require_within("visit.swallows_every_s", visit.swallows_every_s, 5.0, 600.0);
    if (visit.opening && visit.opening->gone_home == visit.opening->bleeding_at_m.has_value())
        throw InputError("visit.begins_with", "both or nothing", "either bleeding or calls");
    for (std::size_t i = 0; i < kHistoryItems; ++i)
        if (visit.history[i].says.empty())
            throw InputError("visit.history." + std::string(kItems[i].key), "\"\"", "what the patient says");
}

}  // namespace sim
