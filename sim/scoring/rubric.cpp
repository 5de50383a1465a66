#include "sim/scoring/rubric.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

struct HeadingNames {
    std::string_view key, name;
};
constexpr std::array<HeadingNames, kHeadings> kHeadingNames{{
    {"plane_accuracy", "plane accuracy"},
    {"clearance", "clearance"},
    {"ligament_resistance", "ligament resistance"},
    {"barb_engagement", "barb engagement"},
    {"consult_and_judgement", "consult and judgement"},
    {"plan_and_landmarks", "plan and landmarks"},
    {"asepsis", "asepsis"},
    {"comfort_and_dose", "comfort and dose"},
    {"lift_and_sides", "lift and sides"},
    {"finish", "finish"},
    {"economy", "economy"},
}};

}  // namespace

std::string_view name_of(Heading heading) { return kHeadingNames[static_cast<std::size_t>(heading)].name; }
std::string_view key_of(Heading heading) { return kHeadingNames[static_cast<std::size_t>(heading)].key; }

std::optional<Heading> heading_of(std::string_view key) {
    for (std::size_t i = 0; i < kHeadingNames.size(); ++i)
        if (kHeadingNames[i].key == key) return static_cast<Heading>(i);
    return std::nullopt;
}

std::string_view name_of(Verdict verdict) {
    switch (verdict) {
        case Verdict::pass:
            return "pass";
        case Verdict::fail:
            return "fail";
        case Verdict::incomplete:
            break;
    }
    return "incomplete";
}

namespace {

std::string known_measures() {
    std::string names;
    for (const MeasureSpec& spec : measure_table()) names += (names.empty() ? "" : ", ") + std::string(spec.name);
    return "one of " + names;
}

void validate_threshold(const std::string& place, double value, double spread, double low, double high,
                        const std::string& range) {
    if (!(value >= low && value <= high)) throw InputError(place, value, range);
    if (!(spread >= 0.0 && std::isfinite(spread))) throw InputError(place + ".spread", spread, ">= 0 and finite");
}

void validate_bands(const Bands& bands) {
    for (const BandField& field : band_fields()) {
        const Threshold& band = bands.*field.field;
        char range[64];
        std::snprintf(range, sizeof range, "%g to %g", field.low, field.high);
        validate_threshold("bands." + std::string(field.key), band.value / field.unit, band.spread / field.unit,
                           field.low, field.high, range);
    }
}

void validate_curve(const std::string& place, const std::vector<CurvePoint>& curve) {
    if (curve.size() < 2) throw InputError(place, std::to_string(curve.size()) + " points", "at least two points");
    double best = 0.0;
    for (std::size_t i = 0; i < curve.size(); ++i) {
        const std::string at = place + "[" + std::to_string(i) + "]";
        if (!std::isfinite(curve[i].at)) throw InputError(at + ".at", curve[i].at, "a finite number");
        if (i > 0 && !(curve[i].at > curve[i - 1].at))
            throw InputError(at + ".at", curve[i].at, "greater than the point before");
        if (!(curve[i].share >= 0.0 && curve[i].share <= 1.0))
            throw InputError(at + ".share", curve[i].share, "0 to 1");
        if (!(curve[i].spread >= 0.0 && std::isfinite(curve[i].spread)))
            throw InputError(at + ".spread", curve[i].spread, ">= 0 and finite");
        best = std::max(best, curve[i].share);
    }
    if (!(best >= 1.0)) throw InputError(place, best, "a curve that reaches share 1 somewhere");
}

void validate_item(const std::string& place, const RubricItem& item) {
    const MeasureSpec* spec = measure_named(item.measure);
    if (spec == nullptr) throw InputError(place + ".measure", item.measure, known_measures());
    if (item.heading != spec->heading)
        throw InputError(place + ".heading", std::string(key_of(item.heading)), std::string(key_of(spec->heading)));
    if (!(item.points > 0.0 && std::isfinite(item.points)))
        throw InputError(place + ".points", item.points, "> 0 and finite");
    if (item.accepted.empty()) throw InputError(place + ".accepted", "empty text", "words for the accepted range");
    validate_curve(place + ".curve", item.curve);
    if (item.in_proportion_to.empty()) return;
    const MeasureSpec* other = measure_named(item.in_proportion_to);
    if (other == nullptr || other->unit != "%" || other == spec)
        throw InputError(place + ".in_proportion_to", item.in_proportion_to, "another measure in %");
}

void validate_critical(const std::string& place, const CriticalFault& fault) {
    const auto rules = critical_rules();
    const bool known =
        std::any_of(rules.begin(), rules.end(), [&](const CriticalRule& rule) { return rule.event == fault.event; });
    if (!known) {
        std::string names;
        for (const CriticalRule& rule : rules) names += (names.empty() ? "" : ", ") + std::string(rule.event);
        throw InputError(place + ".event", fault.event, "one of " + names);
    }
    if (fault.words.empty()) throw InputError(place + ".words", "empty text", "words for the report");
    validate_threshold(place + ".threshold", fault.threshold, fault.spread, 0.0, 1000.0, "0 to 1000");
}

}  // namespace

void validate(const Rubric& rubric) {
    if (rubric.id.empty()) throw InputError("id", "empty text", "a name");
    if (rubric.items.empty()) throw InputError("items", "no items", "at least one item");
    validate_bands(rubric.bands);
    for (std::size_t i = 0; i < rubric.items.size(); ++i) {
        const std::string place = "items[" + std::to_string(i) + "]";
        validate_item(place, rubric.items[i]);
        for (std::size_t j = 0; j < i; ++j)
            if (rubric.items[j].measure == rubric.items[i].measure)
                throw InputError(place + ".measure", rubric.items[i].measure, "each measure once");
    }
    for (std::size_t i = 0; i < rubric.critical.size(); ++i) {
        const std::string place = "critical[" + std::to_string(i) + "]";
        validate_critical(place, rubric.critical[i]);
        for (std::size_t j = 0; j < i; ++j)
            if (rubric.critical[j].event == rubric.critical[i].event)
                throw InputError(place + ".event", rubric.critical[i].event, "each rule once");
    }
    if (!(rubric.pass_share > 0.0 && rubric.pass_share <= 1.0))
        throw InputError("pass_share", rubric.pass_share, "above 0, at most 1");
    if (!(rubric.heading_share >= 0.0 && rubric.heading_share <= 1.0))
        throw InputError("heading_share", rubric.heading_share, "0 to 1");
}

}  // namespace sim
