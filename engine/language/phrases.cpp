#include "engine/language/phrases.hpp"

#include <algorithm>
#include <array>
#include <cctype>

namespace language {

namespace {

constexpr int kDeepest = 6;
constexpr std::size_t kMostMissed = 4096;
constexpr std::size_t kLeastWeight = 2;    // letters by which a pattern is known; units are none
constexpr std::size_t kTellingWeight = 3;  // one with fewer, "{} of {}", takes figures only
constexpr std::array<std::string_view, 17> kUnits{"mm",  "ml", "mg",  "kg", "min", "MHz", "dB",  "px", "cm",
                                                  "kPa", "mN", "rad", "Hz", "Pa",  "USP", "PDF", "ms"};

bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; }
bool is_upper(char c) { return c >= 'A' && c <= 'Z'; }
bool is_lower(char c) { return c >= 'a' && c <= 'z'; }

/// ä, ö and ü too, which are two bytes.
std::string capital(std::string text) {
    if (!text.empty() && is_lower(text[0])) text[0] = static_cast<char>(text[0] - 'a' + 'A');
    if (text.size() > 1 && text[0] == '\xc3' && (text[1] == '\xa4' || text[1] == '\xb6' || text[1] == '\xbc'))
        text[1] = static_cast<char>(static_cast<unsigned char>(text[1]) - 0x20u);
    return text;
}

bool is_figure(std::string_view text) {
    bool digit = false;
    for (const char c : text) {
        digit = digit || std::isdigit(static_cast<unsigned char>(c)) != 0;
        // a dash or a minus of more than one byte is a sign too
        if (is_letter(c) || c == ' ') return false;
    }
    return digit;
}

/// The translation with what was found in place of its placeholders, which are numbered or come in order.
std::string filled(std::string_view form, const std::vector<std::string>& found) {
    std::string out;
    std::size_t next = 0;
    for (std::size_t at = 0; at < form.size(); ++at) {
        const char c = form[at];
        if (c == '{' && at + 1 < form.size() && form[at + 1] != '{') {
            const std::size_t end = form.find('}', at);
            std::size_t index = next;
            if (std::isdigit(static_cast<unsigned char>(form[at + 1])) != 0)
                index = static_cast<std::size_t>(form[at + 1] - '0');
            else
                ++next;
            if (index < found.size()) out += found[index];
            at = end;
            continue;
        }
        if ((c == '{' || c == '}') && at + 1 < form.size() && form[at + 1] == c) ++at;
        out += c;
    }
    return out;
}

}  // namespace

bool says_nothing(std::string_view text) {
    for (std::size_t at = 0; at < text.size();) {
        std::size_t end = at;
        while (end < text.size() && is_letter(text[end])) ++end;
        const std::string_view word = text.substr(at, end - at);
        if (word.size() > 1 && std::find(kUnits.begin(), kUnits.end(), word) == kUnits.end()) return false;
        at = end + (end == at ? 1 : 0);
    }
    return true;
}

Phrases::Phrases(const Catalogue& catalogue) : catalogue_(catalogue) {
    for (const auto& [english, forms] : catalogue.messages()) {
        Pattern pattern;
        std::size_t from = 0;
        bool twice = false;
        for (std::size_t at = english.find('{'); at != std::string_view::npos; at = english.find('{', from)) {
            const std::size_t end = english.find('}', at);
            twice = twice || end == std::string_view::npos || english[at + 1] == '{';
            if (twice) break;
            pattern.fixed.push_back(english.substr(from, at - from));
            pattern.number.push_back(end > at + 1 &&
                                     std::string_view("fdg").find(english[end - 1]) != std::string_view::npos);
            from = end + 1;
        }
        // braces that stand for themselves, and numbered English, make no pattern
        if (twice || pattern.fixed.empty()) continue;
        pattern.fixed.push_back(english.substr(from));
        // where nothing stands between two placeholders, nothing tells where one ends
        if (std::any_of(pattern.fixed.begin() + 1, pattern.fixed.end() - 1, [](auto part) { return part.empty(); }))
            continue;
        for (const std::string_view part : pattern.fixed)
            if (!says_nothing(part))
                pattern.weight += static_cast<std::size_t>(std::count_if(part.begin(), part.end(), is_letter));
        if (pattern.weight < kLeastWeight) continue;
        pattern.translated = forms.front();
        patterns_.push_back(std::move(pattern));
    }
    std::sort(patterns_.begin(), patterns_.end(), [](const Pattern& a, const Pattern& b) {
        return a.weight != b.weight ? a.weight > b.weight : a.fixed < b.fixed;
    });
}

std::optional<std::string> Phrases::whole(std::string_view english) const {
    if (const char* found = catalogue_.find(english)) return std::string(found);
    if (english.empty() || !is_letter(english[0])) return std::nullopt;
    std::string other(english);
    other[0] = static_cast<char>(is_upper(other[0]) ? other[0] - 'A' + 'a' : other[0] - 'a' + 'A');
    const char* found = catalogue_.find(other);
    if (found == nullptr) return std::nullopt;
    return is_upper(english[0]) ? capital(found) : std::string(found);
}

bool Phrases::fits(const Pattern& pattern, std::string_view rest, std::size_t k, std::vector<std::string_view>& found) {
    const std::string_view next = pattern.fixed[k + 1];
    const bool last = k + 1 == pattern.number.size();
    // the shortest piece first; the last one is all that is left
    for (std::size_t to = last ? rest.size() - std::min(rest.size(), next.size()) : rest.find(next, 1);
         to != std::string_view::npos && to > 0; to = last ? std::string_view::npos : rest.find(next, to + 1)) {
        const std::string_view piece = rest.substr(0, to);
        if (last && !rest.ends_with(next)) return false;
        // what stands for a name or a figure is no sentence's end
        if (piece.find(". ") != std::string_view::npos) return false;
        if (pattern.number[k] && !is_figure(piece)) continue;
        if (pattern.weight < kTellingWeight && !says_nothing(piece)) continue;
        found.push_back(piece);
        if (last || fits(pattern, rest.substr(to + next.size()), k + 1, found)) return true;
        found.pop_back();
    }
    return false;
}

std::optional<std::string> Phrases::by_pattern(std::string_view english, int depth) const {
    for (const Pattern& pattern : patterns_) {
        const std::string_view first = pattern.fixed.front();
        if (!english.starts_with(first) || !english.ends_with(pattern.fixed.back())) continue;
        std::vector<std::string_view> found;
        if (!fits(pattern, english.substr(first.size()), 0, found)) continue;
        std::vector<std::string> translated;
        for (const std::string_view piece : found)
            translated.push_back(any_way(piece, depth + 1).value_or(std::string(piece)));
        return filled(pattern.translated, translated);
    }
    return std::nullopt;
}

std::optional<std::string> Phrases::by_either_case(std::string_view english, int depth) const {
    if (auto found = by_pattern(english, depth)) return found;
    if (english.empty() || !is_upper(english[0])) return std::nullopt;
    std::string lower(english);
    lower[0] = static_cast<char>(lower[0] - 'A' + 'a');
    auto found = by_pattern(lower, depth);
    return found ? std::optional(capital(std::move(*found))) : std::nullopt;
}

std::optional<std::string> Phrases::in_parts(std::string_view english, int depth) const {
    for (const std::string_view mark : {". ", "? ", "\n", " · ", ";  ", "; ", ": ", " (", ", "}) {
        const std::size_t at = english.find(mark);
        if (at == std::string_view::npos || at == 0 || at + mark.size() >= english.size()) continue;
        const bool sentence = mark == ". " || mark == "? ";
        const std::size_t cut = sentence ? at + 1 : at;
        const auto left = any_way(english.substr(0, cut), depth + 1);
        const auto right = any_way(english.substr(at + mark.size()), depth + 1);
        if (!left && !right) return std::nullopt;
        return left.value_or(std::string(english.substr(0, cut))) + std::string(mark.substr(sentence ? 1 : 0)) +
               right.value_or(std::string(english.substr(at + mark.size())));
    }
    return std::nullopt;
}

std::optional<std::string> Phrases::any_way(std::string_view english, int depth) const {
    if (depth > kDeepest || says_nothing(english)) return std::string(english);
    if (auto found = whole(english)) return found;
    if (english.size() > 2 && english.front() == '"' && english.back() == '"')
        if (const auto found = any_way(english.substr(1, english.size() - 2), depth + 1)) return "„" + *found + "“";
    if (auto found = by_either_case(english, depth)) return found;
    const char last = english.back();
    if (last == '.' || last == ':' || last == ',' || last == ')') {
        const std::string_view bare = english.substr(0, english.size() - 1);
        auto found = whole(bare);
        if (!found) found = by_either_case(bare, depth);
        if (found) return *found + last;
    }
    if (auto found = in_parts(english, depth)) return found;
    if (missed_.size() < kMostMissed) missed_.emplace(english);
    return std::nullopt;
}

std::optional<std::string> Phrases::translate(std::string_view english) const { return any_way(english, 0); }

}  // namespace language
