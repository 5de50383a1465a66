#include "engine/app/ultrasound_panel.hpp"

#include <fmt/format.h>
#include <imgui.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/app/theme.hpp"
#include "engine/report/debrief_words.hpp"
#include "sim/instruments/gauge.hpp"

namespace app {

namespace {

using sim::kMm;

constexpr double kPicturesPerS = 12.0;  // enough for a pulse to be seen
constexpr int kTurnStep = 15;
constexpr double kPressStepM = 0.5 * kMm, kMostPressM = 3.0 * kMm;
constexpr std::array<double, 3> kDepthsM{15.0 * kMm, 20.0 * kMm, 25.0 * kMm};
constexpr double kGainStepDb = 3.0, kMostGainDb = 15.0;
constexpr float kControls = 170.0f, kScale = 26.0f;  // widths beside the picture
constexpr unsigned kScreen = 0x101214, kPale = 0xC8CCD0, kName = 0xF2E7C4;

int wrapped(int degrees) { return ((degrees + 180) % 360 + 360) % 360 - 180; }

}  // namespace

UltrasoundPanel::UltrasoundPanel(std::shared_ptr<const sim::Anatomy> anatomy) : anatomy_(anatomy), probe_(anatomy) {}

std::optional<view::ProbePose> UltrasoundPanel::pose() const {
    if (!taken_ || !at_) return std::nullopt;
    return view::probe_on(*at_, turn_degrees_ * sim::kPi / 180.0, press_m_);
}

std::optional<sim::Command> UltrasoundPanel::held() const {
    if (!taken_ || !at_ || dragging_) return std::nullopt;
    return sim::Command{sim::Verb::probe,
                        {1000LL * turn_degrees_, std::llround(press_m_ * 1e6), std::llround(settings_.depth_m * 1e6)}};
}

void UltrasoundPanel::follow(const sim::State& state) {
    if (!state.hand.placed) return;
    const sim::Vec3& hand_m = state.hand.at.position_m;
    if (at_ && (dragging_ || hand_m == hand_m_)) return;
    hand_m_ = hand_m;
    at_ = state.hand.at;
}

void UltrasoundPanel::turn(int degrees) { turn_degrees_ = wrapped(turn_degrees_ + degrees); }

bool UltrasoundPanel::advance(double elapsed_s) {
    if (!taken_ || !at_) return false;
    since_s_ += elapsed_s;
    if (since_s_ < 1.0 / kPicturesPerS) return false;
    since_s_ = 0.0;
    return true;
}

sim::SkinPoint UltrasoundPanel::slid(double along_m, double across_m) const {
    const view::ProbePose now = *pose();
    return anatomy_->nearest_skin(now.at_m + along_m * now.along + across_m * now.across());
}

/// A drag to the side slides the probe along its footprint, up and down across it, as a hand does; the wheel turns it.
void UltrasoundPanel::drag(Ui& ui, const Rect& picture, Asked& asked) {
    const Input& input = ui.input();
    if (input.left_pressed && picture.holds(input.mouse)) dragging_ = true;
    if (picture.holds(input.mouse) && input.wheel != 0.0f) turn(static_cast<int>(std::lround(5.0f * input.wheel)));
    if (!dragging_) return;
    const double m_per_px = settings_.width_m / static_cast<double>(picture.w);
    if (input.drag.x != 0.0f || input.drag.y != 0.0f)
        at_ = slid(-m_per_px * static_cast<double>(input.drag.x), m_per_px * static_cast<double>(input.drag.y));
    if (input.left_held) return;
    dragging_ = false;
    asked.lay_m = at_->position_m;
}

void UltrasoundPanel::draw_scale(Ui& ui, const Rect& rect) const {
    const auto depth_mm = static_cast<int>(std::lround(settings_.depth_m / kMm));
    for (int mm = 0; mm <= depth_mm; ++mm) {
        const float y = rect.y + rect.h * static_cast<float>(mm) / static_cast<float>(depth_mm);
        const bool named = mm % 5 == 0;
        ui.line({rect.right() + ui.px(1.0f), y}, {rect.right() + ui.px(named ? 7.0f : 4.0f), y}, kPale, ui.px(1.0f));
        if (named && mm > 0)
            ui.text(Face::text14, rect.right() + ui.px(9.0f),
                    std::min(y - 0.5f * ui.line_height(Face::text14), rect.bottom() - ui.line_height(Face::text14)),
                    kPale, fmt::format("{}", mm), ui.px(kScale));
    }
}

/// At the picture's left edge, each in the middle of its layer, where there is room for it.
void UltrasoundPanel::draw_names(Ui& ui, const Rect& rect) const {
    const view::ProbeMap& map = probe_.map();
    int line = 0;
    while (line < map.grid.lines && !map.lines[static_cast<std::size_t>(line)].contact) ++line;
    if (line == map.grid.lines) return;
    const float line_h = ui.line_height(Face::text14);
    float free_y = rect.y;
    for (int k = 1; k <= sim::kTissueLayers; ++k) {
        const auto layer = static_cast<sim::Layer>(k);
        const double top_m = map.depth_of_m(line, static_cast<sim::Layer>(k - 1)),
                     bottom_m = map.depth_of_m(line, layer);
        const double middle = 0.5 * (top_m + std::min(bottom_m, settings_.depth_m)) / settings_.depth_m;
        if (top_m > settings_.depth_m) break;
        const float y = rect.y + rect.h * static_cast<float>(middle) - 0.5f * line_h;
        if (y < free_y || y + line_h > rect.bottom()) continue;
        const std::string name = report::capital(sim::name_of(layer));
        const float x = rect.x + ui.px(4.0f), w = ui.text_width(Face::text14, name);
        ui.box({x - ui.px(2.0f), y, w + ui.px(4.0f), line_h}, kScreen, ui.px(3.0f));
        ui.text(Face::text14, x, y, kName, name, w + 1.0f);
        free_y = y + line_h;
    }
}

void UltrasoundPanel::draw_picture(Ui& ui, const Rect& rect, bool names) {
    const view::EchoPicture& picture = probe_.picture();
    rgba_.resize(picture.grey.size() * 4);
    for (std::size_t i = 0; i < picture.grey.size(); ++i) {
        rgba_[4 * i] = rgba_[4 * i + 1] = rgba_[4 * i + 2] = picture.grey[i];
        rgba_[4 * i + 3] = 255;
    }
    if (!texture_ || texture_w_ != picture.columns || texture_h_ != picture.rows) {
        texture_ = gl::make_picture_texture(picture.columns, picture.rows);
        gl::show_one_size(texture_, 0, true);
        texture_w_ = picture.columns;
        texture_h_ = picture.rows;
    }
    gl::replace_picture(texture_, texture_w_, texture_h_, rgba_);
    // NOLINTNEXTLINE: what ImGui calls a texture
    ui.draw_list()->AddImage(reinterpret_cast<ImTextureID>(static_cast<std::uintptr_t>(texture_.name())),
                             {rect.x, rect.y}, {rect.right(), rect.bottom()});
    // the side of the mark on the probe
    ui.disc({rect.x + ui.px(7.0f), rect.y + ui.px(7.0f)}, ui.px(3.5f), theme::kGreen);
    draw_scale(ui, rect);
    if (names) draw_names(ui, rect);
}

void UltrasoundPanel::draw_controls(Ui& ui, const Rect& rect, Asked& asked) {
    const float gap = ui.px(4.0f), line = ui.line_height(Face::text14);
    const float h = ui.compact() ? rect.h : std::clamp((rect.h - 4.0f * gap) / 5.0f, line, ui.px(30.0f));
    float y = rect.y, left = rect.x;
    // where there is little room they share one row
    if (ui.compact()) {
        const float next_w = ui.text_width(Face::bold14, "Next") + ui.px(20.0f);
        if (ui.button("probe.next", {rect.x, y, next_w, h}, "Next", "", false)) control_ = (control_ + 1) % 5;
        left += next_w + ui.px(8.0f);
    }
    int which = 0;
    /// @return -1 less, 1 more
    const auto row = [&](const std::string& name, const std::string& words) {
        if (ui.compact() && which++ != control_) return 0;
        const float x = rect.right() - 2.0f * h - gap;
        ui.text(Face::text14, left, y + 0.5f * (h - line), theme::kInk, words, x - left - gap);
        const bool less = ui.button("probe." + name + ".less", {x, y, h, h}, "-", "", false);
        const bool more = ui.button("probe." + name + ".more", {x + h + gap, y, h, h}, "+", "", false);
        y += h + gap;
        return (more ? 1 : 0) - (less ? 1 : 0);
    };
    turn(kTurnStep * row("turn", fmt::format("Turn {}\u00b0", turn_degrees_)));
    if (const int by = row("slide", "Slide"); by != 0) {
        at_ = slid(2.0 * kMm * by, 0.0);
        asked.lay_m = at_->position_m;
    }
    press_m_ = std::clamp(press_m_ + kPressStepM * row("press", fmt::format("Press {:.1f} mm", press_m_ / kMm)), 0.0,
                          kMostPressM);
    const int deeper = row("depth", fmt::format("Depth {:.0f} mm", settings_.depth_m / kMm));
    const auto at = std::min_element(kDepthsM.begin(), kDepthsM.end(), [this](double a, double b) {
        return std::fabs(a - settings_.depth_m) < std::fabs(b - settings_.depth_m);
    });
    settings_.depth_m =
        kDepthsM[static_cast<std::size_t>(std::clamp(static_cast<int>(at - kDepthsM.begin()) + deeper, 0, 2))];
    settings_.gain_db =
        std::clamp(settings_.gain_db + kGainStepDb * row("gain", fmt::format("Gain {:+.0f} dB", settings_.gain_db)),
                   -kMostGainDb, kMostGainDb);
}

UltrasoundPanel::Asked UltrasoundPanel::draw(Ui& ui, const Rect& rect, const sim::State& state,
                                             const sim::InstrumentSpec* instrument, double time_s, bool names) {
    Asked asked;
    rect_ = rect;
    ui.box(rect, theme::kPaper);
    ui.frame(rect, theme::kEdge, 0.0f, ui.px(1.0f));
    ui.begin_panel(rect);
    const float pad = ui.px(10.0f), head_h = ui.px(30.0f);
    const float close_w = ui.text_width(Face::bold14, "Put away") + ui.px(20.0f);
    asked.close =
        ui.button("probe.close", {rect.right() - pad - close_w, rect.y + ui.px(4.0f), close_w, head_h - ui.px(6.0f)},
                  "Put away", "", false);
    ui.text(Face::bold14, rect.x + pad, rect.y + ui.px(6.0f), theme::kInk, "Ultrasound", rect.w - 3.0f * pad - close_w);
    follow(state);
    const auto stands = pose();
    if (!stands) {
        ui.paragraph(Face::text14, rect.x + pad, rect.y + head_h + ui.px(8.0f), rect.w - 2.0f * pad, theme::kSecondInk,
                     "Lay the other hand on the skin, and the probe stands there: Shift and a click, or M.");
        ui.end_panel();
        return asked;
    }
    view::ShaftUnderProbe shaft;
    if (instrument != nullptr && state.inserted_m > 0.0)
        shaft = {state.shaft_m, sim::gauge(instrument->gauge).radius_m()};
    probe_.look(*stands, settings_, time_s, shaft);
    const Rect body{rect.x + pad, rect.y + head_h + ui.px(4.0f), rect.w - 2.0f * pad,
                    rect.h - head_h - ui.px(4.0f) - pad};
    // picture and scale at the left, controls beside them, or below where there is little room
    const float row_h = ui.px(28.0f), scale_w = ui.px(kScale);
    const float beside_w = ui.compact() ? 0.0f : ui.px(kControls + 8.0f),
                below_h = ui.compact() ? row_h + ui.px(6.0f) : 0.0f;
    const auto aspect = static_cast<float>(settings_.width_m / settings_.depth_m);
    const float w = std::min(body.w - beside_w - scale_w, aspect * (body.h - below_h)), h = w / aspect;
    const Rect screen{body.x, body.y, w + scale_w, h};
    ui.box(screen, kScreen);
    const Rect picture{body.x, body.y, w, h};
    draw_picture(ui, picture, names && w > ui.px(240.0f));
    ui.name_place("probe.picture", picture);
    const float controls_x = screen.right() + ui.px(8.0f);
    if (ui.compact())
        draw_controls(ui, {body.x, screen.bottom() + ui.px(6.0f), body.w, row_h}, asked);
    else
        draw_controls(ui, {controls_x, body.y, body.right() - controls_x, body.h}, asked);
    drag(ui, picture, asked);
    ui.end_panel();
    return asked;
}

}  // namespace app
