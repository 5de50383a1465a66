#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "engine/app/chips.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/language/language.hpp"
#include "engine/language/words.hpp"

namespace app {

using language::say;
using language::tr;

namespace {

constexpr float kControl = 330.0f, kControlH = 36.0f;  // at 100 %
constexpr int kTextStep = 25, kSensitivityStep = 25, kVolumeStep = 10;

/// Rows of one column: what it is, why one would change it, and the control.
class Rows {
 public:
    Rows(Ui& ui, float x, float y, float w) : ui_(ui), x_(x), y_(y), w_(w) {}

    void heading(const std::string& words) {
        if (!first_) y_ += ui_.px(14.0f);
        first_ = false;
        ui_.text(Face::bold18, x_, y_, theme::kInk, words, w_);
        y_ += ui_.line_height(Face::bold18) + ui_.px(8.0f);
    }

    std::size_t choice(const std::string& name, const std::string& label, const std::string& why,
                       std::span<const std::string> options, std::size_t chosen) {
        return ui_.choice("settings." + name, begin(label, why), options, chosen);
    }

    bool yes_no(const std::string& name, const std::string& label, const std::string& why, bool on,
                const std::array<std::string, 2>& options) {
        return choice(name, label, why, options, on ? 1 : 0) == 1;
    }

    /// [less] value [more]
    int percent(const std::string& name, const std::string& label, const std::string& why, int value, int low, int high,
                int step) {
        const Rect control = begin(label, why);
        const float b = std::min(ui_.px(88.0f), 0.34f * control.w);
        if (ui_.button("settings." + name + ".less", {control.x, control.y, b, control.h}, "Less", "", false,
                       value > low))
            value -= step;
        if (ui_.button("settings." + name + ".more", {control.right() - b, control.y, b, control.h}, "More", "", false,
                       value < high))
            value += step;
        value = std::clamp(value, low, high);
        ui_.text(Face::bold18, control.x + 0.5f * control.w,
                 control.y + 0.5f * (control.h - ui_.line_height(Face::bold18)), theme::kInk,
                 fmt::format("{} %", value), control.w - 2.0f * b, Align::centre);
        return value;
    }

    [[nodiscard]] float y() const { return y_; }

 private:
    /// Words of a row, and where its control goes: beside them, or under them where there is little room.
    Rect begin(const std::string& label, const std::string& why) {
        const bool under = w_ < ui_.px(720.0f);
        const float control_w = under ? std::min(w_ - ui_.px(24.0f), ui_.px(420.0f)) : ui_.px(kControl);
        const float pad = ui_.px(12.0f), text_w = under ? w_ - 2.0f * pad : w_ - control_w - 3.0f * pad;
        const float label_h = ui_.line_height(Face::bold14), why_h = ui_.paragraph_height(Face::text14, text_w, why);
        const float words_h = label_h + why_h + ui_.px(2.0f), control_h = ui_.px(kControlH);
        const float h = (under ? words_h + ui_.px(8.0f) + control_h : std::max(words_h, control_h)) + 2.0f * pad;
        ui_.box({x_, y_, w_, h}, theme::kPaper, ui_.px(8.0f));
        ui_.frame({x_, y_, w_, h}, theme::kLine, ui_.px(8.0f));
        const float words_y = under ? y_ + pad : y_ + 0.5f * (h - words_h);
        ui_.text(Face::bold14, x_ + pad, words_y, theme::kInk, label, text_w);
        ui_.paragraph(Face::text14, x_ + pad, words_y + label_h + ui_.px(2.0f), text_w, theme::kSecondInk, why);
        const Rect control{under ? x_ + pad : x_ + w_ - pad - control_w,
                           under ? y_ + pad + words_h + ui_.px(8.0f) : y_ + 0.5f * (h - control_h), control_w,
                           control_h};
        y_ += h + ui_.px(8.0f);
        return control;
    }

    Ui& ui_;
    float x_, y_, w_;
    bool first_ = true;
};

const std::array<std::string, 2> kNoYes{"No", "Yes"};

void practice_rows(Rows& rows, Settings& to) {
    static const std::array<std::string, 3> kModes{"Coached", "Solo", "Graded"};
    rows.heading("Practice");
    to.mode = static_cast<sim::PracticeMode>(rows.choice("mode", "How you practise",
                                                         "Coached: aids and advice are on. Solo: aids when you ask for "
                                                         "them, each use recorded. Graded: no aids, and the "
                                                         "result comes at the end.",
                                                         kModes, static_cast<std::size_t>(to.mode)));
}

void hand_rows(Rows& rows, Settings& to) {
    static const std::array<std::string, 2> kHands{"Right", "Left"}, kAdvance{"Hold the key", "Press once"};
    rows.heading("Hands");
    to.left_handed = rows.yes_no("hand", "Working hand",
                                 "The tray stands on this side of the patient; a controller's triggers change places.",
                                 to.left_handed, kHands);
    to.advance = static_cast<AdvanceKey>(rows.choice(
        "advance", "Advance and withdraw", "Hold the key to move, or press it once to start and once more to stop.",
        kAdvance, static_cast<std::size_t>(to.advance)));
    to.sensitivity_percent = rows.percent("sensitivity", "Sensitivity",
                                          "How far keys, mouse and controller move the hand and turn the view.",
                                          to.sensitivity_percent, 25, 400, kSensitivityStep);
    to.invert = rows.yes_no("invert", "Invert up and down", "For mouse and controller.", to.invert, kNoYes);
}

/// Takes hold at once.
void language_row(Rows& rows, Settings& to) {
    static constexpr auto& kChoices = language::kChoices;
    std::array<std::string, kChoices.size()> names{tr("System")};
    for (std::size_t i = 1; i < names.size(); ++i) names[i] = language::kKnown[i - 1].name;
    const auto asked = std::find(kChoices.begin(), kChoices.end(), to.language);
    const auto index = static_cast<std::size_t>(asked - kChoices.begin());
    rows.heading(tr("Language"));
    const std::size_t now =
        rows.choice("language", tr("Language of words"),
                    tr("Numbers keep the decimal point, on the screen, on paper and in files."), names, index);
    if (now == index) return;
    to.language = kChoices[now];
    // a catalogue that cannot be used leaves English, which is seen at once
    static_cast<void>(language::choose(to.language));
}

/// @param ui whose text size is shown: it may have been asked for at the start of the program, and a small window sets
///           it a limit
/// @return another size was chosen
bool picture_rows(Rows& rows, Settings& to, const Ui& ui) {
    rows.heading("Picture and sound");
    const int asked = ui.text_percent_asked(), shown = ui.text_percent_shown();
    const std::string why = shown < asked
                                ? fmt::format("{} % is asked for; this window has room for {} %.", asked, shown)
                                : "Text and everything around it. Panels scroll when they must.";
    const int now = rows.percent("text", "Text size", why, asked, 100, 200, kTextStep);
    if (now != asked) to.text_percent = now;
    to.reduced_motion = rows.yes_no("motion", "Reduced motion", "The view changes at once instead of gliding.",
                                    to.reduced_motion, kNoYes);
    to.volume_percent = rows.percent("volume", "Sound", "A soft tone that grows rough with resistance.",
                                     to.volume_percent, 0, 100, kVolumeStep);
    to.captions = rows.yes_no("captions", "Captions", "What is heard is also written.", to.captions, kNoYes);
    return now != asked;
}

/// What is wrong with the file, and the one thing that can be done about it. @return height taken
float draw_trouble(Ui& ui, SettingsKeeper& keeper, float x, float y, float w) {
    bool replace = false;
    const bool refused = keeper.file_refused();
    const float h = draw_trouble_card(
        ui, x, y, w, {"", keeper.trouble(), "settings.replace", refused ? "Replace the settings file" : ""}, &replace);
    if (replace) keeper.replace();
    return h > 0.0f ? h + ui.px(14.0f) : 0.0f;
}

/// @return height taken
float draw_machine(Ui& ui, const std::string& machine, float x, float y, float w) {
    if (machine.empty()) return 0.0f;
    return ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, "This machine: " + machine + ".") + ui.px(6.0f);
}

/// Title and the way back. @return pressed
bool draw_head(Ui& ui, const Rect& band, float x, float w, const char* back) {
    const float bw = ui.px(140.0f), bh = ui.px(ui.compact() ? 30.0f : 36.0f);
    ui.box(band, theme::kPaper);
    ui.line({band.x, band.bottom() - 0.5f}, {band.right(), band.bottom() - 0.5f}, theme::kLine, ui.px(1.0f));
    const Face title = ui.compact() ? Face::bold18 : Face::bold24;
    ui.text(title, x, band.y + 0.5f * (band.h - ui.line_height(title)), theme::kInk, "Settings", w - bw);
    return ui.button("settings.back", {x + w - bw, band.y + 0.5f * (band.h - bh), bw, bh}, back, "Esc", false) ||
           ui.input().pressed(SDLK_ESCAPE);
}

}  // namespace

AfterSettings draw_settings(Ui& ui, SettingsKeeper& keeper, const std::string& machine) {
    const float band = band_height(ui), margin = ui.px(ui.compact() ? 16.0f : 40.0f);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    const float w = std::min(ui.px(860.0f), ui.width() - 2.0f * margin), x = 0.5f * (ui.width() - w);
    const bool back = draw_head(ui, {0, 0, ui.width(), band}, x, w, "Back");

    const Rect inner{0, band, ui.width(), ui.height() - band - footer_height(ui)};
    const Rect all = ui.begin_scroll("settings", inner);
    float y = all.y + ui.px(16.0f);
    y += draw_trouble(ui, keeper, x, y, w);
    Settings to = keeper.now();
    Rows rows(ui, x, y, w);
    practice_rows(rows, to);
    hand_rows(rows, to);
    const bool resized = picture_rows(rows, to, ui);
    language_row(rows, to);
    y = rows.y() + ui.px(8.0f);
    y += draw_machine(ui, machine, x, y, w);
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, "Kept in " + keeper.file().string());
    ui.end_scroll(y + ui.px(16.0f));
    keeper.change(to);
    return back ? AfterSettings::back : resized ? AfterSettings::resized : AfterSettings::stay;
}

AfterSettings draw_settings_over(Ui& ui, SettingsKeeper& keeper, const std::string& machine, const Rect& where) {
    ui.box(where, theme::kGround);
    const float band = ui.px(ui.compact() ? 40.0f : 52.0f), pad = ui.px(ui.compact() ? 8.0f : 14.0f);
    const bool back = draw_head(ui, {where.x, where.y, where.w, band}, where.x + pad, where.w - 2.0f * pad, "Resume");
    const Rect inner{where.x, where.y + band, where.w, where.h - band};
    const Rect all = ui.begin_scroll("settings.over", inner);
    const float x = where.x + pad, w = all.right() - pad - x;
    float y = all.y + pad;
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk,
                      "Paused. How you practise is chosen on the start screen.") +
         ui.px(8.0f);
    y += draw_trouble(ui, keeper, x, y, w);
    Settings to = keeper.now();
    Rows rows(ui, x, y, w);
    hand_rows(rows, to);
    const bool resized = picture_rows(rows, to, ui);
    language_row(rows, to);
    y = rows.y() + pad;
    ui.end_scroll(y + draw_machine(ui, machine, x, y, w));
    keeper.change(to);
    ui.frame(where, theme::kEdge, 0.0f, ui.px(1.0f));
    return back ? AfterSettings::back : resized ? AfterSettings::resized : AfterSettings::stay;
}

}  // namespace app
