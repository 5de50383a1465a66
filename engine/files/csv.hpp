#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Tables as RFC 4180 has them: one header line, commas, quotes around what holds a comma, a quote or a line's end.

namespace files {

inline constexpr std::uint64_t kTableBytes = 16ULL << 20;  ///< some 300 000 rows of scores
inline constexpr std::size_t kTableColumns = 1024;

/// A table that was read: texts as they stood, without the quotes around them.
///
/// Every row has a field for every column. What is asked of a field and is not there is refused by file, line (the line
/// of the file, from 1, where the row begins), column (its number from 1 and its name), value and what would be
/// accepted.
class CsvTable {
 public:
    CsvTable(std::string file, std::vector<std::string> header) : file_(std::move(file)), header_(std::move(header)) {}

    [[nodiscard]] const std::string& file() const { return file_; }
    [[nodiscard]] const std::vector<std::string>& header() const { return header_; }
    [[nodiscard]] std::size_t rows() const { return lines_.size(); }
    [[nodiscard]] std::size_t columns() const { return header_.size(); }
    /// Line of the file where a row begins.
    [[nodiscard]] std::size_t line(std::size_t row) const { return lines_[row]; }
    /// @pre row < rows(), column < columns()
    [[nodiscard]] const std::string& text(std::size_t row, std::size_t column) const { return rows_[row][column]; }

    /// Place of a column in the header.
    [[nodiscard]] std::optional<std::size_t> find(std::string_view name) const;
    /// @throws FileError naming the columns that there are
    [[nodiscard]] std::size_t column(std::string_view name) const;

    /// A finite number written with a decimal point ("-3", "4.5", "1e-3"), spaces around it ignored.
    /// @throws FileError unless the field is one from low to high
    [[nodiscard]] double number(std::size_t row, std::size_t column, double low, double high) const;
    /// A whole number. @throws FileError unless the field is one from low to high
    [[nodiscard]] std::int64_t whole(std::size_t row, std::size_t column, std::int64_t low, std::int64_t high) const;
    /// A text that is not empty. @throws FileError when it is
    [[nodiscard]] const std::string& name(std::size_t row, std::size_t column) const;
    /// Refuse what stands there. @throws FileError always
    [[noreturn]] void refuse(std::size_t row, std::size_t column, const std::string& accepted) const;

    void add(std::size_t line, std::vector<std::string> fields);

 private:
    std::string file_;
    std::vector<std::string> header_;
    std::vector<std::vector<std::string>> rows_;
    std::vector<std::size_t> lines_;
};

/// Read a table from its text.
///
/// Lines may end in CRLF, as the RFC has it, or in LF; the last need not end. Fields in quotes may hold commas, line
/// ends and doubled quotes. A byte-order mark in front is left out. Refused: no header, a header with an empty name or
/// a name twice, a row with more or fewer fields than the header (an empty line too), a quote inside a field without
/// quotes, text after a closing quote, quotes that are not closed, a carriage return that ends no line, NUL, what is
/// not UTF-8, more than 1024 columns.
/// @param file what errors call it
/// @throws FileError with place "line L, column C"
[[nodiscard]] CsvTable parse_csv(std::string_view text, std::string file);

/// The same of a file of at most 16 MiB. @throws FileError
[[nodiscard]] CsvTable read_csv(const std::filesystem::path& path);

/// What people typed, so that no spreadsheet takes it for a formula: an apostrophe in front of =, +, - and @.
[[nodiscard]] std::string unlike_a_formula(const std::string& text);

/// A table as text: CRLF at every line's end, quotes only where they are needed. parse_csv gives the same fields back.
///
/// Texts are written as they are; one that begins with "=" is a formula to some spreadsheets, which is the caller's to
/// mind.
/// @param header at least one column, no name empty or twice
/// @param rows   each with a field for every column
/// @throws sim::InputError naming the row and how many fields it has
[[nodiscard]] std::string csv_text(std::span<const std::string> header, std::span<const std::vector<std::string>> rows);

}  // namespace files
