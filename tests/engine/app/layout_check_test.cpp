#include "engine/app/layout_check.hpp"

#include <catch2/catch.hpp>

using app::DrawnText;
using app::LayoutCheck;
using app::LayoutFault;
using app::Rect;

namespace {

constexpr Rect kWindow{0, 0, 1280, 720};
constexpr float kSize = 14.0f;

DrawnText at(const std::string& words, const Rect& ink) { return {words, ink, kWindow, kWindow, false, kSize}; }

bool has(const LayoutCheck& check, LayoutFault fault, const std::string& words) {
    for (const app::Misfit& misfit : check.misfits(kSize))
        if (misfit.fault == fault && misfit.words == words) return true;
    return false;
}

}  // namespace

TEST_CASE("texts apart from one another and in their panels are no misfits", "[app][layout]") {
    LayoutCheck check;
    check.text(at("Depth", {10, 10, 40, 12}));
    check.text(at("4.2 mm", {60, 10, 40, 12}));
    check.text(at("Under the skin", {10, 22, 90, 12}));  // touches the line above, shares nothing with it
    CHECK(check.misfits(kSize).empty());
}

TEST_CASE("a text on another one is a misfit", "[app][layout]") {
    LayoutCheck check;
    check.text(at("Depth", {10, 10, 40, 12}));
    check.text(at("4.2 mm", {45, 12, 40, 12}));
    CHECK(has(check, LayoutFault::overlaps, "Depth"));
    check.clear();
    CHECK(check.misfits(kSize).empty());
}

TEST_CASE("a text that leaves its panel or the window is a misfit", "[app][layout]") {
    LayoutCheck check;
    check.text(at("beyond the window", {1250, 10, 60, 12}));
    check.text({"beyond the tray", {90, 100, 60, 12}, {0, 0, 100, 720}, kWindow, false, kSize});
    CHECK(has(check, LayoutFault::outside, "beyond the window"));
    CHECK(has(check, LayoutFault::outside, "beyond the tray"));
}

TEST_CASE("a panel that scrolls may hold text above and below, not at its sides", "[app][layout]") {
    constexpr Rect kPanel{0, 100, 200, 300};
    LayoutCheck check;
    check.text({"below", {10, 500, 60, 12}, kPanel, kPanel, true, kSize});
    check.text(at("the footer", {10, 500, 60, 12}));  // the other one is not seen there
    CHECK(check.misfits(kSize).empty());
    check.text({"too wide", {150, 200, 60, 12}, kPanel, kPanel, true, kSize});
    CHECK(has(check, LayoutFault::outside, "too wide"));
}

TEST_CASE("a box over a part of a text is a misfit, over all of it a new layer", "[app][layout]") {
    LayoutCheck check;
    check.text(at("half", {10, 10, 60, 12}));
    check.text(at("hidden", {100, 10, 60, 12}));
    check.cover({40, 0, 200, 40});
    check.text(at("on the box", {100, 10, 60, 12}));
    CHECK(has(check, LayoutFault::covered, "half"));
    CHECK(check.misfits(kSize).size() == 1);
}

TEST_CASE("shortened and small text are misfits", "[app][layout]") {
    LayoutCheck check;
    check.cut("a long word", 80.0f, 60.0f);
    check.text({"fine print", {10, 10, 60, 9}, kWindow, kWindow, false, 11.0f});
    CHECK(has(check, LayoutFault::cut, "a long word"));
    CHECK(has(check, LayoutFault::small, "fine print"));
}
