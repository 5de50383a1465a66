#pragma once

#include <filesystem>
#include <string>

#include "engine/view/structure_kinds.hpp"
#include "sim/scenario.hpp"

/// What a person has set for this machine: JSON in the user's configuration folder.

namespace app {

/// How the advance key works: while it is held, or from one press to the next.
enum class AdvanceKey { hold, toggle };

/// Defaults are what most people start with; percentages are whole numbers, as they are shown.
struct Settings {
    int text_percent = 100;         ///< 100 to 200, of text and of everything around it
    bool left_handed = false;       ///< the tray stands at the left
    int sensitivity_percent = 100;  ///< 25 to 400, of what mouse, keys and sticks move
    bool invert = false;            ///< up and down of mouse and stick change places
    AdvanceKey advance = AdvanceKey::hold;
    bool reduced_motion = false;      ///< the camera is at its place at once
    int volume_percent = 70;          ///< 0 to 100
    bool captions = true;             ///< what is heard is also written
    std::string language = "system";  ///< one of language::kChoices
    sim::PracticeMode mode = sim::PracticeMode::coached;
    view::StructureKinds kinds;  ///< shown in practice and in a debrief, when structures are shown

    friend bool operator==(const Settings&, const Settings&) = default;
};

[[nodiscard]] std::filesystem::path settings_file();

/// @throws files::FileError naming file, key, value and what is accepted
[[nodiscard]] Settings parse_settings(const std::string& text, const std::string& file);
[[nodiscard]] std::string settings_text(const Settings& settings);

/// Settings with the file that they are kept in. A file that cannot be used is left as it is: defaults hold, changes
/// hold until the program ends, and trouble() says so, until replace() is asked for.
class SettingsKeeper {
 public:
    explicit SettingsKeeper(std::filesystem::path file);

    [[nodiscard]] const Settings& now() const { return now_; }
    /// Keep a change, on disk if that is possible. Nothing is written when nothing changed.
    void change(const Settings& to);
    /// Write over a file that could not be used.
    void replace();

    [[nodiscard]] const std::string& trouble() const { return trouble_; }  ///< empty when all is well
    [[nodiscard]] bool file_refused() const { return refused_; }           ///< there is one, and it cannot be used
    [[nodiscard]] const std::filesystem::path& file() const { return file_; }

 private:
    void write();

    std::filesystem::path file_;
    Settings now_;
    std::string trouble_;
    bool refused_ = false;
};

}  // namespace app
