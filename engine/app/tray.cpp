#include "engine/app/tray.hpp"

#include <fmt/format.h>
#include <imgui.h>

#include <algorithm>

#include "engine/view/shapes.hpp"
#include "sim/instruments/gauge.hpp"

namespace app {

namespace {

constexpr unsigned kOutline = 0x4A4238, kSteel = 0xAEB5BA, kSteelLight = 0xE8ECEE, kSteelDark = 0x5B6268;
constexpr unsigned kThread = 0x6A3E8C;

/// The hub: a grip, then a cone down to the shaft. @return where the shaft begins
float draw_hub(Ui& ui, float x, float y, unsigned colour) {
    const float s = ui.scale(), grip = 17.0f * s, cone = 12.0f * s, half = 8.0f * s;
    ImDrawList* list = ui.draw_list();
    ui.box({x, y - half, grip, 2.0f * half}, colour, 2.0f * s);
    ui.frame({x, y - half, grip, 2.0f * half}, kOutline, 2.0f * s, s);
    const ImVec2 slope[4] = {{x + grip, y - 6.0f * s},
                             {x + grip + cone, y - 2.6f * s},
                             {x + grip + cone, y + 2.6f * s},
                             {x + grip, y + 6.0f * s}};
    list->AddConvexPolyFilled(slope, 4, packed(colour));
    list->AddPolyline(slope, 4, packed(kOutline), ImDrawFlags_Closed, s);
    return x + grip + cone;
}

void draw_shaft(Ui& ui, float x0, float x1, float y, float thick, bool bevel) {
    const float s = ui.scale(), half = 0.5f * thick;
    ImDrawList* list = ui.draw_list();
    ui.box({x0, y - half, x1 - x0, thick}, kSteel);
    ui.box({x0, y - 0.6f * half, x1 - x0, 0.5f * half}, kSteelLight);
    ui.line({x0, y - half}, {x1, y - half}, kSteelDark, s);
    ui.line({x0, y + half}, {x1, y + half}, kSteelDark, s);
    if (bevel)
        list->AddTriangleFilled({x1, y - half}, {x1 + 2.2f * thick, y + half}, {x1, y + half}, packed(kSteelDark));
    else
        list->AddCircleFilled({x1, y}, half, packed(kSteelDark), 16);
}

/// The thread comes out at the tip and lies back along the shaft.
void draw_thread(Ui& ui, float x0, float x1, float y, float thick) {
    const float s = ui.scale(), below = y + thick + 2.5f * s, from = x0 + 0.25f * (x1 - x0);
    ui.line({x1, y}, {x1 + 3.0f * s, below}, kThread, 1.6f * s);
    ui.line({x1 + 3.0f * s, below}, {from, below}, kThread, 1.6f * s);
    const float middle = 0.5f * (from + x1);
    for (float x = from + 6.0f * s; x < x1; x += 7.0f * s) {
        const float back = x < middle ? 4.0f * s : -4.0f * s;  // two sets of barbs that face each other
        ui.line({x, below}, {x - back, below + 3.5f * s}, kThread, 1.3f * s);
    }
}

}  // namespace

void draw_instrument(Ui& ui, const sim::InstrumentSpec& instrument, float x, float y, float room, double longest_m) {
    const float s = ui.scale();
    const float shaft_x = draw_hub(ui, x, y, view::hub_colour(instrument.gauge));
    const float left = room - (shaft_x - x) - 10.0f * s;
    const float length = left * static_cast<float>(instrument.length_m / std::max(longest_m, 1e-3));
    // thicker than life, or a 25 G cannula would be a hair; in proportion among themselves
    const float thick = std::max(2.0f * s, 3.6f * s * static_cast<float>(sim::gauge(instrument.gauge).outer_m * 1e3));
    draw_shaft(ui, shaft_x, shaft_x + length, y, thick, instrument.tip == sim::TipShape::bevel);
    if (instrument.loaded) draw_thread(ui, shaft_x, shaft_x + length, y, thick);
}

std::string size_of(const sim::InstrumentSpec& instrument) {
    return fmt::format("{} G × {:.0f} mm", instrument.gauge, instrument.length_m * 1000.0);
}

}  // namespace app
