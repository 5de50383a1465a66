#pragma once

#include <array>
#include <filesystem>
#include <string>
#include <string_view>

#include "engine/language/catalogue.hpp"

/// Which language words are shown in: English, which the source holds, or one of assets/languages.

namespace language {

struct Known {
    std::string_view key;   ///< as in the settings file and in names of folders: ISO 639-1
    std::string_view name;  ///< what its speakers call it
};
inline constexpr std::array<Known, 2> kKnown{{{"en", "English"}, {"de", "Deutsch"}}};
/// What the setting may be.
inline constexpr std::array<std::string_view, 3> kChoices{"system", "en", "de"};

/// The language that the machine asks for: the first of LC_ALL, LC_MESSAGES and LANG that is set, without region and
/// encoding. @return key of a known one, "en" for all else
[[nodiscard]] std::string_view system_language();

/// Where compiled catalogues lie: share/locale beside the program's folder, in a build as in an installation. Need not
/// exist.
[[nodiscard]] std::filesystem::path catalogue_folder();

/// From now on in all threads: "system" or a known key. What was translated before stays as it is.
/// @param folder holds de/LC_MESSAGES/planekeeper.mo
/// @return empty, or what is wrong with the catalogue: then it is English
[[nodiscard]] std::string choose(std::string_view choice, const std::filesystem::path& folder = catalogue_folder());
/// The same by a catalogue that was read already; nullptr is English. It must stay until the program ends.
void choose(const Catalogue* catalogue, std::string_view key);

/// Key of what words are shown in now.
[[nodiscard]] std::string_view now();

}  // namespace language
