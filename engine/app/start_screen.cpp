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

/// A card of the library. @return chosen
bool draw_entry(Ui& ui, const Rect& card, const Entry& entry, int number) {
    const float s = ui.scale(), pad = 16.0f * s;
    bool over = false;
    const bool usable = entry.trouble.empty();
    const bool chosen = usable && (ui.area("start." + entry.id, card, &over) || ui.input().pressed(SDLK_0 + number));
    ui.box(card, over ? theme::kBlueWash : theme::kPaper, 8.0f * s);
    ui.frame(card, over ? theme::kBlue : theme::kLine, 8.0f * s, 1.4f * s);
    if (ui.focused("start." + entry.id)) ui.frame(card.inset(-3.0f * s), theme::kInk, 11.0f * s, 2.0f * s);
    const float level_w = 150.0f * s, x = card.x + pad;
    ui.tag(Face::bold14, x, card.y + 15.0f * s, fmt::format("{}", number), theme::kInk, 0xEEE8DC);
    ui.text(Face::bold18, x + 34.0f * s, card.y + 12.0f * s, theme::kInk, entry.title,
            card.w - level_w - 2.0f * pad - 34.0f * s);
    ui.text(Face::text14, card.right() - pad, card.y + 16.0f * s, theme::kSecondInk,
            fmt::format("Level {}, {}", entry.level, entry.patient), level_w, Align::right);
    ui.paragraph(Face::text14, x + 34.0f * s, card.y + 40.0f * s, card.w - 2.0f * pad - 34.0f * s,
                 usable ? theme::kSecondInk : theme::kVermilionText, usable ? entry.goal : entry.trouble);
    return chosen;
}

}  // namespace

void draw_footer(Ui& ui, const std::string& status) {
    const float s = ui.scale(), h = theme::kFooter * s, y = ui.height() - h;
    ui.box({0, y, ui.width(), h}, 0xEAE4D8);
    const float text_y = y + 0.5f * (h - ui.line_height(Face::text14));
    const float status_w = ui.text_width(Face::text14, status);
    ui.text(Face::text14, 20.0f * s, text_y, theme::kInk, kCaution, ui.width() - status_w - 56.0f * s);
    ui.text(Face::text14, ui.width() - 20.0f * s, text_y, theme::kSecondInk, status, status_w + 1.0f, Align::right);
}

std::optional<std::string> draw_start(Ui& ui, const std::vector<Entry>& entries, const std::string& trouble) {
    const float s = ui.scale(), width = std::min(1080.0f * s, ui.width() - 80.0f * s);
    const float x = 0.5f * (ui.width() - width);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    float y = 34.0f * s;
    ui.text(Face::bold36, x, y, theme::kInk, "Planekeeper", width);
    y += ui.line_height(Face::bold36) + 2.0f * s;
    ui.text(Face::text18, x, y, theme::kSecondInk,
            "Barbed lifting threads in the lower face: practise the pass, and see what it met.", width);
    y += 44.0f * s;
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
    for (const char* kind : {"drill", "case"}) {
        const bool any = std::any_of(entries.begin(), entries.end(), [&](const Entry& e) { return e.kind == kind; });
        if (!any) continue;
        const bool drill = std::string(kind) == "drill";
        const char* heading = drill ? "Drills" : "Cases";
        ui.text(Face::bold24, x, y, theme::kInk, heading, width);
        ui.text(Face::text14, x + ui.text_width(Face::bold24, heading) + 14.0f * s, y + 10.0f * s, theme::kSecondInk,
                drill ? "one skill" : "one invented patient", width);
        y += 40.0f * s;
        constexpr int kColumns = 2;
        const float gap = 14.0f * s, card_w = (width - gap) / kColumns, card_h = 96.0f * s;
        int column = 0;
        for (const Entry& entry : entries) {
            if (entry.kind != kind) continue;
            const Rect card{x + static_cast<float>(column) * (card_w + gap), y, card_w, card_h};
            if (draw_entry(ui, card, entry, ++number)) chosen = entry.id;
            column = (column + 1) % kColumns;
            if (column == 0) y += card_h + gap;
        }
        if (column != 0) y += card_h + gap;
        y += 8.0f * s;
    }
    return chosen;
}

void draw_loading(Ui& ui, const std::string& title, double fraction, const std::string& what) {
    const float s = ui.scale(), width = 520.0f * s, x = 0.5f * (ui.width() - width);
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
