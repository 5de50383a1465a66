#include "engine/app/chips.hpp"

#include <algorithm>

#include "engine/app/theme.hpp"

namespace app {

bool draw_chip(Ui& ui, const Rect& rect, const Chip& chip) {
    bool over = false;
    const bool pressed = ui.area(chip.name, rect, &over);
    ui.box(rect, over ? theme::kOver : theme::kPaper, 0.5f * rect.h);
    ui.frame(rect, chip.on ? theme::kBlue : theme::kEdge, 0.5f * rect.h, ui.px(1.3f));
    float x = rect.x + ui.px(12.0f);
    if (chip.dot) {
        const Point at{rect.x + ui.px(15.0f), rect.y + 0.5f * rect.h};
        if (chip.on) ui.disc(at, ui.px(5.0f), chip.swatch.value_or(theme::kBlue));
        ui.ring(at, ui.px(5.0f), chip.on ? theme::kBlue : theme::kEdge, ui.px(1.4f));
        x = rect.x + ui.px(26.0f);
    }
    const float y = rect.y + 0.5f * (rect.h - ui.line_height(Face::bold14));
    ui.text(Face::bold14, x, y, theme::kInk, chip.label, rect.w);
    if (!chip.key.empty())
        ui.text(Face::text14, rect.right() - ui.px(12.0f), y, theme::kSecondInk, chip.key, rect.w, Align::right);
    return pressed;
}

float chip_width(const Ui& ui, const Chip& chip) {
    const float key_w = chip.key.empty() ? 0.0f : ui.text_width(Face::text14, chip.key) + ui.px(10.0f);
    return ui.text_width(Face::bold14, chip.label) + key_w + ui.px(chip.dot ? 38.0f : 24.0f);
}

float button_width(const Ui& ui, const std::string& label, const std::string& key) {
    const float key_w = key.empty() ? 0.0f : ui.text_width(Face::text14, key) + ui.px(12.0f);
    return ui.text_width(Face::bold14, label) + key_w + ui.px(22.0f);
}

float draw_kind_chips(Ui& ui, const std::string& name, float x, float y, float right, view::StructureKinds& kinds) {
    const float h = ui.px(kChipH), left = x;
    for (std::size_t i = 0; i < view::kStructureKinds.size(); ++i) {
        const view::StructureKindName& kind = view::kStructureKinds[i];
        bool& shown = kinds.*kind.shown;
        const Chip chip{name + "." + kind.key, kind.words, "", true, shown, view::kind_colour(i)};
        const float w = chip_width(ui, chip);
        if (x > left && x + w > right) {
            x = left;
            y += h + ui.px(6.0f);
        }
        if (draw_chip(ui, {x, y, w, h}, chip)) shown = !shown;
        x += w + ui.px(8.0f);
    }
    return y + h;
}

float draw_trouble_card(Ui& ui, float x, float y, float w, const TroubleCard& card, bool* pressed) {
    if (card.words.empty()) return 0.0f;
    const float pad = ui.px(12.0f), mark_w = ui.px(32.0f), text_w = w - 2.0f * pad - mark_w, button_h = ui.px(36.0f);
    const float is_h = card.is.empty() ? 0.0f : ui.paragraph_height(Face::bold14, text_w, card.is);
    const float words_h = ui.paragraph_height(Face::text14, text_w, card.words);
    const float h = is_h + words_h + 2.0f * pad + (card.button.empty() ? 0.0f : button_h + ui.px(8.0f));
    ui.box({x, y, w, h}, theme::kPaper, ui.px(8.0f));
    ui.frame({x, y, w, h}, theme::kVermilion, ui.px(8.0f), ui.px(1.6f));
    ui.mark(Mark::bad, {x + pad + ui.px(9.0f), y + pad + 0.5f * ui.line_height(Face::text14)}, ui.px(9.0f));
    const float text_x = x + pad + mark_w;
    if (is_h > 0.0f) ui.paragraph(Face::bold14, text_x, y + pad, text_w, theme::kInk, card.is);
    ui.paragraph(Face::text14, text_x, y + pad + is_h, text_w, card.is.empty() ? theme::kInk : theme::kSecondInk,
                 card.words);
    if (!card.button.empty()) {
        const float button_w = std::min(text_w, ui.text_width(Face::bold18, card.button) + ui.px(36.0f));
        const bool now =
            ui.button(card.button_name, {text_x, y + pad + is_h + words_h + ui.px(8.0f), button_w, button_h},
                      card.button, "", false);
        if (pressed != nullptr) *pressed = now;
    }
    return h;
}

}  // namespace app
