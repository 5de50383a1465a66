#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>

#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

/// "solo, 2 aids asked for, controller"
std::string how_words(const PastAttempt& attempt) {
    std::string out(sim::name_of(attempt.mode));
    if (attempt.aids_asked > 0)
        out += fmt::format(", {} aid{} asked for", attempt.aids_asked, attempt.aids_asked == 1 ? "" : "s");
    if (attempt.devices[static_cast<std::size_t>(sim::Device::controller)]) out += ", controller";
    if (attempt.trouble.empty() && !may_be_shown(attempt)) out += ". It is shown once it is finished.";
    return out;
}

/// An attempt as a row that opens it, and goes on with it where it was stopped; one that cannot be read says why.
void draw_row(Ui& ui, float x, float& y, float w, const PastAttempt& attempt, std::size_t number, PastChoice& choice) {
    const float pad = ui.px(14.0f), line = ui.line_height(Face::text14), text_w = w - 2.0f * pad - ui.px(28.0f);
    const bool usable = attempt.trouble.empty();
    const std::string when = when_words(attempt.started_at);
    const std::string file = attempt.file.filename().string();
    const std::string about = !usable ? attempt.trouble + "\n" + attempt.file.string()
                                      : (when.empty() ? file : when) + ", " + how_words(attempt);
    const std::string result = result_words(attempt);
    const float about_h = ui.paragraph_height(Face::text14, text_w, about);
    const bool result_below =
        usable &&
        ui.text_width(Face::bold18, attempt.title) + ui.text_width(Face::bold14, result) + ui.px(16.0f) > text_w;
    const float h = ui.px(20.0f) + ui.line_height(Face::bold18) + about_h + ui.px(2.0f) + (result_below ? line : 0.0f);
    const float go_on_h = can_go_on(attempt) ? ui.px(32.0f) : 0.0f,
                below = go_on_h > 0.0f ? go_on_h + ui.px(12.0f) : 0.0f;
    const Rect card{x, y, w, h + below};
    bool over = false;
    if (may_be_shown(attempt) && ui.area(fmt::format("past.{}", number), {x, y, w, h}, &over))
        choice.show = attempt.file;
    ui.box(card, over ? theme::kOver : theme::kPaper, ui.px(8.0f));
    ui.frame(card, usable ? theme::kEdge : theme::kLine, ui.px(8.0f), ui.px(1.3f));
    const Mark mark = !usable             ? Mark::bad
                      : !attempt.finished ? Mark::neutral
                      : attempt.passed    ? Mark::good
                                          : Mark::caution;
    ui.mark(mark, {x + pad + ui.px(8.0f), y + 0.5f * h}, ui.px(8.0f));
    const float text_x = x + pad + ui.px(28.0f);
    float row = y + ui.px(9.0f);
    ui.text(Face::bold18, text_x, row, theme::kInk, usable ? attempt.title : file, text_w);
    if (usable && !result_below)
        ui.text(Face::bold14, x + w - pad, row + ui.px(3.0f), theme::kInk, result, text_w, Align::right);
    row += ui.line_height(Face::bold18) + ui.px(2.0f);
    ui.paragraph(Face::text14, text_x, row, text_w, usable ? theme::kSecondInk : theme::kVermilionText, about);
    if (result_below) ui.text(Face::bold14, text_x, row + about_h, theme::kInk, result, text_w);
    if (go_on_h > 0.0f &&
        ui.button(fmt::format("past.go_on.{}", number), {text_x, y + h, ui.px(160.0f), go_on_h}, "Go on", "", false))
        choice.go_on = attempt.file;
    y += card.h + ui.px(10.0f);
}

}  // namespace

bool draw_title_band(Ui& ui, const std::string& name, const std::string& title) {
    const float band = band_height(ui), bw = ui.px(140.0f), bh = ui.px(ui.compact() ? 30.0f : 36.0f);
    const Rect column = column_below_band(ui);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    ui.box({0, 0, ui.width(), band}, theme::kPaper);
    ui.line({0, band - 0.5f}, {ui.width(), band - 0.5f}, theme::kLine, ui.px(1.0f));
    const Face face = ui.compact() ? Face::bold18 : Face::bold24;
    ui.text(face, column.x, 0.5f * (band - ui.line_height(face)), theme::kInk, title, column.w - bw);
    return ui.button(name + ".back", {column.right() - bw, 0.5f * (band - bh), bw, bh}, "Back", "Esc", false) ||
           ui.input().pressed(SDLK_ESCAPE);
}

Rect column_below_band(const Ui& ui) {
    const float margin = ui.px(ui.compact() ? 16.0f : 40.0f), band = band_height(ui);
    const float w = std::min(ui.px(860.0f), ui.width() - 2.0f * margin);
    return {0.5f * (ui.width() - w), band, w, ui.height() - band - footer_height(ui)};
}

PastChoice draw_past(Ui& ui, const std::vector<PastAttempt>& attempts, bool reading, const std::string& trouble) {
    PastChoice choice;
    choice.back = draw_title_band(ui, "past", "Past attempts");
    const Rect column = column_below_band(ui);
    const float x = column.x, w = column.w;
    const Rect all = ui.begin_scroll("past", {0, column.y, ui.width(), column.h});
    float y = all.y + ui.px(16.0f);
    if (!trouble.empty()) y += ui.paragraph(Face::text14, x, y, w, theme::kVermilionText, trouble) + ui.px(12.0f);
    if (attempts.empty())
        y += ui.paragraph(Face::text18, x, y, w, theme::kSecondInk,
                          reading ? "Reading your attempts." : "None yet. What you practise is kept here.");
    for (std::size_t i = 0; i < attempts.size(); ++i) draw_row(ui, x, y, w, attempts[i], i + 1, choice);
    ui.end_scroll(y + ui.px(12.0f));
    return choice;
}

}  // namespace app
