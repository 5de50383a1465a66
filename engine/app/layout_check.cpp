#include "engine/app/layout_check.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace app {

namespace {

constexpr float kSlackPx = 1.0f;  // letters are placed on whole pixels

Rect common(const Rect& a, const Rect& b) {
    const float x = std::max(a.x, b.x), y = std::max(a.y, b.y);
    return {x, y, std::max(0.0f, std::min(a.right(), b.right()) - x),
            std::max(0.0f, std::min(a.bottom(), b.bottom()) - y)};
}

bool touches(const Rect& a, const Rect& b) {
    const Rect both = common(a, b);
    return both.w > kSlackPx && both.h > kSlackPx;
}

bool within(const Rect& inner, const Rect& outer) {
    return inner.x >= outer.x - kSlackPx && inner.right() <= outer.right() + kSlackPx &&
           inner.y >= outer.y - kSlackPx && inner.bottom() <= outer.bottom() + kSlackPx;
}

/// What is seen of a text.
Rect seen(const DrawnText& text) { return common(text.ink, text.clip); }

}  // namespace

const char* name_of(LayoutFault fault) {
    switch (fault) {
        case LayoutFault::cut:
            return "cut";
        case LayoutFault::overlaps:
            return "overlaps";
        case LayoutFault::outside:
            return "outside";
        case LayoutFault::covered:
            return "covered";
        case LayoutFault::small:
            return "small";
    }
    return "";
}

std::string line_of(const Misfit& misfit) {
    return fmt::format("{}: {} ({})", name_of(misfit.fault), misfit.words, misfit.detail);
}

void LayoutCheck::clear() {
    texts_.clear();
    found_.clear();
}

void LayoutCheck::text(DrawnText text) { texts_.push_back(std::move(text)); }

void LayoutCheck::cut(const std::string& words, float wanted, float had) {
    found_.push_back({LayoutFault::cut, words, fmt::format("{:.0f} px in {:.0f}", wanted, had)});
}

void LayoutCheck::cover(const Rect& rect) {
    std::erase_if(texts_, [&](const DrawnText& text) {
        const Rect visible = seen(text);
        if (!touches(visible, rect)) return false;
        if (!within(visible, rect))
            found_.push_back(
                {LayoutFault::covered, text.words,
                 fmt::format("by a box at {:.0f},{:.0f} of {:.0f} x {:.0f}", rect.x, rect.y, rect.w, rect.h)});
        return true;
    });
}

std::vector<Misfit> LayoutCheck::misfits(float least) const {
    std::vector<Misfit> out = found_;
    for (std::size_t i = 0; i < texts_.size(); ++i) {
        const DrawnText& text = texts_[i];
        const Rect shown = seen(text);
        if (text.size < least - 0.5f)
            out.push_back({LayoutFault::small, text.words, fmt::format("{:.1f} px, least {:.1f}", text.size, least)});
        Rect room = text.panel;
        if (text.scrolls) {
            // what lies above and below comes into view by scrolling; what leaves at the sides never does
            room.y = text.ink.y;
            room.h = text.ink.h;
        }
        if (!within(text.ink, room))
            out.push_back({LayoutFault::outside, text.words,
                           fmt::format("ink {:.0f},{:.0f} to {:.0f},{:.0f}, panel {:.0f},{:.0f} to {:.0f},{:.0f}",
                                       text.ink.x, text.ink.y, text.ink.right(), text.ink.bottom(), room.x, room.y,
                                       room.right(), room.bottom())});
        for (std::size_t k = i + 1; k < texts_.size(); ++k)
            if (touches(shown, seen(texts_[k])))
                out.push_back({LayoutFault::overlaps, text.words, "with: " + texts_[k].words});
    }
    return out;
}

}  // namespace app
