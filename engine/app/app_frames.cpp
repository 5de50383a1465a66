#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>
#include <glad/gl.h>

#include <algorithm>
#include <chrono>
#include <ctime>

#include "engine/app/app.hpp"
#include "engine/gl/check.hpp"

/// One frame: the patient, the screen around, and what is learnt from how long it took.

namespace app {

namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

/// Processor time of this thread so far.
double thread_ms() {
    timespec now{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
}

/// All of it but the patient's picture, which is laid over whatever was there.
void clear_window(int width, int height, const Rect& picture) {
    PK_GL(glBindFramebuffer(GL_FRAMEBUFFER, 0));
    PK_GL(glViewport(0, 0, width, height));
    PK_GL(glClearColor(0.957f, 0.941f, 0.910f, 1.0f));
    const auto clear = [&](int left, int top, int right, int bottom) {
        if (right <= left || bottom <= top) return;
        PK_GL(glScissor(left, height - bottom, right - left, bottom - top));
        PK_GL(glClear(GL_COLOR_BUFFER_BIT));
    };
    const int left = static_cast<int>(picture.x), right = left + static_cast<int>(picture.w);
    const int top = static_cast<int>(picture.y), bottom = top + static_cast<int>(picture.h);
    PK_GL(glEnable(GL_SCISSOR_TEST));
    clear(0, 0, width, top);
    clear(0, top, left, bottom);
    clear(right, top, width, bottom);
    clear(0, bottom, width, height);
    PK_GL(glDisable(GL_SCISSOR_TEST));
}

}  // namespace

void App::draw_patient(const Rect& view) {
    if (!(view.w > 0.0f)) return;  // another page is shown
    const int width = std::max(16, static_cast<int>(view.w)), height = std::max(16, static_cast<int>(view.h));
    // a still is worth the time that it takes
    const bool still = !options_.picture.empty() && options_.quality < 0;
    const view::QualityStep& quality = view::quality_step(still ? 0 : quality_.step());
    const auto scaled = [&quality](int pixels) { return std::max(16, static_cast<int>(quality.scale * pixels)); };
    // one sample a pixel at the picture's own size needs no canvas beside the window's
    const bool direct = window_.has_depth() && quality.samples == 0 && !(quality.scale < 1.0);
    if (!direct && (canvas_.width() != scaled(width) || canvas_.height() != scaled(height) ||
                    canvas_.samples() != quality.samples))
        canvas_ = gl::Canvas(scaled(width), scaled(height), quality.samples);
    const int x = static_cast<int>(view.x), y = window_.height() - static_cast<int>(view.y) - height;
    const auto bind = [&] {
        if (direct)
            PK_GL(glViewport(x, y, width, height));
        else
            canvas_.bind();
    };
    bind();
    renderer_.begin();
    if (!window_.software()) PK_GL(glFlush());  // a card clears while this thread puts the list together
    const double aspect = static_cast<double>(width) / height;
    const gl::Shading shading = quality.fine_shading ? gl::Shading::fine : gl::Shading::lean;
    const view::DrawList list = screen_ == Screen::practice    ? practice_->draw_list(aspect)
                                : screen_ == Screen::authoring ? authoring_->draw_list(aspect)
                                : screen_ == Screen::observing ? observer_->draw_list(aspect)
                                                               : debrief_->draw_list(aspect);
    patient_unsettled_ = list.unsettled;
    lap(FramePart::scene);
    renderer_.upload(list, shading);
    lap(FramePart::upload);
    bind();
    card_clock_.begin();
    renderer_.draw(list, shading);
    card_clock_.end();
    if (!direct) canvas_.show(0, x, y, width, height);
    if (direct || !window_.software()) PK_GL(glFlush());  // what draws begins while this thread lays out the panels
    PK_GL(glViewport(0, 0, window_.width(), window_.height()));
    lap(FramePart::patient);
}

/// This part of the frame ends here; the bench asks the card too.
void App::lap(FramePart part) {
    watch_.lap(part);
    if (card_watch_) card_watch_->lap();
}

/// Draw, show, and learn from how long it took.
void App::show_frame() {
    const auto start = Clock::now();
    const double thread_start_ms = thread_ms();
    draw();
    view::FrameCost cost;
    cost.thread_ms = thread_ms() - thread_start_ms;
    window_.swap();
    note_frame();
    cost.frame_ms = 1000.0 * seconds_since(start);
    while (const std::optional<double> ms = card_clock_.take()) card_ms_ = *ms;
    cost.card_ms = card_ms_;
    // a card's swap waits for the screen
    const double work_ms = cost.work_ms(!window_.software());
    const bool adapts = practice_ || debrief_ || observer_ || authoring_;
    if (!adapts || !quality_.note_frame(work_ms)) return;
    journal_.note("quality", fmt::format("{} {}", quality_.step(), view::quality_step(quality_.step()).words));
}

/// Once a second, so that whoever watches the journal sees that the window lives.
void App::note_frame() {
    ++frames_;
    if (!journal_.on() || seconds_since(frames_noted_) < 1.0) return;
    frames_noted_ = Clock::now();
    journal_.note("frames", fmt::format("{}", frames_));
}

void App::draw_start_screen() {
    const StartChoice choice = draw_start(ui_, start_view());
    variant_ = choice.variant;
    if (choice.mode != mode()) {
        options_.mode.reset();
        Settings to = settings_.now();
        to.mode = choice.mode;
        settings_.change(to);
    }
    if (!choice.scenario.empty()) {
        begin_loading(choice.scenario, variant_);
    } else if (!choice.go_on.empty()) {
        go_on_with(choice.go_on);
    } else if (choice.past) {
        trouble_.clear();
        go_to(Screen::past);
    } else if (choice.progress || choice.learners) {
        trouble_.clear();
        go_to(choice.progress ? Screen::progress : Screen::learners);
    } else if (choice.authoring) {
        begin_authoring();
    } else if (choice.cohort) {
        begin_cohort();
    } else if (choice.sessions) {
        trouble_.clear();
        go_to(Screen::sessions);
    } else if (choice.settings) {
        before_settings_ = screen_;
        go_to(Screen::settings);
    }
}

void App::draw_past_screen() {
    const PastChoice choice = draw_past(ui_, past_, shelf_->reading(), trouble_);
    if (choice.back)
        go_to_start();
    else if (!choice.show.empty())
        show_past(choice.show);
    else if (!choice.go_on.empty())
        go_on_with(choice.go_on);
}

void App::draw_progress_screen() {
    const ProgressChoice choice = draw_progress(ui_, library_.entries(), past_);
    if (choice.back)
        go_to_start();
    else if (!choice.scenario.empty())
        begin_loading(choice.scenario, variant_);
}

void App::draw_settings_screen() {
    const AfterSettings after = draw_settings(ui_, settings_, machine_words());
    heed_settings(after);
    trouble_ = settings_.trouble();
    if (after == AfterSettings::back) go_to(before_settings_);
}

void App::keep_kinds(const view::StructureKinds& kinds) {
    Settings to = settings_.now();
    to.kinds = kinds;
    settings_.change(to);
}

/// What is changed in an attempt holds at once and is kept.
void App::draw_settings_in_practice() {
    keep_kinds(practice_->settings().kinds);
    ui_.set_arrows_move_focus(practice_->settings_open());
    if (!practice_->settings_open()) return;
    if (!noted_settings_open_) journal_.note("settings", "open");
    noted_settings_open_ = true;
    const AfterSettings after = draw_settings_over(ui_, settings_, machine_words(), practice_->over_tray(ui_));
    heed_settings(after);
    practice_->change_settings(settings_.now());
    if (after != AfterSettings::back) return;
    practice_->close_settings();
    ui_.clear_focus();
    journal_.note("settings", "closed");
    noted_settings_open_ = false;
}

void App::draw_current_screen() {
    switch (screen_) {
        case Screen::start:
            draw_start_screen();
            break;
        case Screen::past:
            draw_past_screen();
            break;
        case Screen::settings:
            draw_settings_screen();
            break;
        case Screen::progress:
            draw_progress_screen();
            break;
        case Screen::learners: {
            const LearnersChoice choice = draw_learners(ui_, learners_, learner_form_);
            heed_learners(choice);
            if (choice.back) go_to_start();
            break;
        }
        case Screen::sessions:
            draw_sessions_screen();
            break;
        case Screen::rating:
            draw_rating_screen();
            break;
        case Screen::authoring:
            draw_authoring_screen();
            break;
        case Screen::observing:
            observer_->draw_screen(ui_);
            break;
        case Screen::cohort:
            draw_cohort_screen();
            break;
        case Screen::loading:
            if (replay_loading_)
                draw_loading(ui_, "Debrief", replay_loading_->fraction(), replay_loading_->what());
            else
                draw_loading(ui_, title_of(last_id_), loading_->fraction(), loading_->what());
            break;
        case Screen::practice:
            practice_->draw_screen(ui_);
            draw_settings_in_practice();
            break;
        case Screen::score:
            debrief_->draw_screen(ui_);
            keep_kinds(debrief_->settings().kinds);
            break;
    }
}

void App::draw() {
    patient_unsettled_ = false;
    drawn_screen_ = screen_;
    ui_.begin(static_cast<float>(window_.width()), static_cast<float>(window_.height()), input_);
    Rect picture;
    if (screen_ == Screen::practice) picture = practice_->patient_rect(ui_);
    if (screen_ == Screen::score) picture = debrief_->patient_rect(ui_);
    if (screen_ == Screen::authoring) picture = authoring_->patient_rect(ui_);
    if (screen_ == Screen::observing) picture = observer_->patient_rect(ui_);
    clear_window(window_.width(), window_.height(), picture);
    draw_patient(picture);
    draw_current_screen();
    draw_footer(ui_, status());
    lap(FramePart::screen);
    ui_.end();
    lap(FramePart::panels);
    over_button_ = ui_.over_button();
    note_places();
}

void App::note_places() {
    if (!journal_.on()) return;
    std::string places;
    for (const Place& place : ui_.places())
        places += fmt::format(" {}={:.0f},{:.0f}", place.name, place.rect.x + 0.5f * place.rect.w,
                              place.rect.y + 0.5f * place.rect.h);
    if (places != noted_places_) {
        noted_places_ = places;
        journal_.note("places", places.empty() ? "" : places.substr(1));
    }
    if (ui_.focus() != noted_focus_) {
        noted_focus_ = ui_.focus();
        journal_.note("focus", noted_focus_.empty() ? "nothing" : noted_focus_);
    }
    if (ui_.unsettled()) return;  // not yet what stays on the screen
    for (const Misfit& misfit : ui_.misfits()) {
        const std::string line = line_of(misfit);
        if (noted_misfits_.insert(line).second) journal_.note("misfit", line);
    }
}

}  // namespace app
