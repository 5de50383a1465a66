#include "engine/app/practice.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "engine/app/camera_hands.hpp"
#include "engine/app/event_words.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

constexpr double kMaxBacklogS = 0.1;    // a window that was held still does not race afterwards
constexpr double kStepBudgetS = 0.012;  // of a frame's real time
constexpr double kFineMdegPerPixel = 40.0;
constexpr float kClickSlackPx = 5.0f;  // a click that moved further was a drag
constexpr double kFactorSmoothing = 0.1;

std::int64_t micrometres(double metres) { return std::llround(metres * 1e6); }

glm::dvec2 in_picture(const Rect& view, Point p) {
    return {2.0 * static_cast<double>((p.x - view.x) / view.w) - 1.0,
            1.0 - 2.0 * static_cast<double>((p.y - view.y) / view.h)};
}

session::SessionOptions options_of(std::shared_ptr<session::Recorder> recorder, sim::PracticeMode mode,
                                   std::shared_ptr<session::AnswerSource> answers) {
    session::SessionOptions options;
    options.mode = mode;
    options.recorder = std::move(recorder);
    options.answers = std::move(answers);
    return options;
}

}  // namespace

Practice::Practice(Prepared prepared, std::shared_ptr<const view::InstrumentModels> instruments, sim::PracticeMode mode,
                   const Coaching& coaching, const Settings& settings, Journal& journal)
    : prepared_(std::move(prepared)),
      settings_(settings),
      journal_(&journal),
      tape_(std::make_shared<session::TapeRecorder>(prepared_.before ? nullptr : prepared_.recorder)),
      answers_(std::make_shared<session::LiveAnswers>()),
      session_(std::make_unique<session::Session>(prepared_.model, options_of(tape_, mode, answers_))),
      scene_(prepared_.model, prepared_.look, instruments),
      posture_(prepared_.tissue, scene_),
      under_tip_(posture_.tissue()),
      probe_panel_(prepared_.model->anatomy),
      lesson_(mode == sim::PracticeMode::coached ? prepared_.lesson : std::vector<files::LessonStep>{}) {
    // coached use has its aids on, those that the case allows; solo on request; graded work none
    for (const int aid : {kAidCutaway, kAidTrace, kAidForce, kAidWords})
        show_aid(aid, mode == sim::PracticeMode::coached);
    for (const sim::InstrumentSpec& spec : prepared_.model->scenario.tray) {
        in_tray_.push_back(view::side_picture(*instruments, spec, false));
        in_hand_.push_back(view::side_picture(*instruments, spec, true));
    }
    answers_->use(posture_.tissue());
    change_settings(settings);
    if (prepared_.before)
        take_up(*prepared_.before);
    else if (mode == sim::PracticeMode::coached)
        begin_aids(coaching);
}

/// Aids that coaching has left behind are put away, which the record tells.
void Practice::begin_aids(const Coaching& coaching) {
    if (!coaching.cutaway) toggle(kAidCutaway);
    if (!coaching.trace) toggle(kAidTrace);
    if (!coaching.words) toggle(kAidWords);
}

void Practice::take_up(const files::LoadedAttempt& before) {
    std::vector<sim::ThreadAnswer> answers;
    for (const files::ThreadAnswerAt& one : before.about_threads) answers.push_back(one.answer);
    std::sort(answers.begin(), answers.end(), [](const auto& a, const auto& b) { return a.key < b.key; });
    session_->take_up(before.commands, std::move(answers), before.recording.steps, before.recording);
    // an attempt that comes out otherwise is not written to
    if (prepared_.open_record) prepared_.open_record(prepared_);
    tape_->hand_on_to(prepared_.recorder);
    lesson_.advance(session_->recording().events, session_->state());
    for (const sim::Event& event : session_->recording().events) {
        if (event.kind == sim::EventKind::device_changed) device_ = static_cast<sim::Device>(event.subject);
        if (event.kind == sim::EventKind::aid_used) show_aid(event.subject, event.value[0] > 0.0);
    }
    noted_step_ = session_->state().step;
    journal_->note("taken up", fmt::format("{} steps, {} events", noted_step_, session_->recording().events.size()));
}

void Practice::change_settings(const Settings& to) {
    settings_ = to;
    HandHabits habits;
    habits.sensitivity = gain_of(settings_);
    habits.invert = settings_.invert;
    habits.toggle = settings_.advance == AdvanceKey::toggle;
    habits.left_handed = settings_.left_handed;
    steering_.set_habits(habits);
    thread_hands_.set_habits(habits);
    other_hand_.set_habits(habits);
}

void Practice::open_settings() {
    settings_open_ = true;
    steering_.let_go();
}

Rect Practice::patient_rect(const Ui& ui) const {
    const float below =
        footer_height(ui) + (trace_shown() ? trace_height(ui) : 0.0f) + (ui.compact() ? sentence_bar_height(ui) : 0.0f);
    const float top = band_height(ui);
    const float tray = ui.px(ui.compact() ? theme::kTrayCompact : theme::kTray);
    return {settings_.left_handed ? tray : 0.0f, top, ui.width() - tray, ui.height() - top - below};
}

bool Practice::trace_shown() const {
    return (trace_ || force_) && session_->recording().mode != sim::PracticeMode::graded &&
           (session_->state().track.has_value() || at_thread());
}

view::DrawList Practice::draw_list(double aspect) {
    if (!placed_) {
        view::CameraPose pose = first_pose(whole_view_, aspect);
        pose.azimuth_rad += view_turn_rad_.x;
        pose.elevation_rad += view_turn_rad_.y;
        camera_.place(pose);
        placed_ = true;
    }
    view::SceneOptions options;
    // whatever asks for them: graded work shows nothing of the inside
    const bool inside = mode() != sim::PracticeMode::graded;
    options.cutaway = cutaway_ && inside;
    options.structures = vessels_ && inside;
    options.kinds = settings_.kinds;
    probe_panel_.follow(session_->state());
    options.probe = probe_panel_.pose();
    options.probe_width_m = probe_panel_.width_m();
    scene_.follow_visit(session_->state(), session_->recording().events);
    view::DrawList list = scene_.draw(session_->state(), session_->recording().tracks, camera_, aspect, options);
    labels_ = list.labels;
    mark_names_ = list.mark_names;
    labels_seen_ = list.view_projection;
    return list;
}

void Practice::handle(const Input& input, bool over_button, bool control_focused) {
    if (settings_open_) return;
    const bool over_probe =
        !visit_shown() && (probe_panel_.covers(input.mouse) || probe_panel_.covers(input.pressed_at));
    if (!over_button && !over_probe && view_.holds(input.mouse)) {
        handle_camera(input);
        choose_place(input);
    }
    steering_.pressed(input);
    other_hand_.pressed(input, *prepared_.model, session_->state());
    if (at_thread()) thread_hands_.pressed(input);
    handle_keys(input, control_focused);
}

void Practice::handle_camera(const Input& input) {
    move_camera(camera_, input, view_, settings_, false);
    if (input.right_held || input.middle_held || !input.control) return;
    const double turn = gain_of(settings_) * kFineMdegPerPixel, up = settings_.invert ? -1.0 : 1.0;
    steering_.fine_turn(-turn * static_cast<double>(input.drag.x), up * turn * static_cast<double>(input.drag.y));
}

/// A click chooses the entry, with Shift where the other hand is laid.
void Practice::choose_place(const Input& input) {
    const bool click =
        input.left_released && view_.holds(input.pressed_at) &&
        std::hypot(input.mouse.x - input.pressed_at.x, input.mouse.y - input.pressed_at.y) < kClickSlackPx;
    if (!click || (session_->state().inserted_m > 0.0 && !input.shift)) return;
    const glm::dvec2 at = in_picture(view_, input.mouse);
    const auto hit = scene_.pick(camera_.ray(at.x, at.y, static_cast<double>(view_.w / view_.h)));
    if (!hit) return;
    const sim::Vec3& p = hit->position_m;
    if (input.shift) return other_hand_.lay(p);
    session_->send({sim::Verb::entry, {micrometres(p.x), micrometres(p.y), micrometres(p.z)}});
    const int held = session_->state().hands.instrument;
    if (held >= 0) steering_.took(prepared_.model->scenario.tray[static_cast<std::size_t>(held)]);
}

void Practice::handle_keys(const Input& input, bool control_focused) {
    for (const Key key : input.keys_pressed) {
        const bool enter = key == SDLK_RETURN || key == SDLK_KP_ENTER;
        if (key >= SDLK_1 && key <= SDLK_9) take(key - SDLK_1);
        if (enter && !control_focused) finish();
        if (key == SDLK_x) discard();
        if (key == SDLK_c) toggle(kAidCutaway);
        if (key == SDLK_v) toggle(kAidVessels);
        if (key == SDLK_t) toggle(kAidTrace);
        if (key == SDLK_b) toggle(kAidForce);
        if (key == SDLK_n) toggle(kAidWords);
        if (key == SDLK_i) toggle(kAidSection);
        if (key == SDLK_o) open_settings();
        if (key == SDLK_0 && has_visit()) visit_open_ = !visit_open_;
        if (key == SDLK_p) next_posture();
        if (key == SDLK_y) turn_head(input.shift ? -session::kTurnStepDegrees : session::kTurnStepDegrees);
        if (key == SDLK_f || key == SDLK_g) look(key == SDLK_f);
        if (key == SDLK_ESCAPE) leave();
        if (!enter) finish_asked_ = false;
        if (key != SDLK_p && key != SDLK_y) posture_refused_ = false;
        if (key != SDLK_ESCAPE) leave_asked_ = false;
    }
}

/// An attempt that has begun is not given up by one key.
void Practice::leave() {
    const bool begun = !session_->state().holes.empty() || session_->state().inserted_m > 0.0 ||
                       session_->state().visit.passed_s > 0.0;
    if (begun && !leave_asked_ && !session_->finished() && !session_->faults().any())
        leave_asked_ = true;
    else
        leave_ = true;
}

void Practice::take(int tray_number) {
    const auto& tray = prepared_.model->scenario.tray;
    if (tray_number < 0 || static_cast<std::size_t>(tray_number) >= tray.size()) return;
    session_->send({sim::Verb::take, {tray_number, 0, 0}});
    steering_.took(tray[static_cast<std::size_t>(tray_number)]);
}

/// Nobody is laid back or sat up with an instrument in the skin.
bool Practice::may_move_patient() {
    posture_refused_ = posture_.ready() && session_->state().inserted_m > 0.0;
    return posture_.ready() && !posture_refused_;
}

void Practice::next_posture() {
    if (!may_move_patient()) return;
    session::Position to = posture_.shown();
    to.posture = static_cast<session::Posture>((static_cast<int>(to.posture) + 1) % session::kPostures);
    posture_.ask(to);
}

/// @param degrees further to the patient's left
void Practice::turn_head(int degrees) {
    if (!posture_.can_turn() || !may_move_patient()) return;
    session::Position to = posture_.shown();
    to.turn_degrees = std::clamp(to.turn_degrees + degrees, -session::kMostTurnDegrees, session::kMostTurnDegrees);
    posture_.ask(to);
}

/// The whole patient is seen as they lie, so that one sees which way the head has turned; the work is seen square.
view::CameraPose Practice::first_pose(bool whole, double aspect) const {
    return whole ? view::turned(scene_.whole(aspect), -posture_.turn_rad()) : scene_.work(aspect);
}

void Practice::look(bool whole) {
    look_from(camera_, first_pose(whole, static_cast<double>(view_.w / view_.h)), settings_);
}

void Practice::note_tissue() {
    const session::TissueStatus& status = posture_.status();
    using Came = session::TissueStatus::Stage;
    if (status.stage == Came::ready)
        journal_->note("tissue", fmt::format("ready in {:.1f} s{}", status.ready_s,
                                             status.notes.from_cache ? ", from the cache" : ""));
    if (status.stage == Came::failed) journal_->note("tissue", "failed: " + status.trouble);
    if (!status.notes.cache.empty()) journal_->note("trouble", status.notes.cache);
}

void Practice::take_probe(bool taken) {
    constexpr std::int64_t kGelS = 20;  // to take it up and put gel on; assumed
    if (!prepared_.ultrasound || taken == probe_panel_.taken()) return;
    probe_panel_.take(taken);
    probe_told_.reset();
    session_->send({sim::Verb::aid, {kProbe, taken ? 1 : 0, 0}});
    if (taken && has_visit() && !session_->state().visit.discharged)
        session_->send({sim::Verb::let_pass, {kGelS, 0, 0}});
}

void Practice::discard() { session_->send({sim::Verb::discard, {}}); }

void Practice::finish() {
    // what is still in the skin, or not made yet, is not left so by one key
    if ((session_->state().inserted_m > 0.0 || !pass_made()) && !finish_asked_) {
        finish_asked_ = true;
        return;
    }
    session_->send({sim::Verb::finish, {}});
}

bool Practice::pass_made() const {
    constexpr double kShortM = 2.0 * sim::kMm;  // of the planned length
    const sim::Recording& recording = session_->recording();
    if (recording.plan.empty()) return true;
    // who is not to be treated needs no pass
    const auto& decision = session_->state().visit.decision;
    if (has_visit() && decision && *decision != sim::Decision::treat) return true;
    const auto reaches = [&](const sim::TrackRecord& track) {
        const auto vector = static_cast<std::size_t>(std::max(0, track.vector));
        return vector < recording.plan.size() && track.length_m >= recording.plan[vector].length_m - kShortM;
    };
    return std::any_of(recording.tracks.begin(), recording.tracks.end(), reaches);
}

bool* Practice::shown_of(int aid) {
    const files::AllowedAids& allowed = prepared_.aids;
    if (aid < 0 || aid >= kProbe || !allowed.test(static_cast<std::size_t>(aid))) return nullptr;
    switch (aid) {
        case kAidTrace:
            return &trace_;
        case kAidCutaway:
            return &cutaway_;
        case kAidVessels:
            return &vessels_;
        case kAidForce:
            return &force_;
        case kAidWords:
            return &words_;
        case kAidSection:
            return &section_;
        default:
            return nullptr;
    }
}

void Practice::show_aid(int aid, bool on) {
    if (bool* shown = shown_of(aid)) *shown = on;
}

void Practice::toggle(int aid) {
    bool* shown = shown_of(aid);
    if (session_->recording().mode == sim::PracticeMode::graded || shown == nullptr) return;
    *shown = !*shown;
    session_->send({sim::Verb::aid, {aid, *shown ? 1 : 0, 0}});
}

std::string Practice::record_trouble() const {
    if (!prepared_.not_kept.empty()) return prepared_.not_kept;
    return prepared_.record_trouble ? prepared_.record_trouble() : "";
}

void Practice::note_events() {
    const std::vector<sim::Event> events = session_->take_events();
    for (const sim::Event& event : events) {
        journal_->note("event", line_of(event));
        hear(event);
    }
    const std::size_t before = lesson_.at();
    lesson_.advance(events, session_->state());
    if (lesson_.at() != before) journal_->note("lesson", fmt::format("{} of {}", lesson_.at(), lesson_.count()));
    // ten times a second, so that a record can be compared with what was simulated
    constexpr std::int64_t kNoteEachSteps = 25;
    if (session_->state().step / kNoteEachSteps != noted_step_ / kNoteEachSteps) {
        noted_step_ = session_->state().step;
        journal_->note("steps", fmt::format("{}", noted_step_));
    }
    const std::string trouble = record_trouble();
    if (trouble != noted_trouble_) {
        noted_trouble_ = trouble;
        journal_->note("record", trouble.empty() ? "written again" : trouble);
    }
}

/// What moved the hands, told when it is another than before.
void Practice::note_device(const Input& input) {
    std::optional<sim::Device> now;
    if (input.pad.any())
        now = sim::Device::controller;
    else if (input.left_held || (input.control && (input.drag.x != 0.0f || input.drag.y != 0.0f)))
        now = sim::Device::mouse;
    else if (!input.keys_held.empty())
        now = sim::Device::keys;
    if (!now || now == device_) return;
    device_ = now;
    session_->send({sim::Verb::moved_with, {static_cast<std::int64_t>(*now), 0, 0}});
}

/// Where the probe stands and how it is held, a few times a second while that changes.
void Practice::note_probe(double elapsed_s) {
    constexpr double kEachS = 0.25;
    probe_since_s_ += elapsed_s;
    const auto held = probe_panel_.held();
    if (!held || !session_->state().hand.placed || probe_since_s_ < kEachS) return;
    const sim::Vec3& at_m = session_->state().hand.at.position_m;
    if (held == probe_told_ && at_m == probe_at_m_) return;
    session_->send(*held);
    probe_told_ = held;
    probe_at_m_ = at_m;
    probe_since_s_ = 0.0;
}

void Practice::send_hands(const Input& input) {
    const std::vector<sim::Command> steered = steering_.commands(input, session_->state());
    if (!steered.empty()) note_device(input);
    for (const sim::Command& command : steered) session_->send(command);
    for (const sim::Command& command : other_hand_.commands(input, session_->state())) session_->send(command);
    thread_hands_.follow(session_->state());
    if (!at_thread()) return;
    for (const sim::Command& command : thread_hands_.commands(input, session_->state())) session_->send(command);
}

bool Practice::advance(double elapsed_s, const Input& given) {
    using Clock = std::chrono::steady_clock;
    // what the clock owes meanwhile is forgotten; graded work has no pause, and goes on under hands at rest
    if (settings_open_ && mode() != sim::PracticeMode::graded) return camera_.tick(elapsed_s);
    static const Input kAtRest;
    const Input& input = settings_open_ ? kAtRest : given;
    const auto start = Clock::now();
    handle_pad(input, elapsed_s);
    bool changed = camera_.tick(elapsed_s) || steering_.busy(input) || other_hand_.busy(input) ||
                   (at_thread() && thread_hands_.busy(input));
    const auto stage = posture_.status().stage;
    const session::Position position = posture_.shown();
    const auto shape = posture_.status().shape;
    const double turn_rad = posture_.turn_rad();
    const bool could_turn = posture_.can_turn();
    changed = posture_.advance(elapsed_s, settings_.reduced_motion, scene_) || changed;
    if (posture_.status().stage != stage) note_tissue();
    if (posture_.status().shape != shape) journal_->note("shape", std::string(name_of(posture_.status().shape)));
    if (posture_.can_turn() && !could_turn) journal_->note("tissue", "the head can be turned");
    changed = changed || posture_.can_turn() != could_turn;
    if (posture_.turn_rad() != turn_rad) camera_.turn_under(posture_.turn_rad() - turn_rad);
    if (posture_.shown() != position)
        journal_->note("posture", fmt::format("{}, {}", name_of(posture_.shown().posture),
                                              turn_words(posture_.shown().turn_degrees)));
    const bool captioned = caption_left_s_ > 0.0;
    backlog_s_ += elapsed_s;
    const double dropped_s = std::max(0.0, backlog_s_ - kMaxBacklogS);
    backlog_s_ -= dropped_s;
    int done = 0;
    while (backlog_s_ >= sim::kStepS && !session_->finished() && !session_->faults().any() &&
           std::chrono::duration<double>(Clock::now() - start).count() < kStepBudgetS) {
        // the hands are asked once for each step that runs: a step that waits must not hear the same command twice
        if (!session_->waiting()) send_hands(input);
        if (session_->advance(1) == 0) break;
        backlog_s_ -= sim::kStepS;
        ++done;
    }
    if (elapsed_s > 0.0) {
        const double now = std::clamp((done * sim::kStepS) / elapsed_s, 0.0, 1.0);
        real_time_factor_ += kFactorSmoothing * ((dropped_s > 0.0 ? now : 1.0) - real_time_factor_);
    }
    const auto second = static_cast<std::int64_t>(session_->time_s());
    changed = changed || second != drawn_second_;
    drawn_second_ = second;
    const std::size_t step = lesson_.at();
    const std::string trouble = noted_trouble_;
    note_events();
    listen(elapsed_s);
    changed = probe_panel_.advance(elapsed_s) || changed;
    note_probe(elapsed_s);
    changed = under_tip_.advance(session_->state(), elapsed_s, settings_.reduced_motion, scene_) || changed;
    return changed || step != lesson_.at() || trouble != noted_trouble_ || captioned != (caption_left_s_ > 0.0);
}

void Practice::play(const std::vector<files::TimedCommand>& commands, std::int64_t until_step) {
    std::size_t next = 0;
    const std::int64_t from_step = session_->state().step;
    while ((session_->state().step < until_step || session_->state().finishing) && !session_->finished()) {
        if (!session_->waiting())
            for (; next < commands.size() && commands[next].step <= session_->state().step; ++next)
                session_->send(commands[next].command);
        if (session_->advance(1) == 0)
            SDL_Delay(1);  // an answer is on its way
        else
            caption_left_s_ -= sim::kStepS;
        note_events();
        if (session_->faults().any()) break;
    }
    thread_hands_.follow(session_->state());
    if (thread_hands_.thread() > 0 || session_->state().hand.placed) posture_.wait_for_threads(scene_);
    const double played_s = static_cast<double>(session_->state().step - from_step) * sim::kStepS;
    under_tip_.advance(session_->state(), played_s, false, scene_);
}

}  // namespace app
