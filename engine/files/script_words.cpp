#include "engine/files/script_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <optional>

#include "engine/files/file_error.hpp"
#include "engine/files/json_reader.hpp"

namespace files {

namespace {

constexpr std::int64_t kMsPerStep = 4;
constexpr std::size_t kShownWordBytes = 40;

/// A number of at most three decimals, in thousandths; nothing for anything else.
std::optional<std::int64_t> thousandths_of(std::string_view word) {
    std::string_view rest = word;
    const bool negative = rest.starts_with('-');
    if (negative || rest.starts_with('+')) rest.remove_prefix(1);
    const std::size_t dot = rest.find('.');
    const std::string_view whole = rest.substr(0, dot);
    std::string decimals(dot == std::string_view::npos ? std::string_view() : rest.substr(dot + 1));
    const auto digits = [](std::string_view text) {
        return std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
    };
    // zeros past the third decimal change nothing
    while (decimals.size() > 3 && decimals.back() == '0') decimals.pop_back();
    if (whole.empty() || whole.size() > 9 || decimals.size() > 3 || !digits(whole) || !digits(decimals)) return {};
    if (dot != std::string_view::npos && rest.size() == dot + 1) return {};
    decimals.resize(3, '0');
    std::int64_t value = 0;
    for (const char c : std::string(whole) + decimals) value = 10 * value + (c - '0');
    return negative ? -value : value;
}

}  // namespace

std::string decimal_text(std::int64_t thousandths) {
    return thousandths % 1000 == 0 ? std::to_string(thousandths / 1000)
                                   : number_text(static_cast<double>(thousandths) / 1000.0);
}

ScriptWords::ScriptWords(const std::string& file, int line, std::string_view text) : file_(file), line_(line) {
    text = text.substr(0, text.find('#'));
    constexpr std::string_view blank = " \t\r\v\f";
    for (std::size_t at = text.find_first_not_of(blank); at != std::string_view::npos;) {
        const std::size_t end = std::min(text.find_first_of(blank, at), text.size());
        words_.push_back(text.substr(at, end - at));
        at = text.find_first_not_of(blank, end);
    }
}

void ScriptWords::refuse(std::string_view word, const std::string& accepted) const {
    std::string shown = word.empty() ? "the end of the line" : fmt::format("\"{}\"", word.substr(0, kShownWordBytes));
    throw FileError(file_, fmt::format("line {}", line_), std::move(shown), accepted);
}

std::string_view ScriptWords::take(const std::string& accepted) {
    if (done()) refuse("", accepted);
    return words_[next_++];
}

bool ScriptWords::took(std::string_view word) {
    if (done() || words_[next_] != word) return false;
    ++next_;
    return true;
}

void ScriptWords::expect(std::string_view word) {
    if (!took(word)) refuse(done() ? "" : words_[next_], fmt::format("\"{}\"", word));
}

std::int64_t ScriptWords::thousandths(std::int64_t low, std::int64_t high, std::string_view unit) {
    const std::string accepted = fmt::format("a number from {} to {} ({}) with at most three decimals",
                                             decimal_text(low), decimal_text(high), unit);
    const std::string_view word = take(accepted);
    const auto value = thousandths_of(word);
    if (!value || !(*value >= low && *value <= high)) refuse(word, accepted);
    return *value;
}

std::int64_t ScriptWords::whole(std::int64_t low, std::int64_t high) {
    const std::string accepted = fmt::format("a whole number from {} to {}", low, high);
    const std::string_view word = take(accepted);
    std::int64_t value = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
    if (error != std::errc() || end != word.data() + word.size() || !(value >= low && value <= high))
        refuse(word, accepted);
    return value;
}

std::size_t ScriptWords::one_of(std::span<const std::string> accepted) {
    std::string listed = "one of";
    for (const std::string& one : accepted) listed += " " + one;
    const std::string_view word = take(listed);
    const auto at = std::find(accepted.begin(), accepted.end(), word);
    if (at != accepted.end()) return static_cast<std::size_t>(at - accepted.begin());
    const std::vector<std::string_view> views(accepted.begin(), accepted.end());
    const std::string meant = nearest_word(word, views);
    refuse(word, meant.empty() ? listed : listed + fmt::format("; did you mean \"{}\"?", meant));
}

std::int64_t ScriptWords::duration() {
    const std::int64_t value = thousandths(1, 86'400'000, "s or ms");
    const std::string accepted = "\"s\" or \"ms\"";
    const std::string_view unit = take(accepted);
    if (unit != "s" && unit != "ms") refuse(unit, accepted);
    const std::int64_t ms = unit == "s" ? value : (value + 500) / 1000;
    return std::max<std::int64_t>(1, (ms + kMsPerStep / 2) / kMsPerStep);
}

std::int64_t ScriptWords::long_time_s(std::int64_t most_s) {
    const std::int64_t value = whole(1, most_s);
    const std::string accepted = fmt::format("\"s\" or \"min\", {} s at most", most_s);
    const std::string_view unit = take(accepted);
    if (unit != "s" && unit != "min") refuse(unit, accepted);
    const std::int64_t seconds = unit == "s" ? value : 60 * value;
    if (seconds > most_s) refuse(unit, accepted);
    return seconds;
}

void ScriptWords::end() const {
    if (!done()) refuse(words_[next_], "the end of the line");
}

}  // namespace files
