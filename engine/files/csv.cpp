#include "engine/files/csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr std::string_view kByteOrderMark = "\xef\xbb\xbf";
constexpr std::size_t kShownBytes = 40;  // of a field, in an error

/// A field in an error: short, on one line.
std::string shown(std::string_view field) {
    std::string out = "\"";
    for (const char c : field.substr(0, kShownBytes)) out += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
    // a character that the cut went through would not be UTF-8 any more
    if (const std::size_t bad = first_bad_utf8(out); bad != std::string::npos) out.resize(bad);
    return out + (field.size() > kShownBytes ? "...\"" : "\"");
}

std::string_view without_spaces(std::string_view text) {
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
    return text;
}

/// Fields of one record after another.
class CsvReader {
 public:
    CsvReader(std::string_view text, std::string file) : text_(text), file_(std::move(file)) {}

    [[nodiscard]] bool done() const { return at_ == text_.size(); }
    [[nodiscard]] std::size_t line() const { return line_; }

    std::vector<std::string> record() {
        std::vector<std::string> fields;
        do {
            if (fields.size() == kTableColumns)
                refuse(fields.size() + 1, "another field", fmt::format("at most {} columns", kTableColumns));
            fields.push_back(field(fields.size() + 1));
        } while (take(','));
        if (!line_end() && !done())
            refuse(fields.size(), shown(text_.substr(at_, 1)), "a comma or the end of the line");
        return fields;
    }

 private:
    [[noreturn]] void refuse(std::size_t column, const std::string& value, const std::string& accepted) const {
        throw FileError(file_, fmt::format("line {}, column {}", line_, column), value, accepted);
    }

    bool take(char c) {
        if (done() || text_[at_] != c) return false;
        ++at_;
        return true;
    }

    bool line_end() {
        const std::size_t length = text_.substr(at_).starts_with("\r\n") ? 2
                                   : text_.substr(at_).starts_with('\n') ? 1
                                                                         : 0;
        at_ += length;
        line_ += length > 0 ? 1 : 0;
        return length > 0;
    }

    std::string field(std::size_t column) { return take('"') ? quoted(column) : bare(column); }

    std::string bare(std::size_t column) {
        const std::size_t start = at_;
        at_ = std::min(text_.find_first_of(",\r\n\"", at_), text_.size());
        if (!done() && text_[at_] == '"')
            refuse(column, "a quote inside a field", "quotes around the whole field, quotes in it doubled");
        if (!done() && text_[at_] == '\r' && !text_.substr(at_).starts_with("\r\n"))
            refuse(column, "a carriage return alone", "CRLF or LF at the end of a line");
        return std::string(text_.substr(start, at_ - start));
    }

    std::string quoted(std::size_t column) {
        const std::size_t opened = line_;
        std::string out;
        while (!done()) {
            const char c = text_[at_++];
            if (c == '"' && !take('"')) return out;
            if (c == '\n') ++line_;
            out += c;
        }
        line_ = opened;
        refuse(column, "a quote that is not closed", "a closing quote before the end of the file");
    }

    std::string_view text_;
    std::string file_;
    std::size_t at_ = 0, line_ = 1;
};

/// What is wrong with a header's names: place in it and what.
struct HeaderFault {
    std::size_t column = 0;
    std::string value;
};

std::optional<HeaderFault> header_fault(std::span<const std::string> header) {
    for (std::size_t c = 0; c < header.size(); ++c) {
        if (header[c].empty()) return HeaderFault{c, "an empty name"};
        if (std::find(header.begin(), header.begin() + static_cast<std::ptrdiff_t>(c), header[c]) !=
            header.begin() + static_cast<std::ptrdiff_t>(c))
            return HeaderFault{c, shown(header[c])};
    }
    return {};
}

constexpr const char* kHeaderAccepted = "a name for each column, none twice";

void write_record(std::string& out, std::span<const std::string> fields) {
    for (std::size_t c = 0; c < fields.size(); ++c) {
        if (c > 0) out += ',';
        // a lone empty field would be an empty line, which says nothing to many readers
        const bool quote =
            fields[c].find_first_of(",\"\r\n") != std::string::npos || (fields.size() == 1 && fields[c].empty());
        if (!quote) {
            out += fields[c];
            continue;
        }
        out += '"';
        for (const char character : fields[c]) out += character == '"' ? "\"\"" : std::string(1, character);
        out += '"';
    }
    out += "\r\n";
}

}  // namespace

std::optional<std::size_t> CsvTable::find(std::string_view name) const {
    const auto found = std::find(header_.begin(), header_.end(), name);
    if (found == header_.end()) return {};
    return static_cast<std::size_t>(found - header_.begin());
}

std::size_t CsvTable::column(std::string_view name) const {
    if (const auto found = find(name)) return *found;
    std::string names;
    for (const std::string& there : header_) names += (names.empty() ? "" : ", ") + there;
    throw FileError(file_, "line 1", "a header without the column " + shown(name) + " (it has " + names + ")",
                    fmt::format("a column named {}", name));
}

void CsvTable::refuse(std::size_t row, std::size_t column, const std::string& accepted) const {
    throw FileError(file_, fmt::format("line {}, column {} ({})", line(row), column + 1, header_[column]),
                    shown(text(row, column)), accepted);
}

double CsvTable::number(std::size_t row, std::size_t column, double low, double high) const {
    const std::string_view field = without_spaces(text(row, column));
    double value = 0.0;
    const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
    if (error != std::errc{} || end != field.data() + field.size() || !(value >= low && value <= high) ||
        !std::isfinite(value))
        refuse(row, column, fmt::format("a number from {:g} to {:g}, with a decimal point", low, high));
    return value;
}

std::int64_t CsvTable::whole(std::size_t row, std::size_t column, std::int64_t low, std::int64_t high) const {
    const std::string_view field = without_spaces(text(row, column));
    std::int64_t value = 0;
    const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
    if (error != std::errc{} || end != field.data() + field.size() || value < low || value > high)
        refuse(row, column, fmt::format("a whole number from {} to {}", low, high));
    return value;
}

const std::string& CsvTable::name(std::size_t row, std::size_t column) const {
    if (text(row, column).empty()) refuse(row, column, "a name that is not empty");
    return text(row, column);
}

void CsvTable::add(std::size_t line, std::vector<std::string> fields) {
    if (fields.size() != header_.size())
        throw FileError(file_, fmt::format("line {}", line), fmt::format("a row of {} fields", fields.size()),
                        fmt::format("{} fields, one for each column", header_.size()));
    lines_.push_back(line);
    rows_.push_back(std::move(fields));
}

CsvTable parse_csv(std::string_view text, std::string file) {
    if (const std::size_t bad = first_bad_utf8(text); bad != std::string::npos)
        throw FileError(file, fmt::format("byte {}", bad), "text that is not UTF-8", "UTF-8");
    if (const std::size_t nul = text.find('\0'); nul != std::string::npos)
        throw FileError(file, fmt::format("byte {}", nul), "a NUL byte", "text");
    if (text.starts_with(kByteOrderMark)) text.remove_prefix(kByteOrderMark.size());
    if (text.empty()) throw FileError(file, "", "an empty file", "a header line and rows of values");
    CsvReader reader(text, file);
    std::vector<std::string> header = reader.record();
    if (const auto fault = header_fault(header))
        throw FileError(file, fmt::format("line 1, column {}", fault->column + 1), fault->value, kHeaderAccepted);
    CsvTable table(std::move(file), std::move(header));
    while (!reader.done()) {
        const std::size_t line = reader.line();
        table.add(line, reader.record());
    }
    return table;
}

CsvTable read_csv(const std::filesystem::path& path) { return parse_csv(read_bytes(path, kTableBytes), path.string()); }

std::string csv_text(std::span<const std::string> header, std::span<const std::vector<std::string>> rows) {
    if (header.empty()) throw sim::InputError("header", "no columns", "at least one");
    if (const auto fault = header_fault(header))
        throw sim::InputError(fmt::format("header[{}]", fault->column), fault->value, kHeaderAccepted);
    std::string out;
    write_record(out, header);
    for (std::size_t r = 0; r < rows.size(); ++r) {
        if (rows[r].size() != header.size())
            throw sim::InputError(fmt::format("rows[{}]", r), fmt::format("{} fields", rows[r].size()),
                                  fmt::format("{}, one for each column", header.size()));
        write_record(out, rows[r]);
    }
    return out;
}

std::string unlike_a_formula(const std::string& text) {
    return !text.empty() && std::string_view("=+-@").find(text[0]) != std::string_view::npos ? "'" + text : text;
}

}  // namespace files
