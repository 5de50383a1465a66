#include <algorithm>
#include <cmath>

#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"
#include "engine/app/visit_words.hpp"

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

float Practice::draw_caption(Ui& ui, const Rect& view, float below) const {
    if (caption_left_s_ <= 0.0) return below;
    const float w = ui.text_width(Face::text14, caption_) + ui.px(24.0f), h = ui.px(30.0f);
    const float room = view.w - ui.px(40.0f);
    const float y = ui.compact() ? below + ui.px(4.0f) : std::max(view.y + ui.px(58.0f), below + ui.px(8.0f));
    const Rect box{view.x + 0.5f * (view.w - std::min(w, room)), y, std::min(w, room), h};
    ui.box(box, theme::kInk, 0.3f * h);
    ui.text(Face::text14, box.x + 0.5f * box.w, box.y + 0.5f * (h - ui.line_height(Face::text14)), theme::kPaper,
            caption_, box.w - ui.px(16.0f), Align::centre);
    return box.bottom();
}

std::optional<Point> Practice::mouth_in_window() const {
    for (const sim::Landmark& one : prepared_.model->anatomy->landmarks()) {
        if (one.name != "labrale inferius") continue;
        const sim::Vec3 at_m = one.skin.position_m + scene_.moved_m(one.skin.position_m);
        return in_window(glm::vec3(at_m * 1000.0));
    }
    return std::nullopt;
}

/// What the patient says, with a line to the mouth, or what is seen of them.
void Practice::draw_patient_words(Ui& ui, const Rect& view, float below) const {
    if (!has_visit()) return;
    const std::optional<Shown> shown = shown_by_patient(session_->state(), session_->recording());
    if (!shown) return;
    const Face face = ui.compact() ? Face::bold14 : Face::bold18;
    const float pad = ui.px(ui.compact() ? 6.0f : 10.0f), mark_w = ui.px(shown->said ? 0.0f : 28.0f);
    const float most = view.w - ui.px(40.0f) - 2.0f * pad - mark_w;
    const float text_w = std::min(most, ui.text_width(face, shown->words) + 1.0f);
    const float text_h = ui.paragraph_height(face, text_w, shown->words);
    const Rect box{view.x + 0.5f * (view.w - text_w - mark_w) - pad, below + ui.px(ui.compact() ? 4.0f : 10.0f),
                   text_w + mark_w + 2.0f * pad, text_h + 2.0f * pad};
    if (shown->said) {
        const std::optional<Point> mouth = mouth_in_window();
        if (mouth && view.holds(*mouth) && mouth->y > box.bottom() + ui.px(30.0f)) {
            const Point from{std::clamp(mouth->x, box.x + ui.px(16.0f), box.right() - ui.px(16.0f)), box.bottom()};
            const Point to{mouth->x + 0.25f * (from.x - mouth->x), mouth->y + 0.25f * (from.y - mouth->y)};
            ui.line(from, to, theme::kPaper, ui.px(4.0f));
            ui.line(from, to, theme::kInk, ui.px(1.6f));
        }
    }
    ui.box(box, theme::kPaper, ui.px(shown->said ? 14.0f : 6.0f));
    ui.frame(box, shown->said ? theme::kInk : theme::kVermilion, ui.px(shown->said ? 14.0f : 6.0f), ui.px(1.6f));
    if (!shown->said) ui.mark(Mark::bad, {box.x + pad + ui.px(9.0f), box.y + 0.5f * box.h}, ui.px(9.0f));
    ui.paragraph(face, box.x + pad + mark_w, box.y + pad, text_w, theme::kInk, shown->words);
    ui.name_place(shown->said ? "patient.says" : "patient.shows", box);
}

}  // namespace app
