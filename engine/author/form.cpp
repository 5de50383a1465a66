#include "engine/author/form.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <string_view>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"

namespace author {

namespace {

constexpr std::size_t kNoLimit = 1u << 20;
struct Unit {
    std::string_view ending, unit;
};
constexpr std::array kUnits{Unit{"_n_per_m", "N/m"},
                            Unit{"_mg_per_kg", "mg/kg"},
                            Unit{"mg_per_ml", "mg/ml"},
                            Unit{"_mg", "mg"},
                            Unit{"_mm", "mm"},
                            Unit{"_deg", "degrees"},
                            Unit{"_kg", "kg"},
                            Unit{"_n", "N"},
                            Unit{"_years", "years"},
                            Unit{"_months", "months"},
                            Unit{"_s", "s"}};

bool skipped(const std::string& key) { return key == "schema_version" || key == "sources"; }

std::string word(const Json& node, const char* key) {
    const auto at = node.find(key);
    return at != node.end() && at->is_string() ? at->get<std::string>() : "";
}

std::optional<double> number(const Json& node, const char* key) {
    const auto at = node.find(key);
    if (at == node.end() || !at->is_number()) return std::nullopt;
    return at->get<double>();
}

std::size_t count(const Json& node, const char* key, std::size_t otherwise) {
    const auto at = node.find(key);
    return at == node.end() ? otherwise : at->get<std::size_t>();
}

FieldKind kind_of(const Json& node) {
    if (node.contains("enum")) return FieldKind::choice;
    const std::string type = word(node, "type");
    if (type == "object") return FieldKind::object;
    if (type == "array") {
        if (node.at("items").contains("enum") && node.value("uniqueItems", false)) return FieldKind::choices;
        const bool three = count(node, "minItems", 0) == 3 && count(node, "maxItems", 0) == 3;
        return three && word(node.at("items"), "type") == "number" ? FieldKind::point : FieldKind::list;
    }
    if (type == "integer") return FieldKind::integer;
    if (type == "number") return FieldKind::number;
    return type == "boolean" ? FieldKind::yes_no : FieldKind::text;
}

std::vector<std::string> words_of(const Json& list) {
    std::vector<std::string> out;
    for (const Json& one : list) out.push_back(one.is_string() ? one.get<std::string>() : one.dump());
    return out;
}

bool requires_key(const Json& node, const std::string& key) {
    const auto required = node.find("required");
    return required != node.end() && std::find(required->begin(), required->end(), key) != required->end();
}

const Json* value_at(const Json& document, const Place& at) {
    return document.contains(at) ? &document.at(at) : nullptr;
}

std::vector<std::string> parts_of(const Place& at) {
    std::vector<std::string> out;
    for (Place rest = at; !rest.empty(); rest = rest.parent_pointer()) out.push_back(rest.back());
    std::reverse(out.begin(), out.end());
    return out;
}

bool in_range(const Field& field, double value) {
    if (!std::isfinite(value)) return false;
    if (field.low && (value < *field.low || (field.above_low && value <= *field.low))) return false;
    return !field.high || value <= *field.high;
}

std::string trimmed(std::string text) {
    const auto graph = [](char c) { return c != ' ' && c != '\t'; };
    text.erase(text.begin(), std::find_if(text.begin(), text.end(), graph));
    text.erase(std::find_if(text.rbegin(), text.rend(), graph).base(), text.end());
    return text;
}

std::optional<double> figure(const std::string& typed) {
    const std::string text = trimmed(typed);
    double out = 0.0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
    if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return out;
}

std::optional<Json> whole_number(const Field& field, const std::string& typed) {
    const std::string text = trimmed(typed);
    const bool negative = !text.empty() && text.front() == '-';
    std::uint64_t seed = 0;
    std::int64_t value = 0;
    const char* const end = text.data() + text.size();
    const auto [at, error] =
        negative ? std::from_chars(text.data(), end, value) : std::from_chars(text.data(), end, seed);
    if (text.empty() || error != std::errc{} || at != end) return std::nullopt;
    if (!in_range(field, negative ? static_cast<double>(value) : static_cast<double>(seed))) return std::nullopt;
    return negative ? Json(value) : Json(seed);
}

std::optional<Json> three_numbers(const Field& field, const std::string& typed) {
    Json out = Json::array();
    std::size_t from = 0;
    while (from <= typed.size()) {
        const std::size_t comma = std::min(typed.find(',', from), typed.size());
        const std::optional<double> one = figure(typed.substr(from, comma - from));
        if (!one || !in_range(field, *one)) return std::nullopt;
        out.push_back(*one);
        from = comma + 1;
    }
    if (out.size() != 3) return std::nullopt;
    return out;
}

}  // namespace

Form Form::load(const std::filesystem::path& schema) {
    const std::string text = files::read_bytes(schema, files::kDocumentBytes);
    try {
        return Form(Json::parse(text));
    } catch (const Json::exception& error) {
        throw files::FileError(schema.string(), "", error.what(), "a JSON Schema");
    }
}

Field Form::field_of(const Node& found, const std::string& key, const Place& place, bool required) {
    const Json& node = *found.shape;
    Field out;
    out.key = key;
    out.place = place;
    out.kind = kind_of(node);
    out.about = found.about;
    out.label = found.label.empty() ? key : found.label;
    const Json& figures = out.kind == FieldKind::point ? node.at("items") : node;
    out.low = number(figures, "minimum");
    out.high = number(figures, "maximum");
    if (const auto above = number(figures, "exclusiveMinimum")) {
        out.low = above;
        out.above_low = true;
    }
    if (out.kind == FieldKind::choice) out.options = words_of(node.at("enum"));
    if (out.kind == FieldKind::choices) {
        out.options = words_of(node.at("items").at("enum"));
        if (node.contains("default")) out.when_left_out = words_of(node.at("default"));
    }
    if (out.kind == FieldKind::list) {
        out.least = count(node, "minItems", 0);
        out.most = count(node, "maxItems", kNoLimit);
    } else if (out.kind == FieldKind::text) {
        out.most = count(node, "maxLength", 4096);
    }
    out.required = required;
    return out;
}

/// References followed, and of several shapes the one that the value has; what stands before the reference holds.
Form::Node Form::resolved(const Json& node, const Json* value) const {
    Node out{&node, word(node, "title"), word(node, "description")};
    const auto go_on_to = [&out](const Json& shape) {
        out.shape = &shape;
        if (out.label.empty()) out.label = word(shape, "title");
        if (out.about.empty()) out.about = word(shape, "description");
    };
    while (out.shape->contains("$ref")) go_on_to(schema_.at(Place(word(*out.shape, "$ref").substr(1))));
    const auto shapes = out.shape->find("oneOf");
    if (shapes == out.shape->end() || !shapes->front().contains("properties")) return out;
    static const Place kNames("/properties/name/enum");
    for (const Json& shape : *shapes) {
        if (!shape.contains(kNames) || value == nullptr || !value->is_object()) continue;
        const Json& names = shape.at(kNames);
        const auto given = value->find("name");
        if (given == value->end() || std::find(names.begin(), names.end(), *given) == names.end()) continue;
        go_on_to(shape);
        return out;
    }
    go_on_to(shapes->back());
    return out;
}

Form::Node Form::node(const Json& document, const Place& at) const {
    Place here;
    Node now = resolved(schema_, &document);
    for (const std::string& part : parts_of(at)) {
        here /= part;
        const auto items = now.shape->find("items");
        const auto properties = now.shape->find("properties");
        const Json* next = items != now.shape->end() ? &*items : nullptr;
        if (next == nullptr && properties != now.shape->end() && properties->contains(part))
            next = &properties->at(part);
        if (next == nullptr) throw std::out_of_range("no such place: " + at.to_string());
        now = resolved(*next, value_at(document, here));
    }
    return now;
}

Field Form::field(const Json& document, const Place& at) const {
    const bool member = !at.empty() && requires_key(*node(document, at.parent_pointer()).shape, at.back());
    return field_of(node(document, at), at.empty() ? "" : at.back(), at, member);
}

std::vector<Field> Form::fields(const Json& document, const Place& at) const {
    std::vector<Field> out;
    const Node here = node(document, at);
    const Json* value = value_at(document, at);
    if (value && !fits(field_of(here, "", at, false), *value)) return out;
    if (here.shape->contains("items")) {
        const Json& items = here.shape->at("items");
        for (std::size_t i = 0; value && i < value->size(); ++i) {
            const std::string number = std::to_string(i + 1);
            out.push_back(field_of(resolved(items, &(*value)[i]), number, at / i, false));
            out.back().label = number;
        }
    } else if (here.shape->contains("properties")) {
        for (const auto& [key, property] : here.shape->at("properties").items()) {
            if (skipped(key)) continue;
            const Json* member = value && value->contains(key) ? &value->at(key) : nullptr;
            out.push_back(field_of(resolved(property, member), key, at / key, requires_key(*here.shape, key)));
        }
    }
    return out;
}

Json Form::fresh_of(const Json& node) const {
    const Node found = resolved(node, nullptr);
    const Json& here = *found.shape;
    const Field field = field_of(found, "", Place(), false);
    switch (field.kind) {
        case FieldKind::text:
            return "";
        case FieldKind::number:
        case FieldKind::integer: {
            const double low = field.low.value_or(0.0), high = field.high.value_or(low + 1.0);
            const double value = field.above_low ? std::min(high, low + 1.0) : std::clamp(0.0, low, high);
            return field.kind == FieldKind::integer ? Json(std::llround(value)) : Json(value);
        }
        case FieldKind::yes_no:
            return true;
        case FieldKind::choice:
            return here.at("enum").front();
        case FieldKind::choices:
            return field.when_left_out;
        case FieldKind::point:
            return Json::array({0.0, 0.0, 0.0});
        case FieldKind::list: {
            Json out = Json::array();
            for (std::size_t i = 0; i < field.least; ++i) out.push_back(fresh_of(here.at("items")));
            return out;
        }
        case FieldKind::object:
            break;
    }
    Json out = Json::object();
    if (!here.contains("properties")) return out;
    for (const auto& [key, property] : here.at("properties").items())
        if (requires_key(here, key)) out[key] = fresh_of(property);
    return out;
}

Json Form::fresh(const Json& document, const Place& at) const { return fresh_of(*node(document, at).shape); }

std::string unit_of(const std::string& key) {
    const auto found =
        std::find_if(kUnits.begin(), kUnits.end(), [&](const Unit& one) { return key.ends_with(one.ending); });
    return found == kUnits.end() ? "" : std::string(found->unit);
}

std::string accepted_words(const Field& field) {
    const std::string from = field.low ? fmt::format("{}{:g}", field.above_low ? "above " : "", *field.low) : "";
    std::string range = from.empty() ? "any" : from;
    if (field.high && *field.high < 1e8)
        range = from.empty() ? fmt::format("at most {:g}", *field.high) : fmt::format("{} to {:g}", from, *field.high);
    else if (field.low && !field.above_low)
        range = "at least " + from;
    switch (field.kind) {
        case FieldKind::number:
            return range;
        case FieldKind::integer:
            return "a whole number, " + range;
        case FieldKind::point:
            return "three numbers with commas between them, " + range;
        case FieldKind::choice:
        case FieldKind::choices: {
            std::string out = field.kind == FieldKind::choice ? "one of " : "any of ";
            for (const std::string& option : field.options)
                out += (&option == &field.options.front() ? "" : ", ") + option;
            return out;
        }
        case FieldKind::list:
            return field.most >= kNoLimit ? fmt::format("{} and more", field.least)
                                          : fmt::format("{} to {}", field.least, field.most);
        case FieldKind::text:
            return fmt::format("at most {} characters", field.most);
        case FieldKind::yes_no:
        case FieldKind::object:
            break;
    }
    return "";
}

bool fits(const Field& field, const Json& value) {
    switch (field.kind) {
        case FieldKind::object:
            return value.is_object();
        case FieldKind::choices:
        case FieldKind::list:
        case FieldKind::point:
            return value.is_array();
        default:
            return value.is_primitive();
    }
}

std::string text_of(const Field& field, const Json& document) {
    const Json* value = value_at(document, field.place);
    if (!value) return "";
    switch (field.kind) {
        case FieldKind::text:
        case FieldKind::choice:
            return value->is_string() ? value->get<std::string>() : value->dump();
        case FieldKind::number:
            return value->is_number() ? fmt::format("{}", value->get<double>()) : value->dump();
        case FieldKind::point: {
            std::string out;
            for (const Json& one : *value)
                out +=
                    (out.empty() ? "" : ", ") + (one.is_number() ? fmt::format("{}", one.get<double>()) : one.dump());
            return out;
        }
        case FieldKind::integer:
        case FieldKind::yes_no:
            return value->dump();
        case FieldKind::choices:
        case FieldKind::object:
        case FieldKind::list:
            break;
    }
    return "";
}

std::vector<std::string> chosen_of(const Field& field, const Json& document) {
    const Json* value = value_at(document, field.place);
    if (!value) return field.when_left_out;
    return value->is_array() ? words_of(*value) : std::vector<std::string>{};
}

Json toggled(const Field& field, const Json& document, const std::string& option) {
    const std::vector<std::string> chosen = chosen_of(field, document);
    Json out = Json::array();
    for (const std::string& one : field.options)
        if ((std::find(chosen.begin(), chosen.end(), one) != chosen.end()) != (one == option)) out.push_back(one);
    return out;
}

std::optional<Json> value_of(const Field& field, const std::string& typed) {
    switch (field.kind) {
        case FieldKind::text:
            if (typed.size() > field.most || (field.required && trimmed(typed).empty())) return std::nullopt;
            return Json(typed);
        case FieldKind::choice:
            if (std::find(field.options.begin(), field.options.end(), typed) == field.options.end())
                return std::nullopt;
            return Json(typed);
        case FieldKind::number: {
            const std::optional<double> value = figure(typed);
            if (!value || !in_range(field, *value)) return std::nullopt;
            return Json(*value);
        }
        case FieldKind::integer:
            return whole_number(field, typed);
        case FieldKind::point:
            return three_numbers(field, typed);
        case FieldKind::yes_no:
            if (typed != "true" && typed != "false") return std::nullopt;
            return Json(typed == "true");
        case FieldKind::choices:
        case FieldKind::object:
        case FieldKind::list:
            break;
    }
    return std::nullopt;
}

}  // namespace author
