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
        const bool three = count(node, "minItems", 0) == 3 && count(node, "maxItems", 0) == 3;
        return three && word(node["items"], "type") == "number" ? FieldKind::point : FieldKind::list;
    }
    if (type == "integer") return FieldKind::integer;
    if (type == "number") return FieldKind::number;
    return type == "boolean" ? FieldKind::yes_no : FieldKind::text;
}

Field field_of(const Json& node, const std::string& key, const Place& place, bool required) {
    Field out;
    out.key = key;
    out.place = place;
    out.kind = kind_of(node);
    out.about = word(node, "description");
    out.label = word(node, "title");
    if (out.label.empty()) out.label = key;
    const Json& figures = out.kind == FieldKind::point ? node["items"] : node;
    out.low = number(figures, "minimum");
    out.high = number(figures, "maximum");
    if (const auto above = number(figures, "exclusiveMinimum")) {
        out.low = above;
        out.above_low = true;
    }
    if (out.kind == FieldKind::choice)
        for (const Json& one : node["enum"])
            out.options.push_back(one.is_string() ? one.get<std::string>() : one.dump());
    if (out.kind == FieldKind::list) {
        out.least = count(node, "minItems", 0);
        out.most = count(node, "maxItems", kNoLimit);
    } else if (out.kind == FieldKind::text) {
        out.most = count(node, "maxLength", 4096);
    }
    out.required = required;
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

/// References followed, and of several shapes the one that the value has; what the reference itself says of it holds.
Json Form::resolved(Json node, const Json& value) const {
    const auto keep_words = [](Json to, const Json& from) {
        for (const char* key : {"title", "description"})
            if (const std::string words = word(from, key); !words.empty()) to[key] = words;
        return to;
    };
    while (node.contains("$ref")) node = keep_words(schema_.at(Place(node["$ref"].get<std::string>().substr(1))), node);
    const auto shapes = node.find("oneOf");
    if (shapes == node.end() || !shapes->front().contains("properties")) return node;
    for (const Json& shape : *shapes) {
        const Json& name = shape["properties"].value("name", Json::object());
        const auto given = value.is_object() ? value.find("name") : value.end();
        if (name.contains("enum") && given != value.end() &&
            std::find(name["enum"].begin(), name["enum"].end(), *given) != name["enum"].end())
            return keep_words(shape, node);
    }
    return keep_words(shapes->back(), node);
}

Json Form::node(const Json& document, const Place& at) const {
    static const Json kNothing;
    Place here;
    Json now = resolved(schema_, document);
    for (const std::string& part : parts_of(at)) {
        here /= part;
        const Json* value = value_at(document, here);
        const char* const way = now.contains("items") ? "items" : "properties";
        const Json& next = now.contains("items") ? now["items"] : now.value(way, Json::object()).value(part, kNothing);
        if (next.is_null()) throw std::out_of_range("no such place: " + at.to_string());
        Json copy = next;
        now = resolved(std::move(copy), value ? *value : kNothing);
    }
    return now;
}

Field Form::field(const Json& document, const Place& at) const {
    const bool member = !at.empty() && requires_key(node(document, at.parent_pointer()), at.back());
    return field_of(node(document, at), at.empty() ? "" : at.back(), at, member);
}

std::vector<Field> Form::fields(const Json& document, const Place& at) const {
    std::vector<Field> out;
    const Json here = node(document, at);
    const Json* value = value_at(document, at);
    if (value && !fits(field_of(here, "", at, false), *value)) return out;
    if (here.contains("items")) {
        for (std::size_t i = 0; value && i < value->size(); ++i) out.push_back(field(document, at / i));
        for (std::size_t i = 0; i < out.size(); ++i) out[i].key = out[i].label = std::to_string(i + 1);
    } else if (here.contains("properties")) {
        for (const auto& [key, unused] : here["properties"].items())
            if (!skipped(key)) out.push_back(field(document, at / key));
    }
    return out;
}

Json Form::fresh_of(const Json& node) const {
    const Json here = resolved(node, Json());
    const Field field = field_of(here, "", Place(), false);
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
            return here["enum"].front();
        case FieldKind::point:
            return Json::array({0.0, 0.0, 0.0});
        case FieldKind::list: {
            Json out = Json::array();
            for (std::size_t i = 0; i < field.least; ++i) out.push_back(fresh_of(here["items"]));
            return out;
        }
        case FieldKind::object:
            break;
    }
    Json out = Json::object();
    const Json properties = here.value("properties", Json::object());
    for (const auto& [key, property] : properties.items())
        if (requires_key(here, key)) out[key] = fresh_of(property);
    return out;
}

Json Form::fresh(const Json& document, const Place& at) const { return fresh_of(node(document, at)); }

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
        case FieldKind::choice: {
            std::string out = "one of ";
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
        case FieldKind::object:
        case FieldKind::list:
            break;
    }
    return "";
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
        case FieldKind::object:
        case FieldKind::list:
            break;
    }
    return std::nullopt;
}

}  // namespace author
