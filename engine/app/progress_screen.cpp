#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>

#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/report/debrief_words.hpp"

namespace app {

namespace {

constexpr std::size_t kShown = 12;  // attempts of a plot: the last ones
constexpr float kPlotH = 76.0f;

/// Shares of a heading's points from attempt to attempt: a disc where the whole attempt was passed, a ring where not;
/// a square around one that was made after weeks.
void draw_plot(Ui& ui, const Rect& rect, const HeadingRecord& record) {
    const auto y_of = [&](double share) {
        return rect.bottom() - rect.h * static_cast<float>(std::clamp(share, 0.0, 1.0));
    };
    ui.line({rect.x, rect.y}, {rect.right(), rect.y}, theme::kLine, ui.px(1.0f));
    ui.line({rect.x, rect.bottom()}, {rect.right(), rect.bottom()}, theme::kEdge, ui.px(1.0f));
    for (float x = rect.x; x < rect.right(); x += ui.px(9.0f))
        ui.line({x, y_of(kHeadingAsked)}, {std::min(x + ui.px(5.0f), rect.right()), y_of(kHeadingAsked)}, theme::kEdge,
                ui.px(1.0f));
    const std::size_t n = std::min(kShown, record.points.size()), first = record.points.size() - n;
    const float step = rect.w / static_cast<float>(kShown);
    const auto at = [&](std::size_t i) {
        return Point{rect.x + (static_cast<float>(i) + 0.5f) * step, y_of(record.points[first + i].share)};
    };
    for (std::size_t i = 1; i < n; ++i) ui.line(at(i - 1), at(i), theme::kBlue, ui.px(1.8f));
    for (std::size_t i = 0; i < n; ++i) {
        const HeadingRecord::Point& point = record.points[first + i];
        const float r = ui.px(4.5f);
        ui.disc(at(i), r, point.passed ? theme::kBlue : theme::kPaper);
        ui.ring(at(i), r, theme::kBlue, ui.px(1.8f));
        if (point.after_weeks)
            ui.frame({at(i).x - 1.7f * r, at(i).y - 1.7f * r, 3.4f * r, 3.4f * r}, theme::kInk, 0.0f, ui.px(1.2f));
    }
}

/// A heading: its name, how it stands, and its plot. The plot's scale stands at its left.
void draw_record(Ui& ui, const Rect& card, const HeadingRecord& record, bool weakest) {
    const float pad = ui.px(12.0f), scale_w = ui.text_width(Face::text14, "100 %") + ui.px(6.0f);
    const float line = ui.line_height(Face::text14);
    ui.box(card, theme::kPaper, ui.px(8.0f));
    ui.frame(card, weakest ? theme::kVermilion : theme::kLine, ui.px(8.0f), ui.px(weakest ? 1.6f : 1.0f));
    const std::string stands = fmt::format("{:.0f} %", 100.0 * record.now());
    const float stands_w = ui.text_width(Face::bold18, stands);
    ui.text(Face::bold14, card.x + pad, card.y + ui.px(9.0f), theme::kInk,
            report::capital(sim::name_of(record.heading)), card.w - 3.0f * pad - stands_w);
    ui.text(Face::bold18, card.right() - pad, card.y + ui.px(6.0f), theme::kInk, stands, stands_w + 1.0f, Align::right);
    const Rect plot{card.x + pad + scale_w, card.y + ui.px(44.0f), card.w - 2.0f * pad - scale_w, ui.px(kPlotH)};
    for (const double share : {1.0, kHeadingAsked, 0.0})
        ui.text(Face::text14, plot.x - ui.px(6.0f), plot.bottom() - plot.h * static_cast<float>(share) - 0.5f * line,
                theme::kSecondInk, fmt::format("{:.0f} %", 100.0 * share), scale_w, Align::right);
    draw_plot(ui, plot, record);
}

/// What to do about the weakest heading. @return height taken
float draw_weakest(Ui& ui, float x, float y, float w, const std::vector<Entry>& entries,
                   const std::optional<sim::Heading>& weakest, ProgressChoice& choice) {
    if (!weakest)
        return ui.paragraph(Face::text18, x, y, w, theme::kInk,
                            "Every heading measured twice or more holds what is asked for.") +
               ui.px(12.0f);
    const float start = y;
    y += ui.paragraph(Face::text18, x, y, w, theme::kInk, fmt::format("Weakest: {}.", sim::name_of(*weakest))) +
         ui.px(6.0f);
    if (const Entry* drill = drill_for(entries, *weakest)) {
        const std::string label = "Practise: " + drill->title;
        const float bw =
            std::min(w, ui.text_width(Face::bold18, label) + ui.text_width(Face::text14, "Enter") + ui.px(56.0f));
        const float h = ui.px(40.0f);
        if (ui.button("progress.drill", {x, y, bw, h}, label, "Enter", true) ||
            (!ui.has_focus() && ui.input().pressed(SDLK_RETURN)))
            choice.scenario = drill->id;
        y += h + ui.px(14.0f);
    }
    return y - start;
}

}  // namespace

ProgressChoice draw_progress(Ui& ui, const std::vector<Entry>& entries, const std::vector<PastAttempt>& attempts) {
    ProgressChoice choice;
    choice.back = draw_title_band(ui, "progress", "Progress");
    const Rect column = column_below_band(ui);
    const float x = column.x, w = column.w;
    const Rect all = ui.begin_scroll("progress", {0, column.y, ui.width(), column.h});
    float y = all.y + ui.px(16.0f);
    const std::vector<HeadingRecord> records = heading_records(attempts);
    if (records.empty()) {
        y += ui.paragraph(Face::text18, x, y, w, theme::kSecondInk,
                          "Nothing yet. After the first finished attempt each heading has a plot here.");
        ui.end_scroll(y + ui.px(12.0f));
        return choice;
    }
    const auto weakest = weakest_heading(records);
    y += draw_weakest(ui, x, y, w, entries, weakest, choice);
    y += ui.paragraph(
             Face::text14, x, y, w, theme::kSecondInk,
             fmt::format("Share of each heading's points in the last {} attempts that measured it; the number is "
                         "the mean of the last three. Full: the attempt was passed. In a square: after four "
                         "weeks or more without practice. Dashed: what is asked for.",
                         kShown)) +
         ui.px(12.0f);
    const int columns = ui.compact() && w < ui.px(640.0f) ? 1 : 2;
    const float gap = ui.px(12.0f), card_w = (w - gap * static_cast<float>(columns - 1)) / static_cast<float>(columns);
    const float card_h = ui.px(44.0f + kPlotH + 16.0f);
    for (std::size_t i = 0; i < records.size(); ++i) {
        const auto k = static_cast<float>(i % static_cast<std::size_t>(columns));
        const auto row = static_cast<float>(i / static_cast<std::size_t>(columns));
        draw_record(ui, {x + k * (card_w + gap), y + row * (card_h + gap), card_w, card_h}, records[i],
                    weakest && records[i].heading == *weakest);
    }
    const auto rows = (records.size() + static_cast<std::size_t>(columns) - 1) / static_cast<std::size_t>(columns);
    ui.end_scroll(y + static_cast<float>(rows) * (card_h + gap));
    return choice;
}

}  // namespace app
