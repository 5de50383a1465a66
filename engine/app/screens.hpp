#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "engine/app/attempt_shelf.hpp"
#include "engine/app/home.hpp"
#include "engine/app/library.hpp"
#include "engine/app/settings.hpp"
#include "engine/app/ui.hpp"
#include "engine/files/learners.hpp"
#include "engine/graded/station.hpp"

/// Screens that need no state of their own beyond what they are shown.

namespace app {

/// The cautions that stand under every screen, at the same place, with what touches the attempt at their right.
void draw_footer(Ui& ui, const std::string& status);
/// Its height in pixels: more than one line where there is little room. Screens end above it.
[[nodiscard]] float footer_height(const Ui& ui);
/// Height of the band at the top of a screen, in pixels.
[[nodiscard]] float band_height(const Ui& ui);

struct StartView {
    const std::vector<Entry>& entries;
    const std::vector<PastAttempt>& attempts;
    const std::string& trouble;
    sim::PracticeMode mode;
    session::VariantWish variant;
    std::optional<NextStep> next;
    const std::string& learner;  ///< name of who works; empty where there is one only
    std::string session;         ///< title of the newest graded session here; empty where there is none
};
struct StartChoice {
    std::string scenario;         ///< to practise, or empty
    std::filesystem::path go_on;  ///< an attempt that stopped, or empty
    bool past = false, settings = false, progress = false, learners = false, sessions = false, authoring = false,
         cohort = false;
    sim::PracticeMode mode = sim::PracticeMode::coached;  ///< as it is chosen now
    session::VariantWish variant = session::VariantWish::as_written;
};

/// Cautions, the next thing to do, and everything there is to practise.
[[nodiscard]] StartChoice draw_start(Ui& ui, const StartView& view);

struct PastChoice {
    bool back = false;
    std::filesystem::path show;   ///< an attempt, or empty
    std::filesystem::path go_on;  ///< one that stopped, or empty
};

/// Every attempt in the data folder, those that cannot be read named with the reason.
[[nodiscard]] PastChoice draw_past(Ui& ui, const std::vector<PastAttempt>& attempts, bool reading,
                                   const std::string& trouble);

struct ProgressChoice {
    bool back = false;
    std::string scenario;  ///< to practise, or empty
};
/// How each heading went from attempt to attempt, and the drill for the weakest.
[[nodiscard]] ProgressChoice draw_progress(Ui& ui, const std::vector<Entry>& entries,
                                           const std::vector<PastAttempt>& attempts);

/// What is being typed on the screen of learners, and what was wrong with it.
struct LearnerForm {
    std::string added, renamed, trouble;
};
struct LearnersChoice {
    bool back = false, add = false, rename = false;
    std::optional<std::string> work_as;  ///< an id
};
/// Who practises on this machine.
[[nodiscard]] LearnersChoice draw_learners(Ui& ui, const files::LearnerList& learners, LearnerForm& form);

/// Graded sessions that this machine takes part in, as the learner who works sees them.
struct SessionsView {
    const std::vector<graded::Station>& stations;
    files::PublicKey learner{};
    std::string key_words;  ///< of learner and machine, to be told to an instructor
    const std::string& trouble;
    const std::string& handed_in;  ///< where the last return was written, or empty
};
struct SessionsChoice {
    bool back = false;
    std::size_t station = 0;
    std::string slot;      ///< to begin or go on with, or empty
    bool hand_in = false;  ///< of that station
};
[[nodiscard]] SessionsChoice draw_sessions(Ui& ui, const SessionsView& view);

/// The band at the top of such a screen: title and the way back. @return back was asked for
[[nodiscard]] bool draw_title_band(Ui& ui, const std::string& name, const std::string& title);
/// Where the column below it stands.
[[nodiscard]] Rect column_below_band(const Ui& ui);

/// A patient is being prepared.
void draw_loading(Ui& ui, const std::string& title, double fraction, const std::string& what);

enum class AfterSettings { stay, resized, back };  ///< resized: another size of text was chosen

/// Everything that can be set, in plain words. @param machine what it lacks or does slowly, in words
[[nodiscard]] AfterSettings draw_settings(Ui& ui, SettingsKeeper& keeper, const std::string& machine);
/// The same but for how one practises, over a part of a screen where an attempt waits meanwhile.
[[nodiscard]] AfterSettings draw_settings_over(Ui& ui, SettingsKeeper& keeper, const std::string& machine,
                                               const Rect& where);

}  // namespace app
