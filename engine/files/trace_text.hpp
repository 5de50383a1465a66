#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "engine/files/column_text.hpp"
#include "engine/files/json_reader.hpp"
#include "sim/request.hpp"
#include "sim/trace.hpp"

/// Trace rows, events and tracks as texts and arrays of numbers, and back to the same bits. Columns: ATTEMPT.md.
///
/// The trace is quantised, so a value is written as a whole number of quanta (1e-10 of its SI unit); one that is not a
/// whole number of quanta is written as it is, with a point or exponent to tell it apart.

namespace files {

/// A value as JSON text that reads back to the same bits; infinities are "inf" and "-inf", not a number is null.
[[nodiscard]] std::string value_text(double value);

/// A value of single precision, as the shortest text that reads back to it. @pre the value is one, or not finite
[[nodiscard]] std::string single_text(double value);

/// Quanta of a value, when it is a whole number of them.
[[nodiscard]] std::optional<std::int64_t> quanta_of(double value);

/// Rows as one text without its quotes.
/// @param memory of the rows before these in the same attempt; brought up to date
void append_rows(std::string& out, std::span<const sim::TraceRow> rows, ColumnMemory& memory);
void append_lifts(std::string& out, std::span<const sim::LiftRow> rows, ColumnMemory& memory);

struct TimedThreadAnswer {
    std::int64_t step = 0;  ///< that read it
    sim::ThreadAnswer answer;
    friend bool operator==(const TimedThreadAnswer&, const TimedThreadAnswer&) = default;
};
void append_thread_answers(std::string& out, std::span<const TimedThreadAnswer> answers, ColumnMemory& memory);
void append_event(std::string& out, const sim::Event& event);
void append_track(std::string& out, const sim::TrackRecord& track);

/// @throws FileError as do the next ones
[[nodiscard]] std::vector<sim::TraceRow> read_rows(const JsonValue& text, ColumnMemory& memory);
[[nodiscard]] std::vector<sim::LiftRow> read_lifts(const JsonValue& text, ColumnMemory& memory);
[[nodiscard]] std::vector<TimedThreadAnswer> read_thread_answers(const JsonValue& text, ColumnMemory& memory);
[[nodiscard]] sim::Event read_event(const JsonValue& value);
[[nodiscard]] sim::TrackRecord read_track(const JsonValue& value);

/// A value as it is written: a whole number of quanta, or a plain double.
struct Coded {
    bool whole = false;
    std::int64_t quanta = 0;
    double plain = 0.0;
};

/// A list of numbers taken one after the other, each checked.
class NumberList {
 public:
    explicit NumberList(const JsonValue& list);

    Coded coded();
    double value();   ///< as value_text() writes it
    double single();  ///< as single_text() writes it
    std::int64_t whole(std::int64_t low = INT64_MIN, std::int64_t high = INT64_MAX);
    std::string text();
    [[nodiscard]] bool next_is_text() const { return !done() && list_->raw()[next_].is_string(); }
    [[nodiscard]] bool done() const { return next_ == list_->raw().size(); }
    void end() const;  ///< @throws FileError when something is left

    /// @throws FileError always, about the number taken last
    [[noreturn]] void refuse(const std::string& accepted) const;

 private:
    const nlohmann::json& take();

    const JsonValue* list_;  // borrowed
    std::size_t next_ = 0;
};

}  // namespace files
