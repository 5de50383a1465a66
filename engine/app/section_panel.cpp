#include "engine/app/section_panel.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "engine/app/plot_canvas.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

constexpr double kMovedM = 0.1 * sim::kMm;  // of the tip before the section is asked anew
constexpr double kTurnedRad = 0.5 * sim::kPi / 180.0;

/// The way of the shaft among the layers: in the tissue's shape at rest, where depth is measured and scored. Outside
/// the skin it goes on straight.
std::vector<sim::Vec3> way_of(const sim::State& state) {
    std::vector<sim::Vec3> way;
    if (state.track)
        for (const sim::TrackNode& node : state.track->nodes)
            if (node.arc_m < state.inserted_m - 0.1 * sim::kMm) way.push_back(node.centre_m);
    if (way.empty()) way.push_back(state.hands.entry.position_m);
    way.push_back(state.tip_m);
    const sim::Vec3 back = way[0] - way[1];
    constexpr double kShownOutsideM = 60.0 * sim::kMm;
    if (glm::length(back) > 1e-9) way.insert(way.begin(), way[0] + glm::normalize(back) * kShownOutsideM);
    return way;
}

double length_under_skin(const std::vector<sim::Vec3>& way) {
    double length_m = 0.0;
    for (std::size_t i = 1; i + 1 < way.size(); ++i) length_m += glm::length(way[i + 1] - way[i]);
    return length_m;
}

bool same(const view::SliceWindow& a, const view::SliceWindow& b) {
    return a.left_mm == b.left_mm && a.right_mm == b.right_mm && a.top_mm == b.top_mm && a.bottom_mm == b.bottom_mm;
}

}  // namespace

bool SectionPanel::draw(Ui& ui, const Rect& rect, const sim::Anatomy& anatomy, const sim::Bands& bands,
                        const sim::State& state, const sim::InstrumentSpec* instrument, bool closes) {
    ui.box(rect, theme::kPaper, closes ? 0.0f : ui.px(8.0f));
    ui.frame(rect, theme::kEdge, closes ? 0.0f : ui.px(8.0f), ui.px(1.0f));
    ui.begin_panel(rect);
    const float pad = ui.px(10.0f), head_h = ui.px(30.0f);
    const bool in = instrument != nullptr && state.inserted_m > 0.0;
    float title_room = rect.w - 2.0f * pad;
    bool closed = false;
    if (closes) {
        const float w = ui.text_width(Face::bold14, "Close") + ui.text_width(Face::text14, "I") + ui.px(34.0f);
        closed = ui.button("section.close", {rect.right() - pad - w, rect.y + ui.px(4.0f), w, head_h - ui.px(6.0f)},
                           "Close", "I", false);
        title_room -= w + ui.px(8.0f);
    }
    const std::string full = "Section along the shaft, tissue at rest", brief = "Section along the shaft";
    const std::string& title = ui.text_width(Face::bold14, full) <= title_room ? full : brief;
    const float y = rect.y + ui.px(6.0f);
    ui.text(Face::bold14, rect.x + pad, y, theme::kInk, title, title_room);

    const view::CanvasRect where{static_cast<double>(rect.x + pad), static_cast<double>(rect.y + head_h + ui.px(4.0f)),
                                 static_cast<double>(rect.right() - pad), static_cast<double>(rect.bottom() - pad)};
    PlotCanvas canvas(ui);
    const auto text = static_cast<double>(ui.px(14.0f));
    const view::SliceWindow window = view::slice_window(canvas, where, text);
    const bool moved = std::fabs(state.inserted_m - inserted_m_) > kMovedM ||
                       glm::length(state.tip_m - tip_m_) > kMovedM ||
                       glm::length(state.tip_heading - heading_) > kTurnedRad || !same(window, window_);
    if (!in) {
        slice_.reset();
        inserted_m_ = -1.0;
    } else if (moved) {
        const std::vector<sim::Vec3> way = way_of(state);
        slice_ = view::slice_along(
            anatomy, bands,
            {way, length_under_skin(way), instrument->gauge, instrument->tip == sim::TipShape::bevel, window});
        tip_m_ = state.tip_m;
        heading_ = state.tip_heading;
        inserted_m_ = state.inserted_m;
        window_ = window;
    }
    if (slice_)
        view::draw_slice(canvas, where, *slice_, text);
    else
        ui.paragraph(Face::text14, rect.x + pad, rect.y + head_h + ui.px(8.0f), rect.w - 2.0f * pad, theme::kSecondInk,
                     "Nothing to cut along: no instrument is in the skin.");
    ui.end_panel();
    return closed;
}

}  // namespace app
