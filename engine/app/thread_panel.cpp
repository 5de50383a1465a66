#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/app/chips.hpp"
#include "engine/app/plot_canvas.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"
#include "engine/app/thread_words.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/view/thread_plot.hpp"

/// Practice with a thread that lies in the tissue: what hands can do there, and how it holds and lifts.

namespace app {

namespace {

constexpr float kRow = 30.0f, kRowGap = 6.0f;

}  // namespace

/// The cannula is out and a thread lies in the tissue: hands are free for it.
bool Practice::at_thread() const {
    const sim::State& state = session_->state();
    return thread_hands_.thread() > 0 && !state.track && !(state.inserted_m > 0.0);
}

const sim::HeldThread& Practice::worked_thread() const {
    return session_->state().threads[static_cast<std::size_t>(thread_hands_.thread() - 1)];
}

/// @return where they end
float Practice::draw_thread_controls(Ui& ui, float x, float y, float w) {
    const float h = ui.px(kRow), gap = ui.px(kRowGap);
    const auto& threads = session_->state().threads;
    const auto lying = std::count_if(threads.begin(), threads.end(), [](const auto& thread) { return !thread.out; });
    ui.text(Face::bold14, x, y, theme::kSecondInk, fmt::format("Thread {}", thread_hands_.thread()), w);
    const std::string other = "Next thread";
    const float other_w = button_width(ui, other, "");
    if (lying > 1 && ui.button("thread.next", {x + w - other_w, y, other_w, h}, other, "", false))
        thread_hands_.next(session_->state());
    y += lying > 1 ? h + gap : ui.line_height(Face::bold14) + ui.px(3.0f);
    const auto row = [&](const char* name, const std::string& label, const std::string& key) {
        const bool pressed = ui.button(name, {x, y, w, h}, label, key, false);
        y += h + gap;
        return pressed;
    };
    // @return -1 softer, +1 firmer
    const auto force_row = [&](const std::string& name, const std::string& label, double force_n) {
        ui.text(Face::text14, x, y + 0.5f * (h - ui.line_height(Face::text14)), theme::kInk,
                fmt::format("{} {:.1f} N", label, force_n), w - 2.0f * (h + gap));
        const bool softer = ui.button(name + ".softer", {x + w - 2.0f * h - gap, y, h, h}, "-", "", false);
        const bool firmer = ui.button(name + ".firmer", {x + w - h, y, h, h}, "+", "", false);
        y += h + gap;
        return (firmer ? 1.0 : 0.0) - (softer ? 1.0 : 0.0);
    };
    if (row("thread.pull", thread_hands_.keeps_pulling() ? "Let go of the tail" : "Pull the tail", "R"))
        thread_hands_.turn_pull();
    thread_hands_.change_pull(0.5 * force_row("thread.pull", "Pull to", thread_hands_.wanted_n()));
    if (row("thread.stroke_entry", "Stroke from entry", "J")) thread_hands_.stroke(0);
    if (row("thread.stroke_far", "Stroke from far end", "K")) thread_hands_.stroke(1);
    if (row("thread.turn", thread_hands_.away() ? "Away from middle" : "Towards middle", "H"))
        thread_hands_.turn_strokes();
    thread_hands_.change_stroke(force_row("thread.stroke", "Stroke", thread_hands_.stroke_n()));
    return y;
}

float Practice::draw_thread_tray(Ui& ui, float x, float y, float w, float px_per_mm) {
    y = draw_thread_controls(ui, x, y, w) + ui.px(8.0f);
    draw_force(ui, x, y, w);
    y += force_height(ui) + ui.px(8.0f);
    if (session_->state().hands.instrument >= 0) y = draw_in_hand(ui, x, y, w, px_per_mm) + ui.px(10.0f);
    y = draw_at_hand(ui, x, y, w, px_per_mm) + ui.px(8.0f);
    draw_hints(ui, x, y, w);
    return y + hints_height(ui, w);
}

/// How barbs share the load, and how far the skin has come at each concern of the thread's side.
void Practice::draw_thread_plots(Ui& ui, const Rect& rect) const {
    constexpr float kLiftsW = 300.0f;
    const float lifts_w = std::min(ui.px(kLiftsW), 0.4f * rect.w);
    PlotCanvas canvas(ui);
    view::PlotStyle style;
    style.text_size = static_cast<double>(ui.px(14.0f));
    view::draw_thread_plot(
        canvas,
        {static_cast<double>(rect.x), static_cast<double>(rect.y),
         static_cast<double>(rect.right() - lifts_w - ui.px(12.0f)), static_cast<double>(rect.bottom())},
        worked_thread(), style);
    draw_lifts(ui, {rect.right() - lifts_w, rect.y, lifts_w, rect.h});
}

/// How far the skin at each concern has come along the worked thread.
std::vector<double> Practice::lifts_m() const {
    constexpr double kToldM = 0.05 * sim::kMm;  // nothing is told as "-0.0"
    const std::vector<sim::Vec3>& moved_m = session_->state().concerns_moved_m;
    const sim::Vec3 along = lift_direction(session_->recording(), worked_thread().vector);
    std::vector<double> out(prepared_.model->concerns.size(), 0.0);
    for (std::size_t i = 0; i < std::min(out.size(), moved_m.size()); ++i) {
        const double way_m = glm::dot(moved_m[i], along);
        if (std::fabs(way_m) >= kToldM) out[i] = way_m;
    }
    return out;
}

void Practice::draw_lifts(Ui& ui, const Rect& rect) const {
    constexpr double kLeastScaleM = 2.0 * sim::kMm;
    const auto& concerns = prepared_.model->concerns;
    const std::vector<double> lift_m = lifts_m();
    const int vector = worked_thread().vector;
    const sim::Side side = prepared_.model->scenario.plan.empty()
                               ? sim::Side::left
                               : prepared_.model->scenario.plan[static_cast<std::size_t>(vector)].side;
    float y = rect.y;
    ui.text(Face::bold14, rect.x, y, theme::kSecondInk, "Skin moved along the thread", rect.w);
    y += ui.line_height(Face::bold14) + ui.px(4.0f);
    double scale_m = kLeastScaleM;
    float name_w = 0.0f;
    for (std::size_t i = 0; i < concerns.size(); ++i) {
        if (concerns[i].side != side) continue;
        scale_m = std::max(scale_m, std::fabs(lift_m[i]));
        name_w = std::max(name_w, ui.text_width(Face::text14, report::capital(concerns[i].name)));
    }
    const float number_w = ui.text_width(Face::bold14, "-10.0 mm"), bar_x = rect.x + name_w + ui.px(8.0f),
                bar_w = rect.w - name_w - number_w - ui.px(18.0f), line = ui.line_height(Face::text14);
    for (std::size_t i = 0; i < concerns.size(); ++i) {
        if (concerns[i].side != side) continue;
        ui.text(Face::text14, rect.x, y, theme::kInk, report::capital(concerns[i].name), name_w + 1.0f);
        const float share = static_cast<float>(std::clamp(std::fabs(lift_m[i]) / scale_m, 0.0, 1.0));
        const Rect bar{bar_x, y + 0.3f * line, bar_w, 0.5f * line};
        ui.box(bar, theme::kPaper, ui.px(2.0f));
        // against the thread: drawn from the right
        if (share > 0.005f)
            ui.box({lift_m[i] < 0.0 ? bar.right() - share * bar_w : bar_x, bar.y, share * bar_w, bar.h},
                   lift_m[i] < 0.0 ? theme::kOrange : theme::kBlue, ui.px(2.0f));
        ui.text(Face::bold14, rect.right(), y, theme::kInk, fmt::format("{:.1f} mm", 1e3 * lift_m[i]), number_w + 1.0f,
                Align::right);
        y += line + ui.px(6.0f);
    }
    const sim::HeldThread& thread = worked_thread();
    ui.text(Face::text14, rect.x, y, theme::kInk, "Deepest dimple", rect.w - number_w);
    ui.text(Face::bold14, rect.right(), y, theme::kInk, fmt::format("{:.1f} mm", 1e3 * thread.dimple_m),
            number_w + 1.0f, Align::right);
}

/// Where there is little room: the concern that moved most, in words.
void Practice::draw_small_lifts(Ui& ui, const Rect& rect) const {
    const auto& concerns = prepared_.model->concerns;
    const std::vector<double> lift_m = lifts_m();
    const auto most =
        std::max_element(lift_m.begin(), lift_m.end(), [](double a, double b) { return std::fabs(a) < std::fabs(b); });
    const float pad = ui.px(10.0f);
    const std::string words =
        most == lift_m.end() || *most == 0.0
            ? "The skin has not moved yet."
            : fmt::format("{} moved {:.1f} mm along the thread; deepest dimple {:.1f} mm.",
                          report::capital(concerns[static_cast<std::size_t>(most - lift_m.begin())].name), 1e3 * *most,
                          1e3 * worked_thread().dimple_m);
    ui.paragraph(Face::text14, rect.x + pad, rect.y + ui.px(6.0f), rect.w - 2.0f * pad, theme::kInk, words);
}

}  // namespace app
