#include "engine/app/section_panel.hpp"

#include <cmath>

#include "engine/app/plot_canvas.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

constexpr double kMovedM = 0.1 * sim::kMm;  // of the tip before the section is asked anew
constexpr double kTurnedRad = 0.5 * sim::kPi / 180.0;

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
    const view::SliceWindow window = view::slice_window(canvas, where, text, slice_ ? slice_->tip_depth_mm : 0.0);
    const bool moved = std::fabs(state.inserted_m - inserted_m_) > kMovedM ||
                       glm::length(state.tip_m - tip_m_) > kMovedM ||
                       glm::length(state.tip_heading - heading_) > kTurnedRad || !same(window, window_);
    if (!in) {
        slice_.reset();
        inserted_m_ = -1.0;
    } else if (moved) {
        slice_ = view::slice_of(anatomy, bands, state, *instrument, window);
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
