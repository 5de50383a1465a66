#pragma once

#include <cstddef>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

/// What may be written in a scenario, a patient or a rubric, read from the schemas that are shipped with them: each
/// field with its explanation, its range, and what would be accepted in its place.

namespace author {

using Json = nlohmann::ordered_json;
using Place = Json::json_pointer;  ///< "/plan/0/entry_mm" in a document

/// A choice is one of a few, choices are any of a few.
enum class FieldKind { text, number, integer, yes_no, choice, choices, point, object, list };

struct Field {
    std::string key;    ///< in the file; the index of a member of a list
    std::string label;  ///< its name for people
    Place place;
    FieldKind kind = FieldKind::text;
    std::string about;                ///< what it is, in a sentence or two
    std::optional<double> low, high;  ///< of a number, in the unit of the file
    bool above_low = false;           ///< `low` itself is not accepted
    std::vector<std::string> options;
    std::vector<std::string> when_left_out;  ///< of the options, those that then hold
    std::size_t least = 0, most = 0;         ///< members of a list, or characters of a text
    bool required = false;
};

class Form {
 public:
    /// @param schema JSON Schema, draft 2020-12, of the few keywords that ours use
    explicit Form(Json schema) : schema_(std::move(schema)) {}
    /// @throws files::FileError when it cannot be read
    [[nodiscard]] static Form load(const std::filesystem::path& schema);

    /// Members that the object at a place may have, in the schema's order, or the members that a list there has;
    /// without the version of the format, which programs write, and sources of single figures.
    [[nodiscard]] std::vector<Field> fields(const Json& document, const Place& at) const;
    /// What stands at a place, or could. @throws std::out_of_range when the schema knows no such place
    [[nodiscard]] Field field(const Json& document, const Place& at) const;
    /// What a field begins with: what is required of it, and of that the least that is accepted.
    [[nodiscard]] Json fresh(const Json& document, const Place& at) const;

 private:
    /// A place of the schema, what it refers to found; its name and explanation may stand before the reference.
    struct Node {
        const Json* shape = nullptr;
        std::string label, about;
    };
    [[nodiscard]] Node node(const Json& document, const Place& at) const;
    [[nodiscard]] Node resolved(const Json& node, const Json* value) const;
    [[nodiscard]] Json fresh_of(const Json& node) const;
    [[nodiscard]] static Field field_of(const Node& node, const std::string& key, const Place& place, bool required);

    Json schema_;
};

/// "mm" of "length_mm". @return empty when the key tells none
[[nodiscard]] std::string unit_of(const std::string& key);

/// "0.2 to 20", "one of bevel, blunt".
[[nodiscard]] std::string accepted_words(const Field& field);

/// What stands there is of the kind that belongs there, a list where a list belongs; whether it is accepted, readers
/// say.
[[nodiscard]] bool fits(const Field& field, const Json& value);

/// As it is typed. Empty for what is not there, and for what holds others.
[[nodiscard]] std::string text_of(const Field& field, const Json& document);

/// Of choices, those that stand there, or that hold where nothing does.
[[nodiscard]] std::vector<std::string> chosen_of(const Field& field, const Json& document);

/// The same with one of the options more, or less where it was among them, in the order of the options.
[[nodiscard]] Json toggled(const Field& field, const Json& document, const std::string& option);

/// What was typed, as it would stand in the file. @return nothing when it is not accepted
[[nodiscard]] std::optional<Json> value_of(const Field& field, const std::string& typed);

}  // namespace author
