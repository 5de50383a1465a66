#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "engine/app/theme.hpp"
#include "engine/app/ui.hpp"
#include "engine/language/words.hpp"

namespace app {

namespace {

ImVec2 at(Point p) { return {p.x, p.y}; }

/// Of words in the language that is shown.
float drawn_width(const ImFont* font, const std::string& words) {
    return font->CalcTextSizeA(font->FontSize, 1e6f, 0.0f, words.c_str()).x;
}

float drawn_height(const ImFont* font, float width, const std::string& words) {
    return font->CalcTextSizeA(font->FontSize, 1e6f, width, words.c_str()).y;
}

}  // namespace

const std::string& Ui::in_words(const std::string& text, std::string& room) const {
    return verbatim_ ? text : language::shown(text, room);
}

ImDrawList* Ui::draw_list() const { return ImGui::GetBackgroundDrawList(); }
ImFont* Ui::font(Face face) const { return fonts_[static_cast<std::size_t>(face)]; }
float Ui::line_height(Face face) const { return font(face)->FontSize; }

float Ui::text_width(Face face, const std::string& text) const {
    std::string room;
    return drawn_width(font(face), in_words(text, room));
}

void Ui::text(Face face, float x, float y, unsigned colour, const std::string& text, float room, Align align) {
    std::string translated, shown = in_words(text, translated);
    float width = drawn_width(font(face), shown);
    if (width > room + 0.5f) {
        check_.cut(shown, width, room);
        while (!shown.empty() && width > room) {
            // never half a letter of more than one byte
            do shown.pop_back();
            while (!shown.empty() && (static_cast<unsigned char>(shown.back()) & 0xC0u) == 0x80u);
            width = drawn_width(font(face), shown + "…");
        }
        shown += "…";
    }
    if (align == Align::centre) x -= 0.5f * width;
    if (align == Align::right) x -= width;
    const int first = text_begins();
    draw_list()->AddText(font(face), font(face)->FontSize, {std::floor(x), std::floor(y)}, packed(colour),
                         shown.c_str());
    text_ends(first, shown, font_size(face));
}

float Ui::paragraph_height(Face face, float width, const std::string& text) const {
    std::string room;
    return drawn_height(font(face), width, in_words(text, room));
}

float Ui::paragraph(Face face, float x, float y, float width, unsigned colour, const std::string& text) {
    std::string room;
    const std::string& shown = in_words(text, room);
    const int first = text_begins();
    draw_list()->AddText(font(face), font(face)->FontSize, {std::floor(x), std::floor(y)}, packed(colour),
                         shown.c_str(), nullptr, width);
    text_ends(first, shown, font_size(face));
    return drawn_height(font(face), width, shown);
}

int Ui::text_begins() const { return draw_list()->VtxBuffer.Size; }

void Ui::text_ends(int first_vertex, const std::string& words, float size) {
    const ImVector<ImDrawVert>& vertices = draw_list()->VtxBuffer;
    if (vertices.Size == first_vertex) return;  // nothing of it is seen
    ImVec2 low = vertices[first_vertex].pos, high = low;
    for (int i = first_vertex; i < vertices.Size; ++i) {
        const ImVec2& p = vertices[i].pos;
        low = {std::min(low.x, p.x), std::min(low.y, p.y)};
        high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
    const Rect window{0, 0, width_, height_};
    const bool free = panels_.empty();
    check_.text({words,
                 {low.x, low.y, high.x - low.x, high.y - low.y},
                 free ? window : panels_.back().rect,
                 free ? window : panels_.back().clip,
                 !free && !panels_.back().scroll.empty(),
                 size});
}

void Ui::box(const Rect& rect, unsigned fill, float radius) {
    // what a panel clips away covers nothing
    Rect shown = rect;
    if (!panels_.empty()) {
        const Rect& clip = panels_.back().clip;
        shown.x = std::max(rect.x, clip.x);
        shown.y = std::max(rect.y, clip.y);
        shown.w = std::max(0.0f, std::min(rect.right(), clip.right()) - shown.x);
        shown.h = std::max(0.0f, std::min(rect.bottom(), clip.bottom()) - shown.y);
    }
    if (shown.w > 0.0f && shown.h > 0.0f) check_.cover(shown);
    draw_list()->AddRectFilled({rect.x, rect.y}, {rect.right(), rect.bottom()}, packed(fill), radius);
}

void Ui::frame(const Rect& rect, unsigned line, float radius, float thickness) {
    draw_list()->AddRect({rect.x + 0.5f, rect.y + 0.5f}, {rect.right() - 0.5f, rect.bottom() - 0.5f}, packed(line),
                         radius, 0, thickness);
}

void Ui::line(Point a, Point b, unsigned colour, float thickness) {
    draw_list()->AddLine(at(a), at(b), packed(colour), thickness);
}

void Ui::disc(Point centre, float radius, unsigned colour) {
    draw_list()->AddCircleFilled(at(centre), radius, packed(colour), 24);
}

void Ui::ring(Point centre, float radius, unsigned colour, float thickness) {
    draw_list()->AddCircle(at(centre), radius, packed(colour), 32, thickness);
}

void Ui::mark(Mark mark, Point c, float r) {
    ImDrawList* list = draw_list();
    switch (mark) {
        case Mark::good: {
            disc(c, r, theme::kGreen);
            const ImVec2 tick[3] = {
                {c.x - 0.45f * r, c.y}, {c.x - 0.1f * r, c.y + 0.38f * r}, {c.x + 0.5f * r, c.y - 0.35f * r}};
            list->AddPolyline(tick, 3, packed(theme::kPaper), 0, 0.26f * r);
            break;
        }
        case Mark::caution: {
            const ImVec2 top{c.x, c.y - 1.05f * r}, left{c.x - 1.1f * r, c.y + 0.85f * r},
                right{c.x + 1.1f * r, c.y + 0.85f * r};
            list->AddTriangleFilled(top, right, left, packed(theme::kOrange));
            list->AddTriangle(top, right, left, packed(theme::kInk), 0.16f * r);
            break;
        }
        case Mark::bad:
            box({c.x - 0.9f * r, c.y - 0.9f * r, 1.8f * r, 1.8f * r}, theme::kVermilion, 0.2f * r);
            line({c.x - 0.42f * r, c.y}, {c.x + 0.42f * r, c.y}, theme::kPaper, 0.3f * r);
            break;
        case Mark::neutral:
            ring(c, 0.85f * r, theme::kSecondInk, 0.22f * r);
            break;
    }
}

float Ui::tag(Face face, float x, float y, const std::string& label, unsigned ink, unsigned fill) {
    const float pad = 6.0f * scale_, w = text_width(face, label) + 2.0f * pad;
    box({x, y, w, line_height(face) + 2.0f * scale_}, fill, 4.0f * scale_);
    text(face, x + pad, y + scale_, ink, label, w);
    return w;
}

bool Ui::button(const std::string& name, const Rect& rect, const std::string& label, const std::string& key,
                bool primary, bool enabled) {
    bool hovered = false;
    const bool pressed = enabled && area(name, rect, &hovered);
    const float s = scale_, radius = 7.0f * s;
    const unsigned fill = !enabled  ? theme::kGround
                          : primary ? (hovered ? theme::kBlueOver : theme::kBlue)
                                    : (hovered ? theme::kBlueWash : theme::kPaper);
    box(rect, fill, radius);
    if (!primary || !enabled) frame(rect, enabled ? theme::kEdge : theme::kLine, radius, 1.2f * s);
    const Face face = primary ? Face::bold18 : Face::bold14;
    const float label_w = text_width(face, label);
    const float key_w = key.empty() ? 0.0f : text_width(Face::text14, key) + 12.0f * s;
    const float x = rect.x + 0.5f * (rect.w - label_w - key_w);
    const unsigned ink = !enabled ? theme::kSecondInk : primary ? theme::kPaper : theme::kInk;
    text(face, x, rect.y + 0.5f * (rect.h - line_height(face)), ink, label, rect.w - key_w - 8.0f * s);
    if (!key.empty())
        text(Face::text14, x + label_w + 12.0f * s, rect.y + 0.5f * (rect.h - line_height(Face::text14)),
             primary && enabled ? theme::kPaper : theme::kSecondInk, key, rect.w);
    return pressed;
}

std::size_t Ui::choice(const std::string& name, const Rect& rect, std::span<const std::string> labels,
                       std::size_t chosen) {
    const float w = rect.w / static_cast<float>(labels.size());
    box(rect, theme::kPaper, px(7.0f));
    std::size_t now = chosen;
    for (std::size_t i = 0; i < labels.size(); ++i) {
        const Rect part{rect.x + static_cast<float>(i) * w, rect.y, w, rect.h};
        bool over = false;
        if (area(name + "." + std::to_string(i + 1), part, &over)) now = i;
        const bool on = i == chosen;
        if (on || over) box(part.inset(px(3.0f)), on ? theme::kBlue : theme::kBlueWash, px(5.0f));
        if (i > 0 && !on && i != chosen + 1)
            line({part.x, part.y + px(8.0f)}, {part.x, part.bottom() - px(8.0f)}, theme::kLine, px(1.0f));
        text(on ? Face::bold14 : Face::text14, part.x + 0.5f * w, part.y + 0.5f * (part.h - line_height(Face::bold14)),
             on ? theme::kPaper : theme::kInk, labels[i], w - px(8.0f), Align::centre);
    }
    frame(rect, theme::kEdge, px(7.0f), px(1.2f));
    return now;
}

namespace {

/// Where a character begins, of one byte or several.
bool begins(const std::string& text, std::size_t at) {
    return at == 0 || at >= text.size() || (static_cast<unsigned char>(text[at]) & 0xC0U) != 0x80U;
}
std::size_t after(const std::string& text, std::size_t at) {
    do at = std::min(at + 1, text.size());
    while (!begins(text, at));
    return at;
}
std::size_t before(const std::string& text, std::size_t at) {
    do at = at > 0 ? at - 1 : 0;
    while (!begins(text, at));
    return at;
}

/// One for each character that begins before `end`.
std::string stars(const std::string& text, std::size_t end) {
    std::string out;
    for (std::size_t i = 0; i < end; i = after(text, i)) out += '*';
    return out;
}

}  // namespace

void Ui::type_at_caret(const std::string& name, std::string& text, std::size_t most_bytes) {
    if (typing_in_ != name) caret_ = text.size();
    typing_in_ = name;
    caret_ = std::min(caret_, text.size());
    while (!begins(text, caret_)) --caret_;
    for (int i = 0; i < input_->caret_moves; ++i) caret_ = after(text, caret_);
    for (int i = 0; i > input_->caret_moves; --i) caret_ = before(text, caret_);
    if (input_->pressed(SDLK_HOME)) caret_ = 0;
    if (input_->pressed(SDLK_END)) caret_ = text.size();
    for (int i = 0; i < input_->rubbed_out; ++i) {
        const std::size_t from = before(text, caret_);
        text.erase(from, caret_ - from);
        caret_ = from;
    }
    for (int i = 0; i < input_->deleted; ++i) text.erase(caret_, after(text, caret_) - caret_);
    if (text.size() + input_->typed.size() > most_bytes) return;
    text.insert(caret_, input_->typed);
    caret_ += input_->typed.size();
}

bool Ui::field(const std::string& name, const Rect& rect, std::string& typed, std::size_t most_bytes, bool hidden) {
    bool over = false;
    if (area(name, rect, &over) && !focused(name)) focus_on(name);
    const bool on = focused(name);
    if (on) type_at_caret(name, typed, most_bytes);
    const std::string text = hidden ? stars(typed, typed.size()) : typed;
    box(rect, on || over ? theme::kPaper : theme::kGround, px(6.0f));
    frame(rect, on ? theme::kBlue : theme::kEdge, px(6.0f), px(on ? 1.8f : 1.2f));
    const float x = rect.x + px(10.0f), y = rect.y + 0.5f * (rect.h - line_height(Face::text18));
    const float room = rect.w - px(20.0f);
    const bool was_verbatim = std::exchange(verbatim_, true);
    // at rest its beginning is in sight, while one types what stands before the caret
    const std::size_t caret = !on ? 0 : hidden ? stars(typed, caret_).size() : caret_;
    std::size_t first = 0, last = text.size();
    while (first < caret && text_width(Face::text18, text.substr(first, caret - first)) > room - px(3.0f))
        first = after(text, first);
    while (last > caret && text_width(Face::text18, text.substr(first, last - first)) > room - px(3.0f))
        last = before(text, last);
    this->text(Face::text18, x, y, theme::kInk, text.substr(first, last - first), room);
    const float at = x + text_width(Face::text18, text.substr(first, caret - first)) + px(1.0f);
    verbatim_ = was_verbatim;
    if (on) line({at, y + px(2.0f)}, {at, y + line_height(Face::text18) - px(2.0f)}, theme::kInk, px(1.4f));
    return on && (input_->pressed(SDLK_RETURN) || input_->pressed(SDLK_KP_ENTER));
}

}  // namespace app
