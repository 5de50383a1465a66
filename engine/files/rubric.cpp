#include "engine/files/rubric.hpp"

#include <array>
#include <vector>

#include "engine/files/json_reader.hpp"
#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr Range kShare{0.0, 1.0};
constexpr Range kFigure{-1e6, 1e6};

std::size_t heading_index(const JsonValue& value) {
    std::array<std::string_view, sim::kHeadings> keys;
    for (int i = 0; i < sim::kHeadings; ++i)
        keys[static_cast<std::size_t>(i)] = sim::key_of(static_cast<sim::Heading>(i));
    return value.one_of(keys);
}

void read_bands(const JsonValue& value, sim::Bands& bands) {
    JsonObject object = value.object();
    for (const sim::BandField& field : sim::band_fields()) {
        const auto band = object.find(field.key);
        if (!band) continue;
        JsonObject threshold = band->object();
        (bands.*field.field).value = threshold.number("value", {field.low, field.high}) * field.unit;
        (bands.*field.field).spread = threshold.number_or("spread", {0.0, field.high}, 0.0) * field.unit;
        threshold.refuse_unknown();
    }
    object.refuse_unknown();
}

sim::RubricItem read_item(const JsonValue& value) {
    JsonObject object = value.object();
    sim::RubricItem item;
    item.measure = object.text("measure");
    item.heading = static_cast<sim::Heading>(heading_index(object.at("heading")));
    item.points = object.number("points", {0.0, 1000.0});
    for (const JsonValue& point_value : object.at("curve").array(2, 16)) {
        JsonObject point = point_value.object();
        item.curve.push_back(
            {point.number("at", kFigure), point.number("share", kShare), point.number_or("spread", {0.0, 1e6}, 0.0)});
        point.refuse_unknown();
    }
    item.accepted = object.text("accepted");
    item.in_proportion_to = object.text_or("in_proportion_to", "");
    object.refuse_unknown();
    return item;
}

sim::CriticalFault read_fault(const JsonValue& value) {
    JsonObject object = value.object();
    sim::CriticalFault fault;
    fault.event = object.text("event");
    fault.words = object.text("words");
    fault.threshold = object.number_or("threshold", kFigure, 0.0);
    fault.spread = object.number_or("spread", {0.0, 1e6}, 0.0);
    object.refuse_unknown();
    return fault;
}

}  // namespace

LoadedRubric parse_rubric(SourceText source, const std::string& file) {
    const JsonDocument document = JsonDocument::parse(file, source.text);
    JsonObject object = document.root_object(kRubricSchema);
    LoadedRubric loaded;
    sim::Rubric& rubric = loaded.rubric;
    rubric.id = source.id;
    rubric.title = object.text("title");
    rubric.pass_share = object.number_or("pass_share", kShare, rubric.pass_share);
    rubric.heading_share = object.number_or("heading_share", kShare, rubric.heading_share);
    if (const auto bands = object.find("bands")) read_bands(*bands, rubric.bands);
    for (const JsonValue& item : object.at("items").array(1, 200)) rubric.items.push_back(read_item(item));
    if (const auto critical = object.find("critical"))
        for (const JsonValue& fault : critical->array(0, 100)) rubric.critical.push_back(read_fault(fault));
    object.refuse_unknown();
    try {
        sim::validate(rubric);
    } catch (const sim::InputError& error) {
        throw FileError(file, error.place(), error.value(), error.accepted());
    }
    loaded.source = std::move(source);
    return loaded;
}

LoadedRubric load_rubric(const std::filesystem::path& path) { return parse_rubric(load_source(path), path.string()); }

}  // namespace files
