#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "engine/language/plural_rule.hpp"

/// A compiled catalogue of messages: the .mo file of GNU gettext (manual, 10.3, "The Format of GNU MO Files"), revision
/// 0, of either byte order, UTF-8. Read here and not by the C library, which refuses to translate where no locale of
/// the operating system is installed.

namespace language {

class Catalogue {
 public:
    /// @param file name for errors
    /// @throws std::runtime_error naming file, place, value and what is accepted
    Catalogue(std::string bytes, const std::string& file);
    Catalogue(const Catalogue&) = delete;  // what it hands out points into it
    Catalogue& operator=(const Catalogue&) = delete;

    /// @return nullptr when there is none; else ends in a zero and stays as long as the catalogue
    [[nodiscard]] const char* find(std::string_view english) const;
    /// @return the form for n, nullptr when there is none
    [[nodiscard]] const char* find(std::string_view english, unsigned long n) const;

    /// English to the forms of its translation.
    [[nodiscard]] const std::unordered_map<std::string_view, std::vector<const char*>>& messages() const {
        return messages_;
    }
    [[nodiscard]] std::size_t size() const { return messages_.size(); }
    /// Messages left out since their placeholders are not those of the English, in the file's order.
    [[nodiscard]] const std::vector<std::string>& left_out() const { return left_out_; }

 private:
    std::string bytes_;
    std::unordered_map<std::string_view, std::vector<const char*>> messages_;  ///< forms, one where there is no plural
    std::vector<std::string> left_out_;
    PluralRule rule_;
};

/// Bytes of a file of at most 16 MiB. @throws std::runtime_error naming it
[[nodiscard]] std::string read_catalogue_file(const std::filesystem::path& file);

/// The same arguments in the same form, in whatever order: "{1} of {0:.1f}" fits "{:.1f} in {}".
[[nodiscard]] bool same_placeholders(std::string_view english, std::string_view translated);

}  // namespace language
