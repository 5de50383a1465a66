#include "engine/app/observation.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <stdexcept>
#include <utility>

#include "engine/app/camera_hands.hpp"
#include "engine/app/guide.hpp"
#include "engine/app/observed_list.hpp"
#include "engine/session/live_tissue.hpp"

/// What an observer's screen knows and does: following, standing still, going on. How it looks is in
/// observation_screen.cpp.

namespace app {

namespace {

constexpr double kBehindS = 0.5;  // of the picture: lines come four times a second, and hands are to move evenly
constexpr double kLeastRate = 0.25;
constexpr double kJumpS = 2.0;          // what lies farther ahead is stepped through as fast as it goes
constexpr double kStepBudgetS = 0.012;  // of a frame's real time
constexpr std::int64_t kAtOnce = 25;    // steps between two looks at the clock

std::int64_t seconds_at(std::int64_t step) {
    return static_cast<std::int64_t>(static_cast<double>(step) * sim::kStepS);
}

}  // namespace

ObservedMaterial load_observed(const std::filesystem::path& file, const std::string& learner,
                               const Job<ObservedMaterial>::Progress& progress) {
    files::AttemptTail tail(file);
    static_cast<void>(tail.read_all());
    if (!tail.begun()) throw std::runtime_error(tail.not_begun());
    ObservedMaterial out;
    out.learner = learner;
    out.shown = load_debrief(tail.attempt(), file, progress);
    session::GrownTo from;
    static_cast<void>(session::growth_of(tail.attempt(), from));
    out.follower = std::make_unique<session::AttemptFollower>(std::move(tail), from);
    return out;
}

Observation::Observation(ObservedMaterial material, std::shared_ptr<const view::InstrumentModels> instruments,
                         const Settings& settings, Journal& journal)
    : material_(std::move(material)),
      settings_(settings),
      journal_(&journal),
      scene_(std::shared_ptr<const sim::Model>(material_.shown.replay, &replay().model()), material_.shown.look,
             std::move(instruments)),
      lift_(std::move(material_.shown.build_tissue), scene_),
      under_tip_(std::in_place, lift_.tissue()) {
    replay().seek(replay().steps());
    moment_steps_ = static_cast<double>(replay().step());
    happenings_.follow(replay().recording());
    noted_happenings_ = happenings_.count_by(replay().step());
    now_ = material_.follower->now();
    journal_->note("observing", fmt::format("{} {} steps {}", replay().recording().scenario_id, noted_happenings_,
                                            replay().steps()));
}

/// Lines that came, and the tissue once a thread has been pulled.
void Observation::take_in() {
    for (const session::Growth& growth : material_.follower->take()) {
        replay().grow(growth);
        if (growth.tape.about_threads.empty() || lift_.any() || material_.shown.patient_hash.empty()) continue;
        const std::shared_ptr<const sim::Model> model(material_.shown.replay, &replay().model());
        lift_ = PatientPosture(session::tissue_builder(model, material_.shown.patient_hash), scene_);
        under_tip_.emplace(lift_.tissue());
    }
    happenings_.follow(replay().recording());
    now_ = material_.follower->now();
}

/// Evenly, a little behind what is written; what piled up is gone through as fast as frames allow.
bool Observation::move_on(double elapsed_s) {
    using Clock = std::chrono::steady_clock;
    const double behind_s = static_cast<double>(replay().steps()) * sim::kStepS - moment_steps_ * sim::kStepS;
    catching_up_ = behind_s > kJumpS;
    if (!(behind_s > 0.0)) return false;
    const double rate = std::max(kLeastRate, behind_s / kBehindS);
    moment_steps_ =
        catching_up_ ? static_cast<double>(replay().steps())
                     : std::min(moment_steps_ + rate * elapsed_s / sim::kStepS, static_cast<double>(replay().steps()));
    const auto wanted = static_cast<std::int64_t>(moment_steps_), from = replay().step();
    const auto start = Clock::now();
    while (replay().built() < wanted && std::chrono::duration<double>(Clock::now() - start).count() < kStepBudgetS)
        if (replay().build_on(std::min(kAtOnce, wanted - replay().built())) == 0) break;
    if (replay().built() < wanted || catching_up_) moment_steps_ = static_cast<double>(replay().built());
    return replay().step() != from && looks_different();
}

/// Hands at rest move nothing, and are not drawn anew for each step: once a second is enough.
bool Observation::looks_different() {
    const sim::State& s = replay().state();
    std::vector<double> now{static_cast<double>(s.hands.instrument),
                            s.hands.entry.position_m.x,
                            s.hands.entry.position_m.y,
                            s.hands.entry.position_m.z,
                            s.hands.yaw_rad,
                            s.hands.pitch_rad,
                            s.hands.hand_m,
                            s.inserted_m,
                            s.tip_m.x,
                            s.tip_m.y,
                            s.tip_m.z,
                            s.press_m,
                            s.tent_m,
                            s.hand.placed ? 1.0 : 0.0,
                            s.hand.at.position_m.x,
                            s.hand.at.position_m.y,
                            s.hand.force_n,
                            s.hand.turn_rad,
                            static_cast<double>(s.hand.grip),
                            std::floor(10.0 * s.force.hand_n),
                            static_cast<double>(s.holes.size()),
                            static_cast<double>(seconds_at(s.step)),
                            static_cast<double>(happenings_.count_by(s.step))};
    for (const sim::HeldThread& thread : s.threads) now.insert(now.end(), {thread.pull_n, thread.tail_out_m});
    if (now == looked_) return false;
    looked_ = std::move(now);
    return true;
}

bool Observation::advance(double elapsed_s) {
    bool changed = camera_.tick(elapsed_s);
    take_in();
    if (!frozen_) changed = move_on(elapsed_s) || changed;
    const std::string lift = lift_words(lift_, replay());
    changed = lift_.advance(elapsed_s, settings_.reduced_motion, scene_) || changed;
    lift_.follow(replay().state());
    changed = under_tip_->advance(replay().state(), elapsed_s, settings_.reduced_motion, scene_) || changed;
    note_changes();
    return changed || told() != told_ || lift != lift_words(lift_, replay());
}

void Observation::note_changes() {
    const std::size_t count = happenings_.count_by(replay().step());
    for (; noted_happenings_ < count; ++noted_happenings_) {
        const Happening& one = happenings_.all()[noted_happenings_];
        journal_->note("observed",
                       fmt::format("{} at {:.2f} s", one.what, static_cast<double>(one.step) * sim::kStepS));
    }
    if (const std::int64_t second = seconds_at(replay().step()); second != noted_second_) {
        noted_second_ = second;
        journal_->note("observed steps", fmt::format("{} of {}", replay().step(), replay().steps()));
    }
    // the end is told once the picture has come there
    const bool there = frozen_ || replay().step() >= replay().steps() || now_.standing != session::Standing::ended;
    if (noted_standing_ != now_.standing && there) {
        noted_standing_ = now_.standing;
        journal_->note("observed standing", standing_words(now_.standing, now_.finished));
    }
    if (now_.trouble != noted_trouble_) {
        noted_trouble_ = now_.trouble;
        journal_->note("trouble", noted_trouble_.empty() ? "over" : noted_trouble_);
    }
}

void Observation::freeze() {
    if (frozen_) return;
    frozen_ = true;
    journal_->note("frozen", fmt::format("{}", replay().step()));
}

void Observation::freeze_at(std::int64_t step) {
    replay().seek(std::min(step, std::max(replay().built(), replay().step())));
    moment_steps_ = static_cast<double>(replay().step());
    frozen_ = true;
    journal_->note("frozen", fmt::format("{}", replay().step()));
}

void Observation::to_present() {
    if (!frozen_) return;
    frozen_ = false;
    static_cast<void>(replay().build_on(0));  // back to where following came to
    moment_steps_ = static_cast<double>(replay().built());
    journal_->note("present", fmt::format("{}", replay().steps()));
}

void Observation::next_skin() {
    skin_ = skin_ == Skin::cut ? Skin::clear : skin_ == Skin::clear ? Skin::whole : Skin::cut;
}

const char* Observation::skin_words() const {
    return skin_ == Skin::cut ? "See through skin" : skin_ == Skin::clear ? "Close the skin" : "Cut skin open";
}

void Observation::handle(const Input& input, bool over_button) {
    const bool over_view = view_.w > 0.0f && view_.holds(input.mouse);
    if (over_view && (!over_button || input.right_held)) move_camera(camera_, input, view_, settings_, true);
    for (const Key key : input.keys_pressed) {
        if (key == SDLK_k) frozen_ ? to_present() : freeze();
        if (key == SDLK_s) next_skin();
        if (key == SDLK_i) page_ = page_ == kInside ? kPicture : kInside;
        if (key == SDLK_ESCAPE) leave_ = true;
        if ((key == SDLK_f || key == SDLK_g) && view_.h > 0.0f) {
            const double aspect = static_cast<double>(view_.w / view_.h);
            look_from(camera_, key == SDLK_f ? scene_.whole(aspect) : scene_.work(aspect), settings_);
        }
    }
}

view::DrawList Observation::draw_list(double aspect) {
    if (!placed_) {
        camera_.place(scene_.work(aspect));
        placed_ = true;
    }
    view::SceneOptions options;
    options.cutaway = skin_ == Skin::cut;
    options.structures = skin_ == Skin::clear;
    options.kinds = settings_.kinds;
    if (skin_ == Skin::clear) options.opacity[0] = 0.42f;
    scene_.follow_visit(replay().state(), replay().recording().events);
    return scene_.draw(replay().state(), replay().tracks_closed(), camera_, aspect, options);
}

const sim::TraceRow* Observation::row_now() const {
    const auto& rows = replay().recording().rows;
    const auto after = std::upper_bound(rows.begin(), rows.end(), replay().step(),
                                        [](std::int64_t at, const sim::TraceRow& row) { return at < row.step; });
    return after == rows.begin() ? nullptr : &*(after - 1);
}

std::size_t Observation::since_frozen() const {
    return happenings_.all().size() - happenings_.count_by(replay().step());
}

}  // namespace app
