#pragma once

#include <fmt/format.h>

#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// Words on the screen and on paper, in the language that was chosen (language.hpp). The source holds the English,
/// which is also what is looked up: a message without a translation is shown as it stands. What is written to files and
/// compared stays English and goes through none of this.
///
/// tools/languages reads the calls below out of the source, so that their English must be literals.

namespace language {

/// The English, for tables: read out by tools/languages, translated by tr() where it is shown.
[[nodiscard]] constexpr const char* word(const char* english) { return english; }

/// Translated, or what was given. What is pointed at stays until the program ends, whatever is chosen later, as long as
/// what was given does.
[[nodiscard]] const char* tr(const char* english);
[[nodiscard]] std::string_view tr(std::string_view english);
[[nodiscard]] std::string tr(const std::string& english);

/// What is about to be drawn: words that went through none of the above, such as those of sim, are translated whole, by
/// patterns or in parts (phrases.hpp). Drawing functions call it, so that nobody else need.
/// @param room keeps the translation  @return english or room
[[nodiscard]] const std::string& shown(const std::string& english, std::string& room);
[[nodiscard]] std::string shown(std::string_view english);

/// Pieces that shown() had no translation for, in alphabetical order.
[[nodiscard]] std::vector<std::string> missed();

namespace detail {
[[nodiscard]] std::string say(std::string_view english, fmt::format_args args);
[[nodiscard]] std::string say_many(std::string_view one, std::string_view many, unsigned long n, fmt::format_args args);
}  // namespace detail

/// say("{:.1f} mm deep", depth): the format is checked against its arguments when the program is compiled. A
/// translation may put the arguments in another order ("{1} ... {0}"); one that does not take the same arguments in the
/// same form was left out when the catalogue was read.
template <class... Args>
[[nodiscard]] std::string say(fmt::format_string<Args...> english, Args&&... args) {
    const fmt::string_view text = english;
    return detail::say({text.data(), text.size()}, fmt::make_format_args(args...));
}

/// say_many("{} barb", "{} barbs", n, n): in a language with other plurals than English one of its own forms.
/// @param n chooses the form and is no argument by itself
template <class... Args>
[[nodiscard]] std::string say_many(fmt::format_string<Args...> one, fmt::format_string<Args...> many, unsigned long n,
                                   Args&&... args) {
    const fmt::string_view a = one, b = many;
    return detail::say_many({a.data(), a.size()}, {b.data(), b.size()}, n, fmt::make_format_args(args...));
}

}  // namespace language
