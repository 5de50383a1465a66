#include <fmt/format.h>

#include <algorithm>

#include "engine/app/attempt_shelf.hpp"
#include "engine/app/chips.hpp"
#include "engine/app/observed_list.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/language/words.hpp"
#include "engine/report/debrief_words.hpp"

/// The list of an observer: who works on what.

namespace app {

namespace {

constexpr std::size_t kMostTold = 5;  // files that cannot be read

constexpr const char* kOnlyLooks =
    "You look on. Nothing of it reaches a learner, nothing is written into their folders, and no attempt waits for "
    "you. "
    "The list renews itself.";

constexpr const char* kOwnGraded =
    "Graded, not finished, and kept by your own account: it is looked on at from another one, and shown to you at its "
    "end.";

/// "Station 2, Ana: graded, 4:12 min"
std::string who_words(const ObservedRow& row) {
    const std::string learner = row.station.empty() ? row.learner : row.station + ", " + row.learner;
    const double seconds = static_cast<double>(row.steps) * sim::kStepS;
    return fmt::format("{}: {}, {}", learner, sim::name_of(row.mode), report::clock_words(seconds));
}

void draw_row(Ui& ui, float x, float& y, float w, const ObservedRow& row, std::size_t number, ObservedChoice& choice) {
    const float pad = ui.px(14.0f), mark_w = ui.px(28.0f), text_x = x + pad + mark_w;
    const std::string standing = report::capital(language::tr(standing_words(row.standing, row.finished)));
    const float standing_w = ui.text_width(Face::bold14, standing) + ui.px(4.0f);
    const float text_w = w - 2.0f * pad - mark_w, title_w = text_w - standing_w - ui.px(12.0f);
    const std::string last = row.refused            ? kOwnGraded
                             : !row.trouble.empty() ? row.trouble
                             : row.last.empty()     ? "Nothing has happened yet."
                                                    : row.last;
    const std::string who = who_words(row);
    const float title_h = ui.paragraph_height(Face::bold18, title_w, row.title);
    const float who_h = ui.paragraph_height(Face::text14, text_w, who);
    const float last_h = ui.paragraph_height(Face::text14, text_w, last);
    const Rect card{x, y, w, title_h + who_h + last_h + ui.px(20.0f)};
    bool over = false;
    if (!row.refused && ui.area(fmt::format("observed.{}", number), card, &over)) choice.watch = number - 1;
    ui.box(card, over ? theme::kOver : theme::kPaper, ui.px(8.0f));
    ui.frame(card, theme::kEdge, ui.px(8.0f), ui.px(1.3f));
    ui.mark(mark_of(row.standing), {x + pad + ui.px(8.0f), y + 0.5f * card.h}, ui.px(8.0f));
    float line = y + ui.px(9.0f);
    ui.paragraph(Face::bold18, text_x, line, title_w, theme::kInk, row.title);
    ui.text(Face::bold14, x + w - pad, line + ui.px(3.0f), theme::kInk, standing, standing_w, Align::right);
    line += title_h + ui.px(2.0f);
    ui.paragraph(Face::text14, text_x, line, text_w, theme::kSecondInk, who);
    ui.paragraph(Face::text14, text_x, line + who_h, text_w, row.trouble.empty() ? theme::kInk : theme::kVermilionText,
                 last);
    y += card.h + ui.px(10.0f);
}

}  // namespace

ObservedChoice draw_observed(Ui& ui, const ObservedView& view) {
    ObservedChoice choice;
    choice.back = draw_title_band(ui, "observed", "Observe");
    const Rect column = column_below_band(ui);
    const float x = column.x, w = column.w;
    const Rect all = ui.begin_scroll("observed", {0, column.y, ui.width(), column.h});
    float y = all.y + ui.px(16.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, kOnlyLooks) + ui.px(14.0f);
    if (const float h = draw_trouble_card(ui, x, y, w, {"", view.trouble, "", ""}); h > 0.0f) y += h + ui.px(12.0f);
    if (!view.rows.read)
        y += ui.paragraph(Face::text18, x, y, w, theme::kSecondInk, "Reading the folder.");
    else if (view.rows.rows.empty())
        y += ui.paragraph(Face::text18, x, y, w, theme::kSecondInk, "Nobody has begun an attempt yet.") + ui.px(8.0f);
    for (std::size_t i = 0; i < view.rows.rows.size(); ++i) draw_row(ui, x, y, w, view.rows.rows[i], i + 1, choice);
    const std::size_t told = std::min(view.rows.trouble.size(), kMostTold);
    for (std::size_t i = 0; i < told; ++i)
        y += ui.paragraph(Face::text14, x, y, w, theme::kVermilionText, view.rows.trouble[i]) + ui.px(6.0f);
    if (view.rows.trouble.size() > told)
        y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk,
                          language::say("Cannot be read either: {} more.", view.rows.trouble.size() - told));
    ui.end_scroll(y + ui.px(12.0f));
    return choice;
}

}  // namespace app
