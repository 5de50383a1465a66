#include "engine/app/theme.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using namespace app::theme;

namespace {

/// Relative luminance of an sRGB colour (WCAG 2.2, definitions).
double luminance(unsigned rgb) {
    const auto channel = [](unsigned value) {
        const double c = static_cast<double>(value & 255u) / 255.0;
        return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * channel(rgb >> 16) + 0.7152 * channel(rgb >> 8) + 0.0722 * channel(rgb);
}

/// WCAG 2.2, success criterion 1.4.3.
double contrast(unsigned a, unsigned b) {
    const double x = luminance(a), y = luminance(b);
    return (std::max(x, y) + 0.05) / (std::min(x, y) + 0.05);
}

constexpr double kText = 4.5, kLarge = 3.0;  // WCAG 2.2, 1.4.3 text and 1.4.11 what is not text

}  // namespace

TEST_CASE("contrast of black on white is 21 to 1", "[app][theme]") {
    CHECK_THAT(contrast(0x000000, 0xFFFFFF), Catch::Matchers::WithinAbs(21.0, 1e-9));
    CHECK_THAT(contrast(0x777777, 0x777777), Catch::Matchers::WithinAbs(1.0, 1e-9));
}

TEST_CASE("text stands out from every ground it is written on", "[app][theme]") {
    const unsigned ground = GENERATE(kPaper, kGround, kOver, kBlueWash, kChip, kBlueChip, kFooterGround);
    const unsigned ink = GENERATE(kInk, kSecondInk, kBlueText, kGreenText, kVermilionText);
    CAPTURE(ground, ink);
    CHECK(contrast(ink, ground) >= kText);
}

TEST_CASE("text on a filled button stands out", "[app][theme]") {
    CHECK(contrast(kPaper, kBlue) >= kText);
    CHECK(contrast(kPaper, kBlueOver) >= kText);
}

TEST_CASE("edges, bars and state marks stand out from what is behind them", "[app][theme]") {
    const unsigned ground = GENERATE(kPaper, kGround);
    const unsigned mark = GENERATE(kEdge, kBlue, kGreen, kVermilion);
    CAPTURE(ground, mark);
    CHECK(contrast(mark, ground) >= kLarge);
}

TEST_CASE("the orange of a caution is outlined and written on in ink, which stands out from it", "[app][theme]") {
    CHECK(contrast(kInk, kOrange) >= kLarge);
}
