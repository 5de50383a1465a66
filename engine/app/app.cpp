#include "engine/app/app.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>
#include <glad/gl.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <random>
#include <stdexcept>

#include "engine/files/places.hpp"
#include "engine/gl/check.hpp"
#include "engine/language/language.hpp"

namespace app {

namespace {

using Clock = std::chrono::steady_clock;

constexpr int kIdleMs = 12;     // between looks at the clock while nothing moves
constexpr double kSlow = 0.95;  // say so when simulated time falls behind

double seconds_since(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

/// Of view::quality_step: what a processor that draws can afford.
int quality_best(const gl::Window& window) { return window.software() ? 2 : 0; }

/// @throws std::runtime_error naming the learners there are
std::string id_of(const files::LearnerList& learners, const std::string& name) {
    std::string names;
    for (const files::Learner& learner : learners.all()) {
        if (learner.name == name) return learner.id;
        names += (names.empty() ? "" : ", ") + learner.name;
    }
    throw std::runtime_error("--learner: no learner " + name + "; accepted: " + names);
}

gl::WindowOptions window_options(const Options& options) {
    const bool still = !options.picture.empty() || options.frames > 0;
    return {"Planekeeper", options.width, options.height, !still};
}

}  // namespace

App::App(const Options& options)
    : options_(options),
      journal_(options.journal),
      data_(files::shipped_folder()),
      window_(window_options(options)),
      renderer_(data_ / "assets/shaders"),
      quality_(quality_best(window_), view::kQualitySteps - 1),
      ui_(data_ / "assets/fonts.json", window_.software()),
      settings_(settings_file()),
      instruments_(load_instruments(data_ / "assets/instruments")),
      library_() {
    if (!options.learner.empty()) work_as(id_of(learners_, options.learner));
    open_records();
    apply_settings();
    for (const std::string& trouble : {instruments_.trouble, settings_.trouble()}) {
        if (trouble.empty()) continue;
        trouble_ = trouble;
        journal_.note("trouble", trouble_);
    }
    if (options.quality >= 0) quality_.hold(options.quality);
    journal_.note("graphics", window_.renderer());
}

/// Beside the cautions: only what touches the attempt.
std::string App::status() const {
    if (screen_ == Screen::score) return debrief_->variant_words();
    if (const auto left_s = slot_left_s(); left_s && practice_) {
        const int whole_s = std::max(0, static_cast<int>(std::ceil(*left_s)));
        return fmt::format("{}:{:02} min left", whole_s / 60, whole_s % 60);
    }
    return practice_ && !practice_->prepared().not_kept.empty() ? "this attempt is not kept" : "";
}

/// What this machine lacks or does more slowly, for the settings.
std::string App::machine_words() const {
    std::string out = devices_;
    const auto add = [&out](const std::string& words) { out += (out.empty() ? "" : ", ") + words; };
    if (practice_ && quality_.step() != quality_best(window_))
        add(std::string(view::quality_step(quality_.step()).words));
    if (practice_ && practice_->real_time_factor() < kSlow)
        add(fmt::format("runs at {:.0f} % of real time", 100.0 * practice_->real_time_factor()));
    return out;
}

std::string App::title_of(const std::string& id) const {
    for (const Entry& entry : library_.entries())
        if (entry.id == id) return entry.title;
    return id;
}

void App::go_to(Screen screen, const std::string& detail) {
    static constexpr const char* kNames[] = {"start",     "loading",   "practice", "score",    "past",
                                             "settings",  "progress",  "learners", "sessions", "rating",
                                             "authoring", "observing", "cohort"};
    ui_.clear_focus();
    input_.keys_pressed.clear();  // the key that led here is none of this screen's
    screen_ = screen;
    const std::string name = kNames[static_cast<int>(screen)];
    journal_.note("screen", detail.empty() ? name : name + " " + detail);
    noted_places_.clear();
    noted_misfits_.clear();
    // arrows steer an instrument, and in a debrief move time and the selection
    ui_.set_arrows_move_focus(screen != Screen::practice && screen != Screen::score);
}

/// Neither controller nor sound is needed; both are looked for so that a person knows.
void App::look_for_devices() {
    std::string missing;
    if (!controller_ || !controller_->there()) missing = "no controller";
    if (!sound_ || !sound_->there()) missing += missing.empty() ? "no sound device" : ", no sound device";
    if (missing == devices_) return;
    devices_ = missing;
    journal_.note("devices", devices_.empty() ? "all" : devices_);
}

/// Sound and rumble for what the hands do now.
void App::give_senses() {
    if (!sound_ || !controller_) return;
    if (!practice_ || screen_ != Screen::practice || practice_->settings_open()) {
        controller_->rumble({});
        return sound_->set({});
    }
    sound_->set(practice_->sounding());
    for (const sim::Event& event : practice_->take_heard())
        if (Click click{}; click_of(event, practice_->depth_told(), click)) sound_->click(click);
    controller_->rumble(practice_->rumble());
}

void App::apply_settings() {
    if (sound_) sound_->set_volume(0.01 * settings_.now().volume_percent);
    const int percent = options_.text_percent.value_or(settings_.now().text_percent);
    ui_.set_text_scale(static_cast<float>(percent) / 100.0f);
}

/// What is set by hand holds from then on instead of what the command line asked for.
void App::heed_settings(AfterSettings after) {
    if (after == AfterSettings::resized) options_.text_percent.reset();
    apply_settings();
}

void App::go_to_start() {
    in_slot_.reset();
    shelf_->refresh();
    go_to(Screen::start);
}

void App::show_past(const std::filesystem::path& file) {
    trouble_.clear();
    try {
        begin_replay(file);
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
    }
}

/// Graded work hides its anatomy: it is drawn anew, unless the scenario is about one course.
session::VariantAsked App::asked_for(const std::string& id, session::VariantWish wish) const {
    session::VariantAsked out{wish, std::nullopt,
                              (std::uint64_t{std::random_device{}()} << 32) | std::random_device{}()};
    const auto entry = std::find_if(library_.entries().begin(), library_.entries().end(),
                                    [&](const Entry& one) { return one.id == id; });
    if (mode() == sim::PracticeMode::graded)
        out.wish = entry != library_.entries().end() && entry->variant_seed == 0 ? session::VariantWish::another
                                                                                 : session::VariantWish::as_written;
    if (const Standing standing = standing_of(past_, id); standing.last) out.before = standing.last->variant_seed;
    if (screen_ == Screen::score)
        out.before = debrief_->variant_seed();  // of the attempt that is looked at
    else if (wish == session::VariantWish::same && options_.variant)
        out.before = options_.variant;
    return out;
}

/// Graded work is not where one first meets a device.
bool App::must_get_used_to_it(sim::PracticeMode how) {
    if (how != sim::PracticeMode::graded || !controller_ || !controller_->there()) return false;
    shelf_->wait();
    if (!is_new(sim::Device::controller, shelf_->attempts())) return false;
    trouble_ =
        "The controller is new here. Take the first lesson with it, coached, before a graded attempt; or unplug it.";
    journal_.note("trouble", trouble_);
    return true;
}

void App::begin_loading(const std::string& id, session::VariantWish wish) {
    trouble_.clear();
    if (must_get_used_to_it(mode())) return go_to_start();
    last_id_ = id;
    loading_ =
        std::make_unique<Job<Prepared>>([this, id, mode = mode(), asked = asked_for(id, wish)](const auto& progress) {
            Prepared prepared = library_.prepare(id, true, mode, asked, progress);
            shelf_->wait();  // coaching hangs on what was passed so far
            return prepared;
        });
    go_to(Screen::loading, id);
}

void App::open_records() {
    shelf_ = std::make_unique<AttemptShelf>(files::user_data_folder() / "attempts", files::ledger_path());
    shelf_changes_ = 0;
    past_.clear();
    shelf_->refresh();
    learner_name_ = learners_.all().size() > 1 ? learners_.now().name : "";
    // English where a catalogue cannot be used, which main() has told of
    if (options_.language.empty()) static_cast<void>(language::choose(settings_.now().language));
}

/// Settings and attempts are another's from here on.
void App::work_as(const std::string& learner_id) {
    learners_.work_as(learner_id);
    settings_ = SettingsKeeper(settings_file());
    journal_.note("learner", learners_.now().name);
}

void App::heed_learners(const LearnersChoice& choice) {
    if (!choice.work_as && !choice.add && !choice.rename) return;
    learner_form_.trouble.clear();
    try {
        if (choice.add) {
            learners_.add(learner_form_.added);
            learner_form_.added.clear();
            settings_ = SettingsKeeper(settings_file());
        } else if (choice.rename) {
            learners_.rename_now(learner_form_.renamed);
            learner_form_.renamed.clear();
        } else {
            work_as(*choice.work_as);
        }
    } catch (const std::exception& error) {
        learner_form_.trouble = error.what();
        journal_.note("trouble", learner_form_.trouble);
    }
    open_records();
    apply_settings();
}

StartView App::start_view() const {
    const bool new_controller = controller_ && controller_->there() && is_new(sim::Device::controller, past_);
    return {library_.entries(), past_,
            trouble_,           mode(),
            variant_,           next_step(library_.entries(), past_, std::time(nullptr), new_controller),
            learner_name_,      stations_.empty() ? "" : stations_.front().session().plan.title};
}

void App::go_on_with(const std::filesystem::path& file) {
    trouble_.clear();
    loading_ = std::make_unique<Job<Prepared>>(
        [this, file](const auto& progress) { return library_.take_up(file, progress); });
    go_to(Screen::loading, "go on");
}

void App::begin_practice(Prepared prepared) {
    debrief_.reset();  // its tissue goes before another is built
    const sim::PracticeMode how = in_slot_          ? sim::PracticeMode::graded
                                  : prepared.before ? prepared.before->header.mode
                                                    : mode();
    // a picture shows a patient as a first attempt does
    const Coaching coaching = options_.picture.empty()
                                  ? coaching_after(passes_of(shelf_->attempts(), prepared.model->scenario.id))
                                  : Coaching{};
    try {
        practice_ = std::make_unique<Practice>(std::move(prepared), instruments_.models, how, coaching, settings_.now(),
                                               journal_);
    } catch (const std::runtime_error& error) {
        practice_.reset();
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
        return go_to_start();
    }
    last_id_ = practice_->prepared().model->scenario.id;
    go_to(Screen::practice, practice_->prepared().model->scenario.id);
    if (practice_->prepared().close_attempt) journal_.note("recording", practice_->prepared().attempt_file.string());
}

/// Close the record or leave it open, and say so if it could not be kept.
void App::leave_practice(Leaving how) {
    const Prepared& prepared = practice_->prepared();
    trouble_ = prepared.not_kept;
    if (prepared.close_attempt) {
        trouble_ = how == Leaving::parked ? prepared.park_attempt() : prepared.close_attempt(how == Leaving::finished);
        journal_.note("attempt", prepared.attempt_file.string());
    }
    if (!trouble_.empty()) journal_.note("trouble", trouble_);
    // how smooth it was, from an event taken to its picture shown, with everything that ran meanwhile
    if (!practice_frames_.empty())
        journal_.note("frame_ms",
                      fmt::format("{} longest {:.1f}", practice_frames_.words(), practice_frames_.longest_ms()));
    practice_frames_ = {};
    practice_.reset();
    shelf_->refresh();
}

files::LoadedAttempt App::open_to_look(const std::filesystem::path& file) {
    files::LoadedAttempt attempt = session::open_attempt(file, files::ledger_path());
    if (!attempt.report.finished && attempt.header.mode == sim::PracticeMode::graded)
        throw std::runtime_error(file.string() + " is graded and not finished: it is shown once it is.");
    return attempt;
}

/// A recorded attempt, scored by this build from its record.
void App::begin_replay(const std::filesystem::path& file) {
    files::LoadedAttempt attempt = open_to_look(file);
    replay_loading_ = std::make_unique<Job<DebriefMaterial>>(
        [file, attempt = std::move(attempt)](const auto& progress) { return load_debrief(attempt, file, progress); });
    go_to(Screen::loading, "replay");
}

void App::begin_debrief(DebriefMaterial material, const std::string& kind) {
    last_id_ = material.replay->recording().scenario_id;
    std::vector<std::filesystem::path> earlier;
    for (const PastAttempt& attempt : shelf_->attempts())
        if (attempt.scenario == last_id_ && may_be_shown(attempt) && attempt.file != material.file)
            earlier.push_back(attempt.file);
    debrief_ = std::make_unique<Debrief>(std::move(material), instruments_.models, std::move(earlier), settings_.now(),
                                         journal_);
    if (rating_) return go_to(Screen::score, "rating " + rating_->sheet().code);
    const sim::Score& score = debrief_->score();
    go_to(Screen::score,
          fmt::format("{}{} {:.1f} of {:.1f}", kind, sim::name_of(score.verdict), score.total_points, score.total_of));
}

void App::begin_score() {
    const Prepared& prepared = practice_->prepared();
    DebriefMaterial material;
    material.replay =
        std::make_shared<session::Replay>(prepared.model, practice_->tape(), practice_->session().recording());
    material.rubric = prepared.rubric;
    material.look = prepared.look;
    material.file = prepared.attempt_file;
    material.patient_hash = prepared.patient_hash;
    material.tissue = practice_->tissue();
    leave_practice(Leaving::finished);
    begin_debrief(std::move(material));
    if (!trouble_.empty()) debrief_->say("This attempt is not complete on the disk. Go back to the list to see why.");
}

/// Two pages, written beside the attempts.
void App::save_paper() {
    try {
        const std::filesystem::path file = write_debrief_paper(*debrief_, renderer_);
        journal_.note("paper", file.string());
        debrief_->say("The debrief on paper is " + file.string());
    } catch (const std::exception& error) {
        journal_.note("trouble", error.what());
        debrief_->say(std::string("Not written: ") + error.what());
    }
}

/// Go on with what a job has made, or back to the start with what went wrong.
template <typename Result, typename Then>
void App::settle(std::unique_ptr<Job<Result>>& job, Then then) {
    if (!job || !job->done()) return;
    const auto ended = std::move(job);
    try {
        then(ended->take());
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
        if (!rating_) return go_to_start();
        rating_->trouble = trouble_;
        go_to(Screen::rating);
    }
}

bool App::update(double elapsed_s) {
    switch (screen_) {
        case Screen::start:
        case Screen::progress:
        case Screen::learners:
        case Screen::sessions:
        case Screen::rating:
        case Screen::past: {
            const bool changed = shelf_changes_ != shelf_->changes();
            if (changed) {
                shelf_changes_ = shelf_->changes();
                past_ = shelf_->attempts();
                journal_.note("attempts", fmt::format("{}", past_.size()));
            }
            return changed || input_.any;
        }
        case Screen::settings:
            return input_.any;
        case Screen::authoring:
            return advance_authoring(elapsed_s) || input_.any;
        case Screen::observing:
            return observe(elapsed_s);
        case Screen::cohort:
            return cohort_->advance() || input_.any;
        case Screen::score: {
            const bool typing = ui_.focused(kCommentField);
            const DebriefWish wish = debrief_->handle(input_, over_button_, typing);
            if (typing && input_.pressed(SDLK_ESCAPE)) ui_.clear_focus();
            const bool changed = debrief_->advance(elapsed_s);
            if (wish == DebriefWish::library && rating_) {
                go_to(Screen::rating);
                return true;
            }
            if (wish == DebriefWish::library) go_to_start();
            if (wish == DebriefWish::again) begin_loading(last_id_, session::VariantWish::same);
            if (wish == DebriefWish::another) begin_loading(last_id_, session::VariantWish::another);
            if (wish == DebriefWish::paper) save_paper();
            return changed || input_.any;
        }
        case Screen::loading:
            settle(loading_, [this](Prepared prepared) { begin_practice(std::move(prepared)); });
            settle(replay_loading_,
                   [this](DebriefMaterial material) { begin_debrief(std::move(material), "replay "); });
            return true;
        case Screen::practice: {
            practice_->handle(input_, over_button_, ui_.has_focus());
            const bool changed = practice_->advance(elapsed_s, input_);
            const bool time_is_up = slot_left_s().value_or(1.0) <= 0.0;
            if (time_is_up) journal_.note("slot", "time is up");
            if (in_slot_ && (practice_->wants_to_leave() || practice_->finished() || time_is_up)) {
                leave_practice(practice_->finished() ? Leaving::finished : Leaving::given_up);
                end_slot();
            } else if (practice_->wants_to_leave()) {
                // graded work has one attempt, and who leaves has had it
                leave_practice(practice_->mode() == sim::PracticeMode::graded ? Leaving::given_up : Leaving::parked);
                go_to_start();
            } else if (practice_->finished()) {
                begin_score();
            }
            return changed || input_.any;
        }
    }
    return false;
}

int App::run() {
    controller_ = std::make_unique<Controller>();
    sound_ = std::make_unique<Sound>();
    apply_settings();
    look_for_devices();
    if (!options_.session.empty()) static_cast<void>(graded::Station::take_in(options_.session));
    // which makes what a station lacks: whoever looks on writes nothing
    if (options_.observe.empty()) read_sessions();
    if (!options_.rate.empty()) rating_ = std::make_shared<RatingDesk>(options_.rate);
    if (!options_.observe.empty())
        begin_observing();
    else if (rating_)
        go_to(Screen::rating);
    else if (!options_.author.empty())
        begin_authoring();
    else if (!options_.records.empty())
        begin_cohort();
    else if (!options_.session.empty())
        go_to(Screen::sessions);
    else if (!options_.replay.empty())
        begin_replay(options_.replay);
    else if (!options_.scenario.empty())
        begin_loading(options_.scenario,
                      options_.variant ? session::VariantWish::same : session::VariantWish::as_written);
    else
        go_to(Screen::start);
    show_frame();
    auto last = Clock::now();
    bool changed = false;
    while (true) {
        poll(input_, changed ? 0 : kIdleMs);
        input_.pad = controller_->poll();
        input_.any = input_.any || input_.pad.any();
        if (input_.quit) break;
        const double elapsed_s = seconds_since(last);
        last = Clock::now();
        // a frame that led to another screen, or that found out how long its panels are, is followed by the next one
        changed =
            update(elapsed_s) || input_.resized || ui_.unsettled() || patient_unsettled_ || drawn_screen_ != screen_;
        if (!changed) continue;
        show_frame();
        if (screen_ == Screen::practice) practice_frames_.add(1000.0 * seconds_since(last));
    }
    if (practice_) leave_practice(Leaving::parked);
    authoring_.reset();  // what was written is kept
    journal_.note("closed");
    observer_.reset();  // its threads are told to end
    // a window that is closed is not held open by work of which nobody will see the result: what that work puts on
    // the disk, it puts there whole or not at all
    if (loading_ || replay_loading_ || session::ending_threads().any() ||
        (debrief_ && (debrief_->busy() || debrief_->tissue_comes())))
        std::quick_exit(0);
    return 0;
}

}  // namespace app
