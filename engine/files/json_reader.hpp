#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "engine/files/file_error.hpp"
#include "sim/core/vec.hpp"

/// JSON from outside, read defensively: every refusal is a FileError with file, place, value and what is accepted.

namespace files {

inline constexpr int kJsonDepth = 32;  ///< objects and arrays within one another

/// A range of accepted numbers, both ends included.
struct Range {
    double low, high;
};

class JsonObject;

/// One value of a document, and where it stands. Borrowed from its JsonDocument.
class JsonValue {
 public:
    JsonValue(const std::string& file, std::string place, const nlohmann::json& value)
        : file_(&file), place_(std::move(place)), value_(&value) {}

    [[nodiscard]] double number(Range accepted) const;
    [[nodiscard]] std::int64_t integer(std::int64_t low, std::int64_t high) const;
    [[nodiscard]] std::uint64_t unsigned_integer() const;  ///< 0 to 2^64 - 1
    [[nodiscard]] bool boolean() const;
    [[nodiscard]] std::string text(std::size_t most_bytes = 4096) const;
    /// @return index of the text among `words`
    [[nodiscard]] std::size_t one_of(std::span<const std::string_view> words) const;
    [[nodiscard]] JsonObject object() const;
    [[nodiscard]] std::vector<JsonValue> array(std::size_t least, std::size_t most) const;
    [[nodiscard]] sim::Vec3 point_mm(Range each) const;  ///< [x, y, z] in millimetres, returned in metres

    [[nodiscard]] const std::string& place() const { return place_; }
    [[nodiscard]] const std::string& file() const { return *file_; }
    [[nodiscard]] const nlohmann::json& raw() const { return *value_; }

    /// @throws FileError always, about this value
    [[noreturn]] void refuse(const std::string& accepted) const;

 private:
    const std::string* file_;
    std::string place_;
    const nlohmann::json* value_;
};

/// An object whose keys are ticked off as they are read, so that a key nobody knows is refused and not overlooked.
///
/// Two keys are known in every object: `source`, where its values come from, and `sources`, the same key by key.
class JsonObject {
 public:
    explicit JsonObject(const JsonValue& value);

    [[nodiscard]] JsonValue at(std::string_view key);  ///< @throws FileError when the key is missing
    [[nodiscard]] std::optional<JsonValue> find(std::string_view key);

    [[nodiscard]] double number(std::string_view key, Range accepted) { return at(key).number(accepted); }
    [[nodiscard]] double number_or(std::string_view key, Range accepted, double otherwise);
    [[nodiscard]] std::int64_t integer_or(std::string_view key, std::int64_t low, std::int64_t high,
                                          std::int64_t otherwise);
    [[nodiscard]] bool boolean_or(std::string_view key, bool otherwise);
    [[nodiscard]] std::string text(std::string_view key) { return at(key).text(); }
    [[nodiscard]] std::string text_or(std::string_view key, std::string_view otherwise);

    /// To be called once every known key was asked for.
    /// @throws FileError naming the first key that was never asked for, and the nearest one that was
    void refuse_unknown();

    [[nodiscard]] const std::string& place() const { return value_.place(); }
    [[nodiscard]] const JsonValue& value() const { return value_; }

 private:
    [[nodiscard]] std::string place_of(std::string_view key) const;
    void read_sources();

    JsonValue value_;
    std::set<std::string, std::less<>> asked_;
};

/// A parsed document. Movable; values borrow from it.
class JsonDocument {
 public:
    /// @throws FileError for text that is not one JSON value in UTF-8: syntax with line and column, nesting past
    ///         kJsonDepth, a key that comes twice, a number that no double holds
    static JsonDocument parse(std::string file, std::string_view text);

    /// @throws FileError as parse() and read_bytes()
    static JsonDocument load(const std::filesystem::path& path, std::uint64_t most_bytes);

    [[nodiscard]] JsonValue root() const { return {*file_, "", *value_}; }

    /// The root as an object whose `schema_version` is the one that this program reads.
    [[nodiscard]] JsonObject root_object(std::int64_t schema_version) const;

 private:
    JsonDocument() = default;
    std::unique_ptr<const std::string> file_;
    std::unique_ptr<const nlohmann::json> value_;
};

/// The nearest of `words` to `word` by edits, when it is near enough to be meant; empty otherwise.
[[nodiscard]] std::string nearest_word(std::string_view word, std::span<const std::string_view> words);

/// A number as people would write it, shortest form that reads back the same.
[[nodiscard]] std::string number_text(double value);

/// "line 3, column 7" of an offset into a text. Columns count bytes.
[[nodiscard]] std::string line_and_column(std::string_view text, std::size_t offset);

}  // namespace files
