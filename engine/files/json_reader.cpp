#include "engine/files/json_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numeric>

#include "engine/files/bytes.hpp"

namespace files {

namespace {

using nlohmann::json;

constexpr std::size_t kShownValueBytes = 80;  // of a value in a message

std::string shown(const json& value) {
    if (value.is_object()) return "an object";
    if (value.is_array()) return fmt::format("a list of {}", value.size());
    std::string text = value.dump(-1, ' ', true, json::error_handler_t::replace);
    if (text.size() > kShownValueBytes) text = text.substr(0, kShownValueBytes) + "...";
    return text;
}

/// Builds the value as the parser meets it and refuses on the way what nlohmann's own builder lets pass: nesting
/// without end and a key that comes twice.
class Builder final : public nlohmann::json_sax<json> {
 public:
    Builder(const std::string& file, std::string_view text) : file_(file), text_(text) {}

    bool null() override { return put(json(nullptr)); }
    bool boolean(bool value) override { return put(json(value)); }
    bool number_integer(number_integer_t value) override { return put(json(value)); }
    bool number_unsigned(number_unsigned_t value) override { return put(json(value)); }
    bool number_float(number_float_t value, const string_t& written) override {
        if (!std::isfinite(value)) throw FileError(file_, place(), written, "a finite number");
        return put(json(value));
    }
    bool string(string_t& value) override { return put(json(std::move(value))); }
    bool binary(binary_t&) override { return false; }

    bool start_object(std::size_t) override { return open(json::object()); }
    bool key(string_t& name) override {
        json& object = *open_.back();
        if (object.contains(name))
            throw FileError(file_, place(), fmt::format("key \"{}\" twice", name), "each key once");
        key_.back() = name;
        return true;
    }
    bool end_object() override { return close(); }
    bool start_array(std::size_t) override { return open(json::array()); }
    bool end_array() override { return close(); }

    bool parse_error(std::size_t position, const std::string& token, const json::exception& error) override {
        // 406: digits that overflow a double
        if (error.id == 406) throw FileError(file_, place(), token, "a number that a double can hold");
        const std::size_t offset = position > 0 ? std::min(position - 1, text_.size()) : 0;
        const bool at_end = position > text_.size();
        throw FileError(file_, line_and_column(text_, offset),
                        at_end ? std::string("the end of the file") : fmt::format("\"{}\"", last_of(token)),
                        at_end ? "the rest of the JSON text" : "JSON (RFC 8259)");
    }

    json take() { return std::move(root_); }

 private:
    static std::string last_of(const std::string& token) {
        return token.size() <= kShownValueBytes ? token : "..." + token.substr(token.size() - kShownValueBytes);
    }

    [[nodiscard]] std::string place() const {
        std::string text;
        for (std::size_t i = 0; i < open_.size(); ++i)
            if (open_[i]->is_array())
                text += fmt::format("[{}]", open_[i]->size());
            else if (!key_[i].empty())
                text += (text.empty() ? "" : ".") + key_[i];
        return text;
    }

    json* attach(json value) {
        if (open_.empty()) {
            root_ = std::move(value);
            return &root_;
        }
        json& parent = *open_.back();
        if (parent.is_array()) {
            parent.push_back(std::move(value));
            return &parent.back();
        }
        return &(parent[key_.back()] = std::move(value));
    }

    bool put(json value) {
        attach(std::move(value));
        return true;
    }

    bool open(json value) {
        if (open_.size() >= static_cast<std::size_t>(kJsonDepth))
            throw FileError(file_, place(), "deeper nesting", fmt::format("at most {} levels", kJsonDepth));
        // a parent's children may move while it grows, but never while one of them is open: it is the last
        open_.push_back(attach(std::move(value)));
        key_.emplace_back();
        return true;
    }

    bool close() {
        open_.pop_back();
        key_.pop_back();
        return true;
    }

    const std::string& file_;
    std::string_view text_;
    json root_;
    std::vector<json*> open_;
    std::vector<std::string> key_;  // last key of each open object
};

}  // namespace

std::string number_text(double value) {
    std::array<char, 40> text{};
    const auto end = std::to_chars(text.data(), text.data() + text.size(), value).ptr;
    return {text.data(), end};
}

std::string line_and_column(std::string_view text, std::size_t offset) {
    const std::string_view before = text.substr(0, std::min(offset, text.size()));
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    const std::size_t start = before.rfind('\n');
    const std::size_t column = start == std::string_view::npos ? before.size() + 1 : before.size() - start;
    return fmt::format("line {}, column {}", line, column);
}

std::string nearest_word(std::string_view word, std::span<const std::string_view> words) {
    std::string best;
    // two letters exchanged are two edits; more than this is another word
    std::size_t fewest = 1 + (word.size() <= 3 ? 1 : std::max<std::size_t>(2, word.size() / 3));
    for (const std::string_view candidate : words) {
        // Wagner and Fischer 1974, one row at a time
        std::vector<std::size_t> row(candidate.size() + 1);
        std::iota(row.begin(), row.end(), std::size_t{0});
        for (std::size_t i = 1; i <= word.size(); ++i) {
            std::size_t diagonal = row[0];
            row[0] = i;
            for (std::size_t j = 1; j <= candidate.size(); ++j) {
                const std::size_t replaced = diagonal + (word[i - 1] == candidate[j - 1] ? 0 : 1);
                diagonal = row[j];
                row[j] = std::min({replaced, row[j] + 1, row[j - 1] + 1});
            }
        }
        if (row.back() >= fewest) continue;
        fewest = row.back();
        best = candidate;
    }
    return best;
}

void JsonValue::refuse(const std::string& accepted) const { throw FileError(*file_, place_, shown(*value_), accepted); }

double JsonValue::number(Range accepted) const {
    const std::string words =
        fmt::format("a number from {} to {}", number_text(accepted.low), number_text(accepted.high));
    if (!value_->is_number()) refuse(words);
    const double value = value_->get<double>();
    if (!(value >= accepted.low && value <= accepted.high)) refuse(words);
    return value;
}

std::int64_t JsonValue::integer(std::int64_t low, std::int64_t high) const {
    const std::string words = fmt::format("a whole number from {} to {}", low, high);
    if (!value_->is_number_integer()) refuse(words);
    // is_number_integer() holds for unsigned values too; one past the signed range is past `high` as well
    if (value_->is_number_unsigned() && value_->get<std::uint64_t>() > static_cast<std::uint64_t>(INT64_MAX))
        refuse(words);
    const auto value = value_->get<std::int64_t>();
    if (!(value >= low && value <= high)) refuse(words);
    return value;
}

std::uint64_t JsonValue::unsigned_integer() const {
    if (!value_->is_number_unsigned()) refuse("a whole number from 0 to 18446744073709551615");
    return value_->get<std::uint64_t>();
}

bool JsonValue::boolean() const {
    if (!value_->is_boolean()) refuse("true or false");
    return value_->get<bool>();
}

std::string JsonValue::text(std::size_t most_bytes) const {
    const std::string words = fmt::format("text of at most {} bytes", most_bytes);
    if (!value_->is_string()) refuse(words);
    const auto& text = value_->get_ref<const std::string&>();
    if (text.size() > most_bytes) refuse(words);
    return text;
}

std::size_t JsonValue::one_of(std::span<const std::string_view> words) const {
    std::string accepted = "one of";
    for (const std::string_view word : words) accepted += fmt::format(" \"{}\"", word);
    if (!value_->is_string()) refuse(accepted);
    const auto& text = value_->get_ref<const std::string&>();
    const auto found = std::find(words.begin(), words.end(), text);
    if (found == words.end()) {
        const std::string meant = nearest_word(text, words);
        refuse(meant.empty() ? accepted : accepted + fmt::format("; did you mean \"{}\"?", meant));
    }
    return static_cast<std::size_t>(found - words.begin());
}

JsonObject JsonValue::object() const { return JsonObject(*this); }

std::vector<JsonValue> JsonValue::array(std::size_t least, std::size_t most) const {
    const std::string words =
        least == most ? fmt::format("a list of {}", least) : fmt::format("a list of {} to {}", least, most);
    if (!value_->is_array()) refuse(words);
    if (!(value_->size() >= least && value_->size() <= most)) refuse(words);
    std::vector<JsonValue> values;
    values.reserve(value_->size());
    for (std::size_t i = 0; i < value_->size(); ++i)
        values.emplace_back(*file_, fmt::format("{}[{}]", place_, i), (*value_)[i]);
    return values;
}

sim::Vec3 JsonValue::point_mm(Range each) const {
    const auto parts = array(3, 3);
    return {parts[0].number(each) * sim::kMm, parts[1].number(each) * sim::kMm, parts[2].number(each) * sim::kMm};
}

JsonObject::JsonObject(const JsonValue& value) : value_(value) {
    if (!value.raw().is_object()) value.refuse("an object");
    read_sources();
}

void JsonObject::read_sources() {
    if (const auto source = find("source")) static_cast<void>(source->text());
    const auto sources = find("sources");
    if (!sources) return;
    if (!sources->raw().is_object()) sources->refuse("an object of texts");
    for (const auto& [key, text] : sources->raw().items()) {
        const JsonValue source(value_.file(), sources->place() + "." + key, text);
        static_cast<void>(source.text());
        if (!value_.raw().contains(key)) source.refuse("a source for a key that stands beside it");
    }
}

std::string JsonObject::place_of(std::string_view key) const {
    return value_.place().empty() ? std::string(key) : fmt::format("{}.{}", value_.place(), key);
}

std::optional<JsonValue> JsonObject::find(std::string_view key) {
    asked_.emplace(key);
    const auto found = value_.raw().find(std::string(key));
    if (found == value_.raw().end()) return std::nullopt;
    return JsonValue(value_.file(), place_of(key), *found);
}

JsonValue JsonObject::at(std::string_view key) {
    const auto value = find(key);
    if (!value) throw FileError(value_.file(), place_of(key), "a missing key", "a value here");
    return *value;
}

double JsonObject::number_or(std::string_view key, Range accepted, double otherwise) {
    const auto value = find(key);
    return value ? value->number(accepted) : otherwise;
}

std::int64_t JsonObject::integer_or(std::string_view key, std::int64_t low, std::int64_t high, std::int64_t otherwise) {
    const auto value = find(key);
    return value ? value->integer(low, high) : otherwise;
}

bool JsonObject::boolean_or(std::string_view key, bool otherwise) {
    const auto value = find(key);
    return value ? value->boolean() : otherwise;
}

std::string JsonObject::text_or(std::string_view key, std::string_view otherwise) {
    const auto value = find(key);
    return value ? value->text() : std::string(otherwise);
}

void JsonObject::refuse_unknown() {
    for (const auto& [key, ignored] : value_.raw().items()) {
        if (asked_.contains(key)) continue;
        std::vector<std::string_view> known(asked_.begin(), asked_.end());
        const std::string meant = nearest_word(key, known);
        std::string accepted = "known keys only";
        if (!meant.empty()) {
            accepted += fmt::format("; did you mean \"{}\"?", meant);
        } else {
            accepted += ":";
            for (const std::string_view word : known) accepted += fmt::format(" {}", word);
        }
        const std::string name = key.size() > kShownValueBytes ? key.substr(0, kShownValueBytes) + "..." : key;
        throw FileError(value_.file(), place_of(name), "an unknown key", accepted);
    }
}

JsonDocument JsonDocument::parse(std::string file, std::string_view text) {
    if (text.find_first_not_of(" \t\r\n") == std::string_view::npos)
        throw FileError(file, "", "an empty file", "a JSON text");
    if (const std::size_t bad = first_bad_utf8(text); bad != std::string_view::npos)
        throw FileError(file, line_and_column(text, bad),
                        fmt::format("byte 0x{:02x}", static_cast<unsigned char>(text[bad])), "UTF-8 text");
    JsonDocument document;
    document.file_ = std::make_unique<const std::string>(std::move(file));
    Builder builder(*document.file_, text);
    if (!json::sax_parse(text.begin(), text.end(), &builder))
        throw FileError(*document.file_, "", "a text that cannot be read", "JSON (RFC 8259)");
    document.value_ = std::make_unique<const json>(builder.take());
    return document;
}

JsonDocument JsonDocument::load(const std::filesystem::path& path, std::uint64_t most_bytes) {
    return parse(path.string(), read_bytes(path, most_bytes));
}

JsonObject JsonDocument::root_object(std::int64_t schema_version) const {
    JsonObject object = root().object();
    const JsonValue version = object.at("schema_version");
    if (!version.raw().is_number_integer() || version.raw() != schema_version)
        version.refuse(fmt::format("{}, the version that this program reads", schema_version));
    return object;
}

}  // namespace files
