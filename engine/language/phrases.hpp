#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <unordered_set>
#include <vector>

#include "engine/language/catalogue.hpp"

/// Translates words that were put together before they came here: sim and session tell what is in English, with figures
/// and names in it, and screens join such words. A message with placeholders serves as a pattern: "{:.1f} mm from the
/// {}" fits "2.5 mm from the facial artery", and what is found in its place is translated by itself.

namespace language {

class Phrases {
 public:
    /// @param catalogue must outlive this
    explicit Phrases(const Catalogue& catalogue);

    /// In this order: the whole message, with another case of its first letter, without its end mark, as a pattern, and
    /// in parts: sentences, then what colons, semicolons and commas part.
    /// @return nothing when no part of it is known
    [[nodiscard]] std::optional<std::string> translate(std::string_view english) const;

    /// What translate() left in English until now, at most 4096 pieces.
    [[nodiscard]] const std::unordered_set<std::string>& missed() const { return missed_; }

 private:
    struct Pattern {
        std::vector<std::string_view> fixed;  ///< one more than there are placeholders
        std::vector<bool> number;             ///< by placeholder: nothing but a figure fits
        const char* translated = nullptr;
        std::size_t weight = 0;  ///< letters of the fixed parts
    };

    [[nodiscard]] std::optional<std::string> whole(std::string_view english) const;
    /// @param rest what the first k + 1 fixed parts leave  @param found gets the pieces from the k-th on
    [[nodiscard]] static bool fits(const Pattern& pattern, std::string_view rest, std::size_t k,
                                   std::vector<std::string_view>& found);
    [[nodiscard]] std::optional<std::string> by_either_case(std::string_view english, int depth) const;
    [[nodiscard]] std::optional<std::string> by_pattern(std::string_view english, int depth) const;
    [[nodiscard]] std::optional<std::string> in_parts(std::string_view english, int depth) const;
    [[nodiscard]] std::optional<std::string> any_way(std::string_view english, int depth) const;

    const Catalogue& catalogue_;
    std::vector<Pattern> patterns_;  ///< the most telling first
    mutable std::unordered_set<std::string> missed_;
};

/// Figures, signs and units alone: the same in every language.
[[nodiscard]] bool says_nothing(std::string_view text);

}  // namespace language
