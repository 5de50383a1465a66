#include "engine/app/tray.hpp"

#include <fmt/format.h>
#include <imgui.h>

#include <algorithm>

#include "engine/view/shapes.hpp"
#include "sim/instruments/gauge.hpp"

namespace app {

namespace {

constexpr unsigned kOutline = 0x4A4238;
constexpr unsigned kThread = 0x6A3E8C;

/// Colour of a part under this much light, sRGB.
unsigned lit(view::ModelRole role, int gauge, float light) {
    constexpr unsigned kSteel = 0xC2C9CE, kBore = 0x23262A, kHolder = 0xD3D9DD;
    const unsigned base = role == view::ModelRole::hub      ? view::hub_colour(gauge)
                          : role == view::ModelRole::bore   ? kBore
                          : role == view::ModelRole::holder ? kHolder
                                                            : kSteel;
    const float factor = 0.55f + 0.55f * light, gleam = 60.0f * std::max(0.0f, light - 0.85f) / 0.15f;
    unsigned out = 0;
    for (const unsigned shift : {16u, 8u, 0u}) {
        const float value = static_cast<float>((base >> shift) & 255u) * factor + gleam;
        out |= static_cast<unsigned>(std::clamp(value, 0.0f, 255.0f)) << shift;
    }
    return out;
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

void draw_instrument(Ui& ui, const sim::InstrumentSpec& instrument, const view::SidePicture& picture, float x, float y,
                     float px_per_mm) {
    ImDrawList* list = ui.draw_list();
    const auto pixel = [&](const glm::vec2& at_mm) {
        return ImVec2(x + (at_mm.x - picture.from_mm) * px_per_mm, y - at_mm.y * px_per_mm);
    };
    const ImVec2 white = ImGui::GetFontTexUvWhitePixel();
    const int count = 3 * static_cast<int>(picture.triangles.size());
    list->PrimReserve(count, count);
    for (const view::SidePicture::Triangle& triangle : picture.triangles) {
        const unsigned colour = packed(lit(triangle.role, instrument.gauge, triangle.light));
        for (const glm::vec2& at : triangle.at_mm) list->PrimVtx(pixel(at), white, colour);
    }
    // a line around it softens the edges and parts a pale hub from the paper
    for (const view::SidePicture::Edge& edge : picture.outline)
        list->AddLine(pixel(edge.from_mm), pixel(edge.to_mm), packed(kOutline, 190), 0.8f * ui.scale());
    const float thick = static_cast<float>(sim::gauge(instrument.gauge).outer_m * 1e3) * px_per_mm;
    if (instrument.loaded) draw_thread(ui, pixel({0.0f, 0.0f}).x, pixel({picture.to_mm, 0.0f}).x, y, thick);
}

std::string size_of(const sim::InstrumentSpec& instrument) {
    return fmt::format("{} G × {:.0f} mm", instrument.gauge, instrument.length_m * 1000.0);
}

}  // namespace app
