#include "engine/files/column_text.hpp"

#include <fmt/format.h>

#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <limits>

#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr double kMostCodedValue = 9e5;          // quanta of anything larger would not all be exact in a double
constexpr std::size_t kMostText = 64ULL << 20;   // one list of rows
constexpr std::size_t kMostPlain = 32;           // characters of one value in parentheses
constexpr unsigned kBitsADigit = 5, kMore = 32;  // a sixth bit says that another digit follows
constexpr std::string_view kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

constexpr std::array<std::int8_t, 256> digit_values() {
    std::array<std::int8_t, 256> values{};
    values.fill(-1);
    for (std::size_t i = 0; i < kDigits.size(); ++i)
        values[static_cast<unsigned char>(kDigits[i])] = static_cast<std::int8_t>(i);
    return values;
}
constexpr std::array<std::int8_t, 256> kValueOfDigit = digit_values();

// these wrap around, so that no pair of values overflows
std::int64_t wrapped_sum(std::int64_t a, std::int64_t b) {
    return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) + static_cast<std::uint64_t>(b));
}
std::int64_t wrapped_difference(std::int64_t a, std::int64_t b) {
    return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) - static_cast<std::uint64_t>(b));
}

std::uint64_t zigzag(std::int64_t value) {
    return (static_cast<std::uint64_t>(value) << 1) ^ static_cast<std::uint64_t>(value >> 63);
}
std::int64_t of_zigzag(std::uint64_t code) { return static_cast<std::int64_t>((code >> 1) ^ (~(code & 1) + 1)); }

void append_number(std::string& out, std::int64_t value) {
    std::uint64_t code = zigzag(value);
    do {
        auto digit = static_cast<unsigned>(code) & (kMore - 1);
        code >>= kBitsADigit;
        if (code != 0) digit |= kMore;
        out += kDigits[digit];
    } while (code != 0);
}

}  // namespace

std::string plain_text(double value) {
    if (std::isnan(value)) return "nan";
    if (std::isinf(value)) return value > 0 ? "inf" : "-inf";
    std::string text = number_text(value);
    if (text.find_first_of(".e") == std::string::npos) text += ".0";
    return text;
}

std::optional<std::int64_t> whole_quanta(double value, double per_unit) {
    if (!(std::abs(value) < kMostCodedValue)) return std::nullopt;
    const auto quanta = static_cast<std::int64_t>(std::llround(value * per_unit));
    // bits, not ==: a negative zero is not zero
    if (std::bit_cast<std::uint64_t>(static_cast<double>(quanta) / per_unit) != std::bit_cast<std::uint64_t>(value))
        return std::nullopt;
    return quanta;
}

std::int64_t ColumnMemory::Column::expected(Expect expect) const {
    return expect == Expect::same ? last : wrapped_sum(last, change);
}

void ColumnMemory::Column::keep(std::int64_t value) {
    change = wrapped_difference(value, last);
    last = value;
}

void ColumnWriter::begin_row() {
    if (out_.size() > start_) out_ += ';';
    row_ = out_.size();
    column_ = 0;
}

void ColumnWriter::shorten_row() {
    // the last digit of a longer number is never A, so that every A at the end is a zero
    while (out_.size() > row_ + 1 && out_.back() == 'A') out_.pop_back();
}

void ColumnWriter::whole(std::int64_t value, Expect expect) {
    ColumnMemory::Column& column = memory_.at(column_++);
    append_number(out_, wrapped_difference(value, column.expected(expect)));
    column.keep(value);
}

void ColumnWriter::value(double value, double quanta_per_unit, Expect expect) {
    if (const auto quanta = whole_quanta(value, quanta_per_unit)) return whole(*quanta, expect);
    out_ += fmt::format("({})", plain_text(value));
    memory_.at(column_++) = {};
}

void ColumnWriter::alone(std::int64_t value) { append_number(out_, value); }

ColumnReader::ColumnReader(const JsonValue& text, ColumnMemory& memory) : value_(text), memory_(memory) {
    text_ = text.raw().get_ptr<const std::string*>();
    if (text_ == nullptr || text_->size() > kMostText) text.refuse("rows of numbers in one text");
}

void ColumnReader::refuse(const std::string& accepted) const {
    const std::size_t from = next_ < 8 ? 0 : next_ - 8;
    throw FileError(value_.file(), fmt::format("{}, row {}, character {}", value_.place(), row_number_, next_),
                    fmt::format("\"{}\"", text_->substr(from, next_ - from)), accepted);
}

bool ColumnReader::next_row() {
    if (row_number_ > 0 && !row_done()) refuse("a row that ends here");
    if (next_ == text_->size()) return false;
    if (row_number_++ > 0) ++next_;  // over the semicolon
    column_ = 0;
    if (row_done()) refuse("a row with a number in it");
    return true;
}

std::int64_t ColumnReader::number() {
    std::uint64_t code = 0;
    for (unsigned shift = 0;; shift += kBitsADigit) {
        const int digit = row_done() ? -1 : kValueOfDigit[static_cast<unsigned char>((*text_)[next_])];
        if (digit < 0) refuse("a base64 digit");
        ++next_;
        const std::uint64_t bits = static_cast<unsigned>(digit) & (kMore - 1);
        if (shift >= 64 || bits << shift >> shift != bits) refuse("a number of at most 64 bits");
        code |= bits << shift;
        if ((static_cast<unsigned>(digit) & kMore) != 0) continue;
        if (bits == 0 && shift > 0) refuse("a number without needless digits");
        return of_zigzag(code);
    }
}

double ColumnReader::plain() {
    const std::size_t end = text_->find(')', next_);
    const std::string_view text = std::string_view(*text_).substr(next_ + 1, std::min(end - next_ - 1, kMostPlain));
    ++next_;  // so that a refusal shows the parenthesis
    if (end == std::string::npos) refuse("a value in parentheses");
    if (text == "nan") return next_ = end + 1, std::numeric_limits<double>::quiet_NaN();
    double value = 0.0;
    const auto [last, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || last != text.data() + text.size()) refuse("a number, nan, inf or -inf in parentheses");
    next_ = end + 1;
    return value;
}

std::int64_t ColumnReader::add(std::int64_t change, Expect expect) {
    ColumnMemory::Column& column = memory_.at(column_++);
    column.keep(wrapped_sum(column.expected(expect), change));
    return column.last;
}

std::int64_t ColumnReader::whole(std::int64_t low, std::int64_t high, Expect expect) {
    const std::int64_t value = add(difference(), expect);
    if (!(value >= low && value <= high))
        refuse(fmt::format("a change that leads to {} to {}, not to {}", low, high, value));
    return value;
}

double ColumnReader::value(double quanta_per_unit, Expect expect) {
    if (row_done() || (*text_)[next_] != '(') return static_cast<double>(add(difference(), expect)) / quanta_per_unit;
    memory_.at(column_++) = {};
    return plain();
}

std::int64_t ColumnReader::alone(std::int64_t low, std::int64_t high) {
    const std::int64_t value = number();
    if (!(value >= low && value <= high)) refuse(fmt::format("a whole number from {} to {}, not {}", low, high, value));
    return value;
}

}  // namespace files
