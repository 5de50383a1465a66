#include <fmt/format.h>

#include <algorithm>

#include "engine/app/kept_panels.hpp"
#include "engine/app/plot_canvas.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"
#include "engine/view/depth_plot.hpp"
#include "sim/instruments/gauge.hpp"

namespace app {

float Practice::trace_height(const Ui& ui) const {
    if (!ui.compact()) return ui.px(theme::kTrace);
    return trace_ ? ui.px(theme::kTraceCompact) : 0.0f;  // the force stands in the tray
}

std::vector<Practice::ReadOut> Practice::read_outs() const {
    const sim::State& state = session_->state();
    const sim::Recording& recording = session_->recording();
    if (at_thread()) {
        const sim::HeldThread& thread = worked_thread();
        return {{"Tail drawn out", fmt::format("{:.1f}", 1e3 * thread.tail_out_m)},
                {"Barbs that grip", fmt::format("{}", thread.count(sim::BarbState::seated)), ""},
                {"Pull settled", fmt::format("{:.1f}", thread.settled_n), "N"}};
    }
    // before the skin there is no depth, and none is shown as "-0.0"
    const double depth_m = std::max(0.0, prepared_.model->anatomy->layers_at(state.tip_m).depth_m);
    std::vector<ReadOut> out{{"Depth of the tip", fmt::format("{:.1f}", 1e3 * depth_m)},
                             {"From the entry", fmt::format("{:.0f}", 1e3 * state.inserted_m)}};
    if (!recording.rows.empty() && recording.rows.back().nearest.structure >= 0) {
        const sim::RecordedClearance& nearest = recording.rows.back().nearest;
        const sim::StructureKind kind = recording.structures[static_cast<std::size_t>(nearest.structure)].kind;
        out.push_back(
            {fmt::format("Nearest {} wall", sim::name_of(kind)), fmt::format("{:.1f}", 1e3 * nearest.distance_m)});
    }
    return out;
}

/// Where there is little room: a strip of the trace; the numbers stand in the tray.
void Practice::draw_small_trace(Ui& ui, const Rect& rect) const {
    if (!trace_) return;
    if (at_thread()) return draw_small_lifts(ui, rect);
    PlotCanvas canvas(ui);
    const float pad = ui.px(10.0f);
    const view::CanvasRect where{static_cast<double>(rect.x + pad), static_cast<double>(rect.y + ui.px(5.0f)),
                                 static_cast<double>(rect.right() - pad),
                                 static_cast<double>(rect.bottom() - ui.px(2.0f))};
    view::draw_depth_strip(canvas, where, live_trace(), static_cast<double>(ui.px(14.0f)));
}

view::DepthTrace Practice::live_trace() const {
    const sim::State& state = session_->state();
    const sim::InstrumentSpec& held =
        prepared_.model->scenario.tray[static_cast<std::size_t>(std::max(0, state.hands.instrument))];
    return view::depth_trace_of(session_->recording(), state.track ? state.track->index : -1,
                                sim::gauge(held.gauge).radius_m(), prepared_.rubric.bands);
}

void Practice::draw_trace(Ui& ui, const Rect& rect) const {
    begin_kept(ui, KeptPanel::trace, rect, theme::kGround);
    ui.line({rect.x, rect.y}, {rect.right(), rect.y}, theme::kLine, ui.px(1.0f));
    ui.begin_panel(rect);
    if (ui.compact()) {
        draw_small_trace(ui, rect);
        ui.end_panel();
        end_kept(ui);
        return;
    }
    // the force alone tells no depth
    const std::vector<ReadOut> told = trace_ || at_thread() ? read_outs() : std::vector<ReadOut>{};
    const float x = ui.px(20.0f), read_outs_w = told.empty() ? 0.0f : ui.px(148.0f);
    float y = rect.y + ui.px(6.0f);
    bool first = true;
    for (const ReadOut& read : told) {
        const Face face = first ? Face::bold36 : Face::bold24;
        first = false;
        ui.text(Face::text14, x, y, theme::kSecondInk, read.name, read_outs_w);
        y += ui.line_height(Face::text14) - ui.px(2.0f);
        ui.text(face, x, y, theme::kInk, read.number, read_outs_w);
        ui.text(Face::text14, x + ui.text_width(face, read.number) + ui.px(5.0f),
                y + 0.78f * (ui.line_height(face) - ui.line_height(Face::text14)), theme::kSecondInk, read.unit,
                read_outs_w);
        y += ui.line_height(face) + ui.px(1.0f);
    }
    if (!told.empty()) ui.name_place("trace.numbers", {x, rect.y, read_outs_w, y - rect.y});

    draw_plots(ui, {x + read_outs_w, rect.y + ui.px(8.0f), rect.right() - x - read_outs_w - ui.px(16.0f),
                    rect.h - ui.px(12.0f)});
    ui.end_panel();
    end_kept(ui);
}

/// Depth over the way, and the force beside it.
void Practice::draw_plots(Ui& ui, const Rect& rect) const {
    if (at_thread()) return draw_thread_plots(ui, rect);
    constexpr float kForceShare = 0.36f;
    PlotCanvas canvas(ui);
    view::PlotStyle style;
    style.text_size = static_cast<double>(ui.px(14.0f));
    const auto canvas_rect = [](const Rect& r) {
        return view::CanvasRect{static_cast<double>(r.x), static_cast<double>(r.y), static_cast<double>(r.right()),
                                static_cast<double>(r.bottom())};
    };
    const sim::State& state = session_->state();
    const int track = state.track ? state.track->index : -1;
    Rect depth = rect;
    if (force_ && trace_) depth.w *= 1.0f - kForceShare;
    if (trace_) view::draw_depth_trace(canvas, canvas_rect(depth), live_trace(), style);
    if (!force_) return;
    const Rect force{trace_ ? depth.right() + ui.px(8.0f) : rect.x, rect.y,
                     trace_ ? rect.right() - depth.right() - ui.px(8.0f) : rect.w, rect.h};
    view::draw_force_curve(canvas, canvas_rect(force), view::force_curve_of(session_->recording(), track), style);
}

}  // namespace app
