#include <algorithm>
#include <cmath>
#include <glm/vec4.hpp>

#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"

/// Names of the layers beside the cut, each with a line to its place in the picture.

namespace app {

namespace {

constexpr float kBesidePx = 18.0f;     // from the end of the wall to the words
constexpr float kAbovePx = 150.0f;     // left free for the aids and a caption
constexpr float kBelowPx = 150.0f;     // left free for the sentence
constexpr float kLeastSpanPx = 24.0f;  // from the first to the last place named
constexpr float kInsidePx = 8.0f;      // of a name's box around it

}  // namespace

std::optional<Point> Practice::in_window(const glm::vec3& place_mm) const {
    const glm::vec4 clip = labels_seen_ * glm::vec4(place_mm, 1.0f);
    if (!(clip.w > 0.0f)) return std::nullopt;
    return Point{view_.x + view_.w * 0.5f * (1.0f + clip.x / clip.w),
                 view_.y + view_.h * 0.5f * (1.0f - clip.y / clip.w)};
}

/// Where labels fall in the patient's part of the window, from the top.
std::vector<Practice::PlacedLabel> Practice::placed_labels() const {
    std::vector<PlacedLabel> out;
    for (const view::Label& label : labels_) {
        constexpr float kAwayMm = 5.0f;
        const auto at = in_window(label.at_mm), aside = in_window(label.at_mm + kAwayMm * label.away);
        if (at && aside && view_.holds(*at)) out.push_back({label.name, *at, aside->x < at->x});
    }
    std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.at.y < b.at.y; });
    return out;
}

void Practice::draw_labels(Ui& ui) const {
    if (!cutaway_ || !words_ || ui.compact()) return;
    const std::vector<PlacedLabel> labels = placed_labels();
    if (labels.empty()) return;
    // a wall seen edge on has no layers to point at
    const Point &first = labels.front().at, &last = labels.back().at;
    if (std::hypot(last.x - first.x, last.y - first.y) < ui.px(kLeastSpanPx)) return;
    const float pad = ui.px(kInsidePx), height = ui.line_height(Face::text14) + pad, step = height + ui.px(3.0f);
    float widest = 0.0f, left = view_.right(), right = view_.x;
    for (const PlacedLabel& label : labels) {
        widest = std::max(widest, ui.text_width(Face::text14, label.name) + 2.0f * pad);
        left = std::min(left, label.at.x);
        right = std::max(right, label.at.x);
    }
    // beyond the deep end of the wall, so that neither shaft nor cut is covered
    const float x = labels.front().leftwards ? left - ui.px(kBesidePx) - widest : right + ui.px(2.0f * kBesidePx);
    const float top = view_.y + ui.px(kAbovePx), bottom = view_.bottom() - ui.px(kBelowPx);
    const float all = step * static_cast<float>(labels.size());
    if (all > bottom - top || x < view_.x || x + widest > view_.right()) return;
    const float middle = 0.5f * (labels.front().at.y + labels.back().at.y);
    float y = std::clamp(middle - 0.5f * all, top, bottom - all);
    for (const PlacedLabel& label : labels) {
        const Rect box{x, y, ui.text_width(Face::text14, label.name) + 2.0f * pad, height};
        const Point from{label.at.x < x ? box.x : box.right(), box.y + 0.5f * height};
        ui.line(from, label.at, theme::kPaper, ui.px(3.0f));
        ui.line(from, label.at, theme::kInk, ui.px(1.2f));
        ui.disc(label.at, ui.px(2.5f), theme::kInk);
        ui.box(box, theme::kPaper, 0.25f * height);
        ui.text(Face::text14, box.x + pad, box.y + 0.5f * pad, theme::kInk, label.name, box.w - pad);
        y += step;
    }
}

/// Of the pencil mark under the pointer.
void Practice::draw_mark_names(Ui& ui) const {
    constexpr float kNearPx = 16.0f;
    if (settings_open_ || !view_.holds(ui.input().mouse) || ui.over_button()) return;
    for (const view::Label& mark : mark_names_) {
        const auto at = in_window(mark.at_mm);
        if (!at) continue;
        const Point& mouse = ui.input().mouse;
        if (std::hypot(at->x - mouse.x, at->y - mouse.y) > ui.px(kNearPx)) continue;
        const float pad = ui.px(kInsidePx), h = ui.line_height(Face::text14) + pad;
        const float w = ui.text_width(Face::text14, mark.name) + 2.0f * pad;
        if (w > view_.w) return;
        const Rect box{std::clamp(at->x + ui.px(14.0f), view_.x, view_.right() - w), at->y - 0.5f * h, w, h};
        ui.box(box, theme::kPaper, 0.25f * h);
        ui.text(Face::text14, box.x + pad, box.y + 0.5f * pad, theme::kInk, mark.name, box.w - pad);
        ui.name_place("mark.name", box);
        return;
    }
}

}  // namespace app
