#include <algorithm>
#include <cmath>

#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"

/// What a practising person hears, reads as a caption, and feels in a controller.

namespace app {

namespace {

constexpr double kCaptionS = 2.0;        // long enough to read six words
constexpr double kMovingMPerS = 0.0005;  // slower is a hand at rest
constexpr double kOrbitRadPerS = 1.5;    // of the right stick

}  // namespace

void Practice::listen(double elapsed_s) {
    const sim::State& state = session_->state();
    peak_n_ = std::max(peak_n_, std::abs(state.force.hand_n));
    if (elapsed_s > 0.0) {
        const double speed = state.in_skin ? (state.inserted_m - heard_inserted_m_) / elapsed_s : 0.0;
        sounding_ = sounding_of(state.force.hand_n, speed, trace_depth_m(), depth_told());
        moving_ = std::abs(speed) > kMovingMPerS;
        heard_inserted_m_ = state.inserted_m;
    }
    caption_left_s_ = std::max(0.0, caption_left_s_ - elapsed_s);
}

void Practice::hear(const sim::Event& event) {
    heard_.push_back(event);
    const std::string caption = caption_of(event, depth_told());
    if (caption.empty() || !settings_.captions) return;
    caption_ = caption;
    caption_left_s_ = kCaptionS;
}

double Practice::trace_depth_m() const {
    const auto& rows = session_->recording().rows;
    return rows.empty() ? 0.0 : rows.back().layers.depth_m;
}

Rumble Practice::rumble() const {
    const sim::State& state = session_->state();
    if (!state.in_skin) return {};
    return rumble_of(state.force.hand_n, state.force.friction_n, moving_);
}

void Practice::handle_pad(const Input& input, double elapsed_s) {
    const Pad& pad = input.pad;
    if (pad.right_x != 0.0 || pad.right_y != 0.0)
        camera_.orbit(-pad.right_x * kOrbitRadPerS * elapsed_s, pad.right_y * kOrbitRadPerS * elapsed_s);
    if (pad.next) {
        const auto count = static_cast<int>(prepared_.model->scenario.tray.size());
        if (count > 0) take((session_->state().hands.instrument + 1) % count);
    }
    if (pad.finish) finish();
}

void Practice::draw_caption(Ui& ui, const Rect& view, float below) const {
    if (caption_left_s_ <= 0.0) return;
    const float w = ui.text_width(Face::text14, caption_) + ui.px(24.0f), h = ui.px(30.0f);
    const float room = view.w - ui.px(40.0f);
    const float y = ui.compact() ? below + ui.px(4.0f) : std::max(view.y + ui.px(58.0f), below + ui.px(8.0f));
    const Rect box{view.x + 0.5f * (view.w - std::min(w, room)), y, std::min(w, room), h};
    ui.box(box, theme::kInk, 0.3f * h);
    ui.text(Face::text14, box.x + 0.5f * box.w, box.y + 0.5f * (h - ui.line_height(Face::text14)), theme::kPaper,
            caption_, box.w - ui.px(16.0f), Align::centre);
}

}  // namespace app
