#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>

#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

constexpr const char* kCaution =
    "Training aid, not a medical device, not a plan for a real patient. A good score is not permission to treat; "
    "local rules and supervision come first.";

float entry_height(const Ui& ui, float width, const Entry& entry) {
    const std::string& words = entry.trouble.empty() ? entry.goal : entry.trouble;
    return std::max(ui.px(96.0f), ui.paragraph_height(Face::text14, width - ui.px(66.0f), words) + ui.px(54.0f));
}

/// A card of the library. @return chosen
bool draw_entry(Ui& ui, const Rect& card, const Entry& entry, int number) {
    const float s = ui.scale(), pad = 16.0f * s;
    bool over = false;
    const bool usable = entry.trouble.empty();
    const bool chosen = usable && (ui.area("start." + entry.id, card, &over) || ui.input().pressed(SDLK_0 + number));
    ui.box(card, over ? theme::kBlueWash : theme::kPaper, 8.0f * s);
    ui.frame(card, over ? theme::kBlue : theme::kLine, 8.0f * s, 1.4f * s);
    const float level_w = 150.0f * s, x = card.x + pad;
    ui.tag(Face::bold14, x, card.y + 15.0f * s, fmt::format("{}", number), theme::kInk, theme::kChip);
    ui.text(Face::bold18, x + 34.0f * s, card.y + 12.0f * s, theme::kInk, entry.title,
            card.w - level_w - 2.0f * pad - 34.0f * s);
    ui.text(Face::text14, card.right() - pad, card.y + 16.0f * s, theme::kSecondInk,
            fmt::format("Level {}, {}", entry.level, entry.patient), level_w, Align::right);
    ui.paragraph(Face::text14, x + 34.0f * s, card.y + 40.0f * s, card.w - 2.0f * pad - 34.0f * s,
                 usable ? theme::kSecondInk : theme::kVermilionText, usable ? entry.goal : entry.trouble);
    return chosen;
}

}  // namespace

float band_height(const Ui& ui) { return ui.px(ui.compact() ? theme::kBandCompact : theme::kBand); }

float footer_height(const Ui& ui) {
    if (!ui.compact()) return ui.px(theme::kFooter);
    return ui.paragraph_height(Face::text14, ui.width() - ui.px(24.0f), kCaution) + ui.px(8.0f);
}

void draw_footer(Ui& ui, const std::string& status) {
    const float h = footer_height(ui), y = ui.height() - h;
    ui.box({0, y, ui.width(), h}, theme::kFooterGround);
    if (ui.compact()) {
        ui.paragraph(Face::text14, ui.px(12.0f), y + ui.px(4.0f), ui.width() - ui.px(24.0f), theme::kInk, kCaution);
        return;  // what the machine lacks stands in the settings
    }
    const float text_y = y + 0.5f * (h - ui.line_height(Face::text14));
    const float status_w = ui.text_width(Face::text14, status);
    ui.text(Face::text14, ui.px(20.0f), text_y, theme::kInk, kCaution, ui.width() - status_w - ui.px(56.0f));
    ui.text(Face::text14, ui.width() - ui.px(20.0f), text_y, theme::kSecondInk, status, status_w + 1.0f, Align::right);
}

std::optional<std::string> draw_start(Ui& ui, const std::vector<Entry>& entries, const std::string& trouble) {
    const float s = ui.scale(), margin = ui.px(ui.compact() ? 16.0f : 40.0f);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    const Rect all = ui.begin_scroll("start", {0, 0, ui.width(), ui.height() - footer_height(ui)});
    const float width = std::min(1080.0f * s, all.w - 2.0f * margin);
    const float x = 0.5f * (all.w - width);
    float y = all.y + ui.px(ui.compact() ? 12.0f : 34.0f);
    ui.text(ui.compact() ? Face::bold24 : Face::bold36, x, y, theme::kInk, "Planekeeper", width);
    y += ui.line_height(ui.compact() ? Face::bold24 : Face::bold36) + 2.0f * s;
    const Face lead = ui.compact() ? Face::text14 : Face::text18;
    y += ui.paragraph(lead, x, y, width, theme::kSecondInk,
                      "Barbed lifting threads in the lower face: practise the pass, and see what it met.") +
         20.0f * s;
    if (!trouble.empty()) {
        const float h = ui.paragraph_height(Face::text14, width - 60.0f * s, trouble) + 20.0f * s;
        ui.box({x, y, width, h}, theme::kPaper, 8.0f * s);
        ui.frame({x, y, width, h}, theme::kVermilion, 8.0f * s, 1.4f * s);
        ui.mark(Mark::bad, {x + 22.0f * s, y + 0.5f * h}, 9.0f * s);
        ui.paragraph(Face::text14, x + 44.0f * s, y + 10.0f * s, width - 60.0f * s, theme::kInk, trouble);
        y += h + 16.0f * s;
    }
    std::optional<std::string> chosen;
    int number = 0;
    const int columns = ui.room_w() < 900.0f ? 1 : 2;
    for (const char* kind : {"drill", "case"}) {
        const bool any = std::any_of(entries.begin(), entries.end(), [&](const Entry& e) { return e.kind == kind; });
        if (!any) continue;
        const bool drill = std::string(kind) == "drill";
        const char* heading = drill ? "Drills" : "Cases";
        ui.text(Face::bold24, x, y, theme::kInk, heading, width);
        ui.text(Face::text14, x + ui.text_width(Face::bold24, heading) + 14.0f * s, y + 10.0f * s, theme::kSecondInk,
                drill ? "one skill" : "one invented patient", width);
        y += 40.0f * s;
        const float gap = 14.0f * s,
                    card_w = (width - static_cast<float>(columns - 1) * gap) / static_cast<float>(columns);
        int column = 0;
        float row_h = 0.0f;
        for (const Entry& entry : entries) {
            if (entry.kind != kind) continue;
            const float card_h = entry_height(ui, card_w, entry);
            const Rect card{x + static_cast<float>(column) * (card_w + gap), y, card_w, card_h};
            row_h = std::max(row_h, card_h);
            if (draw_entry(ui, card, entry, ++number)) chosen = entry.id;
            column = (column + 1) % columns;
            if (column == 0) {
                y += row_h + gap;
                row_h = 0.0f;
            }
        }
        if (column != 0) y += row_h + gap;
        y += 8.0f * s;
    }
    ui.end_scroll(y + 8.0f * s);
    return chosen;
}

void draw_loading(Ui& ui, const std::string& title, double fraction, const std::string& what) {
    const float s = ui.scale(), width = std::min(520.0f * s, ui.width() - 40.0f * s), x = 0.5f * (ui.width() - width);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    float y = 0.5f * ui.height() - 60.0f * s;
    ui.text(Face::bold24, x, y, theme::kInk, title, width);
    y += 40.0f * s;
    const Rect bar{x, y, width, 12.0f * s};
    ui.box(bar, theme::kPaper, 6.0f * s);
    ui.box({x, y, width * static_cast<float>(std::clamp(fraction, 0.02, 1.0)), bar.h}, theme::kBlue, 6.0f * s);
    ui.frame(bar, theme::kEdge, 6.0f * s, s);
    const std::string doing = what.empty() ? "preparing the patient" : what;
    ui.text(Face::text14, x, y + 22.0f * s, theme::kSecondInk, doing, width - 60.0f * s);
    ui.text(Face::text14, x + width, y + 22.0f * s, theme::kSecondInk, fmt::format("{:.0f} %", 100.0 * fraction),
            60.0f * s, Align::right);
}

}  // namespace app
