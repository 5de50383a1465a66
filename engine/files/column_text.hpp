#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "engine/files/json_reader.hpp"

/// Rows of numbers as one text, each number the difference from what its column led to expect: ATTEMPT.md, "Columns".
///
/// A whole number of quanta is written zigzag (0, -1, 1, -2, ... as 0, 1, 2, 3, ...), five bits at a time, the lowest
/// first, each as a base64 digit (RFC 4648 alphabet) plus 32 when more follow; a value that is no such number stands
/// as itself in parentheses. Rows are parted by semicolons.

namespace files {

/// What a column leads to expect of its next value.
enum class Expect {
    same,         ///< the last value again
    same_change,  ///< the last value and its change again: a steady motion costs a digit
};

/// What the columns of a list held last, row after row and line after line.
class ColumnMemory {
 public:
    struct Column {
        std::int64_t last = 0, change = 0;
        [[nodiscard]] std::int64_t expected(Expect expect) const;
        void keep(std::int64_t value);
    };
    [[nodiscard]] Column& at(std::size_t index) {
        if (index >= columns_.size()) columns_.resize(index + 1);
        return columns_[index];
    }

 private:
    std::vector<Column> columns_;
};

/// Writes rows, column after column.
class ColumnWriter {
 public:
    ColumnWriter(std::string& out, ColumnMemory& memory) : out_(out), memory_(memory), start_(out.size()) {}

    void begin_row();
    /// Leave out zeros at the row's end: the reader adds them.
    void shorten_row();
    void whole(std::int64_t value, Expect expect = Expect::same);
    void value(double value, double quanta_per_unit, Expect expect);
    /// Compared with nothing.
    void alone(std::int64_t value);
    /// Go on with this column instead of the next.
    void at_column(std::size_t column) { column_ = column; }

 private:
    std::string& out_;
    ColumnMemory& memory_;
    std::size_t start_;    // of this list in the text
    std::size_t row_ = 0;  // start of the row in the text
    std::size_t column_ = 0;
};

/// Reads rows; numbers that a row leaves out are zeros. Borrows the text.
class ColumnReader {
 public:
    /// @throws FileError unless it is a text, as all below do about a row that is wrong
    ColumnReader(const JsonValue& text, ColumnMemory& memory);

    /// @return whether there is another row; the last one must have been read to its end
    bool next_row();
    [[nodiscard]] bool row_done() const { return next_ == text_->size() || (*text_)[next_] == ';'; }
    std::int64_t whole(std::int64_t low, std::int64_t high, Expect expect = Expect::same);
    double value(double quanta_per_unit, Expect expect);
    std::int64_t alone(std::int64_t low, std::int64_t high);
    void at_column(std::size_t column) { column_ = column; }

    [[noreturn]] void refuse(const std::string& accepted) const;

 private:
    std::int64_t number();
    std::int64_t difference() { return row_done() ? 0 : number(); }
    double plain();
    std::int64_t add(std::int64_t change, Expect expect);

    JsonValue value_;
    const std::string* text_;
    ColumnMemory& memory_;
    std::size_t row_number_ = 0;  // from 1
    std::size_t next_ = 0;
    std::size_t column_ = 0;
};

/// A value as it is, with a point or exponent that tells it from a count of quanta; `nan`, `inf`, `-inf`.
[[nodiscard]] std::string plain_text(double value);

/// Whole number of quanta of this size in a value, when reading it back gives the same bits.
[[nodiscard]] std::optional<std::int64_t> whole_quanta(double value, double per_unit);

}  // namespace files
