#include "engine/app/debrief.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "engine/app/camera_hands.hpp"
#include "engine/session/what_if.hpp"

/// What a debrief knows and does: time, selection, what stands beside. How it looks is in debrief_screen.cpp and
/// debrief_lists.cpp.

namespace app {

namespace {

constexpr double kSlow = 0.25;
constexpr double kStrideSteps = 25.0;  // 0.1 s
constexpr double kHoldS = 0.35;        // an arrow key that is held longer plays
constexpr double kShiftM = 1.0 * sim::kMm;
constexpr double kCloseM = 0.22;  // of the eye from a place that is looked at

}  // namespace

Debrief::Debrief(DebriefMaterial material, std::shared_ptr<const view::InstrumentModels> instruments,
                 std::vector<std::filesystem::path> earlier, const Settings& settings, Journal& journal)
    : material_(std::move(material)),
      settings_(settings),
      journal_(&journal),
      score_(sim::score(material_.replay->recording(), material_.rubric)),
      losses_(blind() ? std::vector<report::Loss>{}
                      : report::losses(score_, material_.replay->recording(), &material_.rubric)),
      signs_(blind() ? std::vector<report::SignLine>{} : report::sign_lines(material_.replay->recording())),
      scene_(std::shared_ptr<const sim::Model>(material_.replay, &material_.replay->model()), material_.look,
             std::move(instruments)),
      lift_(material_.tissue ? PatientPosture(material_.tissue)
                             : PatientPosture(std::move(material_.build_tissue), scene_)),
      under_tip_(lift_.tissue()),
      earlier_(std::move(earlier)),
      page_(blind() ? kRating : kLosses) {
    // begin where the costliest loss is; without one, where the last track was longest
    const sim::Recording& recording = material_.replay->recording();
    if (blind()) {
        seek(0);
    } else if (!losses_.empty()) {
        choose(1);
    } else if (!recording.tracks.empty()) {
        const sim::TrackRecord& last = recording.tracks.back();
        seek(session::step_at_distance(recording, last.track, last.length_m));
    } else {
        seek(recording.steps);
    }
    notice_ = material_.replay->caveat();
}

double Debrief::time_s() const { return static_cast<double>(shown().step()) * sim::kStepS; }

void Debrief::seek(std::int64_t step) {
    shown().seek(step);
    moment_steps_ = static_cast<double>(shown().step());
    follow_track();
}

void Debrief::stride(int direction) { seek(std::llround(moment_steps_ + direction * (fine_ ? 1.0 : kStrideSteps))); }

/// The plot shows the track that time is in.
void Debrief::follow_track() {
    const sim::Recording& recording = shown().recording();
    const int now = session::track_at(recording, shown().step());
    if (now == track_ && !trace_.samples.empty()) return;
    track_ = now;
    trace_ = now < 0 ? view::DepthTrace{}
                     : view::depth_trace_of(recording, recording.tracks[static_cast<std::size_t>(now)],
                                            material_.rubric.bands);
}

std::optional<double> Debrief::cursor_m() const {
    const sim::State& state = shown().state();
    if (track_ < 0 || !state.track || !(state.inserted_m > 0.0)) return std::nullopt;
    const sim::TrackRecord& track = shown().recording().tracks[static_cast<std::size_t>(track_)];
    if (state.track->index != track.track) return std::nullopt;
    return std::min(state.inserted_m, track.length_m);
}

std::string Debrief::moment() const {
    const sim::State& state = shown().state();
    const std::string at = "At " + report::clock_words(time_s());
    if (const auto along_m = cursor_m(); along_m && !blind())
        return fmt::format("{}, {}; resistance {:.1f} N", at, view::moment_words(trace_, *along_m),
                           std::fabs(state.force.hand_n));
    if (state.hands.instrument < 0) return at + ": nothing in hand";
    const std::string& name = shown().model().scenario.tray[static_cast<std::size_t>(state.hands.instrument)].name;
    if (!(state.inserted_m > 0.0)) return fmt::format("{}: {} outside the skin", at, name);
    return fmt::format("{}: {} {:.1f} mm under the skin; resistance {:.1f} N", at, name, state.inserted_m / sim::kMm,
                       std::fabs(state.force.hand_n));
}

void Debrief::look_at(Watched watched) {
    if (watched == Watched::reference && !reference_) return;
    if (watched == Watched::earlier && !earlier_replay_) return;
    if (watched == watched_) return;
    // the same distance along, so that one sees the same place
    const std::optional<double> along_m = cursor_m();
    watched_ = watched;
    journal_->note("watching", watched_words());
    playing_ = false;
    track_ = -1;
    const sim::Recording& recording = shown().recording();
    const int last = recording.tracks.empty() ? -1 : recording.tracks.back().track;
    seek(along_m && last >= 0 ? session::step_at_distance(recording, last, *along_m) : 0);
    fill_beside();
}

const char* Debrief::watched_words() const {
    return watched_ == Watched::reference ? "reference pass"
           : watched_ == Watched::earlier ? "earlier attempt"
                                          : "this attempt";
}

/// An earlier attempt is stepped through once in the background before it can be watched; on this anatomy only.
void Debrief::watch_other() {
    if (watching()) return look_at(Watched::attempt);
    if (beside_choice_ == 2) return look_at(Watched::reference);
    if (beside_choice_ != 3 || earlier_.empty() || earlier_job_) return;
    if (earlier_replay_) return look_at(Watched::earlier);
    earlier_job_ = std::make_unique<Job<std::shared_ptr<session::Replay>>>(
        [file = earlier_[earlier_shown_], here = material_.replay](const auto& progress) {
            files::LoadedAttempt attempt = session::open_attempt(file);
            const sim::Recording& recording = here->recording();
            if (attempt.recording.scenario_id != recording.scenario_id ||
                attempt.recording.variant_seed != recording.variant_seed)
                throw std::runtime_error(
                    "That attempt was made on another anatomy: its figures can be compared, not watched here.");
            const std::shared_ptr<const sim::Model> model(here, &here->model());
            auto replay = std::make_shared<session::Replay>(model, session::tape_of(attempt), attempt.recording);
            replay->build(progress);
            return replay;
        });
}

void Debrief::select(int number) {
    choose(number);
    selection_moved_ = true;  // wherever it is in the list, it is shown
}

void Debrief::choose(int number) {
    if (number < 1 || number > static_cast<int>(losses_.size())) return;
    look_at(Watched::attempt);
    selected_ = number - 1;
    playing_ = false;
    const report::Loss& loss = losses_[static_cast<std::size_t>(selected_)];
    if (loss.time_s > 0.0) seek(std::llround(loss.time_s / sim::kStepS));
    if (!loss.placed || !placed_) return;
    view::CameraPose pose = camera_.pose();
    pose.target_m = loss.place_m;
    pose.distance_m = kCloseM;
    camera_.glide_to(pose);
}

void Debrief::set_beside(std::size_t choice) {
    beside_choice_ = choice;
    beside_trouble_.clear();
    const bool reference = choice == 2;
    if (reference && !reference_ && !reference_job_)
        reference_job_ = std::make_unique<Job<session::ReferencePass>>(
            [model = std::shared_ptr<const sim::Model>(material_.replay, &material_.replay->model()),
             rubric = material_.rubric, hash = material_.patient_hash](const auto&) {
                const auto answers =
                    std::make_shared<session::InlineAnswers>(session::thread_tissue_maker(model, hash));
                return session::reference_pass(model, rubric, answers);
            });
    look_at(Watched::attempt);
    fill_beside();
}

void Debrief::fill_beside() {
    using Look = view::BesideTrace::Look;
    beside_.clear();
    const sim::Recording& recording = material_.replay->recording();
    if (beside_choice_ == 1)
        for (const double shift_m : {kShiftM, -kShiftM}) {
            session::WhatIf moved = session::what_if(material_.replay->model(), recording, material_.rubric, shift_m);
            beside_.push_back({shift_m > 0.0 ? "1 mm deeper" : "1 mm shallower", std::move(moved.recording),
                               std::move(moved.score), shift_m > 0.0 ? Look::dashes : Look::dots, true});
        }
    if (beside_choice_ == 2 && reference_) {
        if (watching())
            beside_.push_back({"This attempt", recording, score_, Look::long_dashes, false});
        else
            beside_.push_back(
                {"Reference", reference_->replay->recording(), reference_->score, Look::long_dashes, false});
    }
    if (beside_choice_ == 3 && watching()) {
        beside_.push_back({"This attempt", recording, score_, Look::long_dashes, false});
    } else if (beside_choice_ == 3 && !earlier_.empty()) {
        try {
            files::LoadedAttempt other = session::open_attempt(earlier_[earlier_shown_]);
            Beside one{"Earlier attempt", std::move(other.recording), {}, Look::long_dashes, false};
            one.score = sim::score(one.recording, material_.rubric);
            beside_.push_back(std::move(one));
        } catch (const std::exception& error) {
            beside_trouble_ = error.what();
        }
    }
}

void Debrief::next_earlier() {
    if (earlier_.empty()) return;
    if (earlier_job_) return;
    look_at(Watched::attempt);
    earlier_replay_.reset();
    beside_trouble_.clear();
    earlier_shown_ = (earlier_shown_ + 1) % earlier_.size();
    fill_beside();
}

DebriefWish Debrief::handle(const Input& input, bool over_button, bool typing) {
    const bool over_view = view_.holds(input.mouse) && view_.w > 0.0f;
    if ((!over_button && over_view) || input.right_held) handle_camera(input);
    if (typing)
        stepping_ = 0;
    else
        handle_keys(input);
    handle_trace(input);
    const DebriefWish wish = wish_;
    wish_ = DebriefWish::stay;
    return wish;
}

std::string Debrief::variant_words() const {
    if (material_.patient_hash.empty()) return "";
    return fmt::format("anatomy variant {}", variant_seed());
}

void Debrief::handle_camera(const Input& input) {
    if (view_.holds(input.mouse)) move_camera(camera_, input, view_, settings_, true);
}

void Debrief::move_selection(int by) {
    if (losses_.empty()) return;
    select(std::clamp(selected_ + 1 + by, 1, static_cast<int>(losses_.size())));
}

void Debrief::handle_keys(const Input& input) {
    fine_ = input.shift;
    stepping_ = input.held(SDLK_RIGHT) ? 1 : input.held(SDLK_LEFT) ? -1 : 0;
    for (const Key key : input.keys_pressed) handle_key(key);
}

void Debrief::handle_key(Key key) {
    if (key == SDLK_LEFT || key == SDLK_RIGHT) {
        playing_ = false;
        held_s_ = 0.0;
        stride(key == SDLK_RIGHT ? +1 : -1);
    }
    if (key == SDLK_HOME) seek(0);
    if (key == SDLK_END) seek(shown().steps());
    if (key == SDLK_k) turn_play();
    if (key == SDLK_l) turn_slow();
    if (key == SDLK_s) next_skin();
    if (key == SDLK_i) page_ = page_ == kInside ? (blind() ? kRating : kLosses) : kInside;
    if (key == SDLK_ESCAPE) wish_ = DebriefWish::library;
    if ((key == SDLK_f || key == SDLK_g) && view_.h > 0.0f) {
        const double aspect = static_cast<double>(view_.w / view_.h);
        app::look_from(camera_, key == SDLK_f ? scene_.whole(aspect) : scene_.work(aspect), settings_);
    }
    if (handle_rating_key(key)) return;
    if (key == SDLK_DOWN) move_selection(+1);
    if (key == SDLK_UP) move_selection(-1);
    if (key == SDLK_b) set_beside((beside_choice_ + 1) % 4);
    if (key == SDLK_w) watch_other();
    if (key == SDLK_p) wish_ = DebriefWish::paper;
    if (key == SDLK_r) wish_ = DebriefWish::again;
    if (key == SDLK_n && !variant_words().empty()) wish_ = DebriefWish::another;
}

bool Debrief::handle_rating_key(Key key) {
    if (!blind()) return false;
    RatingDesk& desk = *material_.rating;
    if (key >= SDLK_1 && key < SDLK_1 + graded::kRatingPoints) desk.rate(static_cast<int>(key - SDLK_1) + 1);
    const std::size_t last = graded::kRatingItems - 1;
    if (key == SDLK_DOWN) desk.item = std::min(desk.item + 1, last);
    if (key == SDLK_UP) desk.item -= desk.item > 0 ? 1 : 0;
    return true;
}

void Debrief::handle_trace(const Input& input) {
    const view::CanvasRect& plot = places_.plot;
    const Rect grip{static_cast<float>(plot.left), static_cast<float>(plot.top), static_cast<float>(plot.width()),
                    static_cast<float>(places_.strip.bottom - plot.top)};
    if (input.left_pressed) {
        dragging_trace_ = track_ >= 0 && grip.holds(input.pressed_at);
        dragging_time_ = time_.holds(input.pressed_at);
    }
    // what is watched may have changed under the hand to a pass without a track
    if (dragging_trace_ && track_ >= 0 && (input.left_held || input.left_released)) {
        playing_ = false;
        const sim::TrackRecord& track = shown().recording().tracks[static_cast<std::size_t>(track_)];
        const double along_m = std::min(places_.along_m_at(static_cast<double>(input.mouse.x)), track.length_m);
        seek(session::step_at_distance(shown().recording(), track.track, along_m));
    }
    if (dragging_time_ && (input.left_held || input.left_released)) {
        playing_ = false;
        const double share = static_cast<double>((input.mouse.x - time_.x) / time_.w);
        seek(std::llround(std::clamp(share, 0.0, 1.0) * static_cast<double>(shown().steps())));
    }
    if (!input.left_held) dragging_trace_ = dragging_time_ = false;
}

/// What background work has finished.
void Debrief::take_in_jobs() {
    const auto settle = [this](auto& job, auto then) {
        if (!job || !job->done()) return;
        const auto ended = std::move(job);
        try {
            then(ended->take());
        } catch (const std::exception& error) {
            beside_trouble_ = error.what();
        }
    };
    settle(reference_job_, [this](session::ReferencePass pass) {
        reference_ = std::move(pass);
        journal_->note("reference", reference_->words);
        fill_beside();
    });
    settle(earlier_job_, [this](std::shared_ptr<session::Replay> replay) {
        earlier_replay_ = std::move(replay);
        earlier_score_ = sim::score(earlier_replay_->recording(), material_.rubric);
        notice_ = earlier_replay_->caveat();
        look_at(Watched::earlier);
    });
    settle(tops_job_, [this](view::LayerTops tops) {
        scene_.set_layer_tops(std::move(tops));
        tops_made_ = true;
        journal_->note("layers", "made");
    });
}

bool Debrief::faded() const {
    return std::any_of(layers_.begin(), layers_.end(), [](Opacity one) { return one != kFull; });
}

/// The tops of the layers are worked out once, when the first is asked for.
void Debrief::set_layer(std::size_t layer, Opacity opacity) {
    layers_[layer] = opacity;
    if (!faded() || tops_made_ || tops_job_) return;
    tops_job_ = std::make_unique<Job<view::LayerTops>>(
        [replay = material_.replay, surfaces = scene_.surfaces()](const auto& progress) {
            return view::build_layer_tops(*replay->model().anatomy, surfaces,
                                          [&](double fraction) { progress(fraction, "laying the layers bare"); });
        });
}

void Debrief::set_layers(const std::string& digits) {
    for (std::size_t i = 0; i < std::min(digits.size(), layers_.size()); ++i)
        set_layer(i, static_cast<Opacity>(std::clamp(digits[i] - '0', 0, 2)));
}

std::size_t Debrief::first_whole() const {
    const auto whole = std::find(layers_.begin(), layers_.end(), kFull);
    return std::min(layers_.size() - 1, static_cast<std::size_t>(whole - layers_.begin()));
}

void Debrief::look_from(std::size_t layer) {
    for (std::size_t i = 0; i < layers_.size(); ++i) set_layer(i, i >= layer ? kFull : faint_ ? kHalf : kOff);
}

void Debrief::next_skin() {
    const bool was_faded = faded();
    layers_ = {};
    if (cut_open_ && !was_faded) {
        cut_open_ = false;
        layers_[0] = kHalf;  // over structures: the layers between are not needed for that
    } else {
        cut_open_ = was_faded ? false : true;
    }
}

std::string Debrief::skin_words() const {
    // what pressing it does next
    if (faded()) return "Close the skin";
    return cut_open_ ? "See through skin" : "Cut skin open";
}

void Debrief::settle_skin(const sim::State& state) {
    if (!lift_.ready()) return;
    lift_.wait_for_replay(state, scene_);
    under_tip_.wait(state, scene_);
}

void Debrief::settle_skin() {
    const sim::State& state = shown().state();
    if (!session::recorded_forces(state).none()) lift_.wait_for_replay(state, scene_);
    settle_skin(state);
}

/// The patient's skin as the moment that is looked at has it. Another anatomy's attempt is never watched here.
bool Debrief::move_skin(double elapsed_s) {
    const std::string words = lift_words();
    bool changed = lift_.advance(elapsed_s, settings_.reduced_motion, scene_);
    lift_.follow(shown().state());
    changed = under_tip_.advance(shown().state(), elapsed_s, settings_.reduced_motion, scene_) || changed;
    return changed || words != lift_words();
}

bool Debrief::advance(double elapsed_s) {
    bool changed = camera_.tick(elapsed_s);
    changed = move_skin(elapsed_s) || changed;
    const bool was_busy = busy();
    take_in_jobs();
    changed = changed || was_busy;  // what is told of a job goes on
    double by = 0.0;
    if (playing_) by = elapsed_s / sim::kStepS * (slow_ ? kSlow : 1.0);
    if (stepping_ != 0) {
        held_s_ += elapsed_s;
        changed = true;  // keep looking at the key
        if (held_s_ > kHoldS) by = stepping_ * elapsed_s / sim::kStepS * (slow_ || fine_ ? kSlow : 1.0);
    }
    if (by == 0.0) return changed || playing_;
    const double wanted = std::clamp(moment_steps_ + by, 0.0, static_cast<double>(shown().steps()));
    shown().seek(static_cast<std::int64_t>(wanted));
    follow_track();
    moment_steps_ = wanted;
    if (wanted >= static_cast<double>(shown().steps())) playing_ = false;
    return true;
}

view::DrawList Debrief::draw_list(double aspect) {
    if (!placed_) {
        view::CameraPose pose = scene_.work(aspect);
        if (selected_ >= 0 && losses_[static_cast<std::size_t>(selected_)].placed)
            pose.target_m = losses_[static_cast<std::size_t>(selected_)].place_m;
        camera_.place(pose);
        placed_ = true;
    }
    view::SceneOptions options;
    options.cutaway = cut_open_;
    options.structures = faded();
    options.kinds = settings_.kinds;
    static constexpr float kOpacity[] = {1.0f, 0.42f, 0.0f};
    for (std::size_t i = 0; i < layers_.size(); ++i) options.opacity[i] = kOpacity[layers_[i]];
    scene_.follow_visit(shown().state(), shown().recording().events);
    return scene_.draw(shown().state(), shown().tracks_closed(), camera_, aspect, options);
}

}  // namespace app
