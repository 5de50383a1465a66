#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <glad/gl.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "engine/app/app.hpp"
#include "engine/files/places.hpp"
#include "engine/files/scenario.hpp"
#include "engine/files/script.hpp"
#include "engine/gl/check.hpp"
#include "engine/session/prepare.hpp"
#include "engine/view/head_look.hpp"
#include "engine/view/portrait.hpp"

/// Pictures without a person: of every screen, and of a patient alone.

namespace app {

void App::load_now(const std::string& id) {
    last_id_ = id;
    Prepared prepared = library_.prepare(
        id, false, mode(),
        {options_.variant ? session::VariantWish::same : session::VariantWish::as_written, options_.variant, 0},
        [](double, std::string_view) {});
    // a picture of the patient as they sit needs none, unless a thread is pulled
    if (!options_.position && !pulls_threads(options_.script)) prepared.tissue = {};
    begin_practice(std::move(prepared));
    if (options_.position) practice_->place_patient(*options_.position);
}

/// A patient as the renderer shows one, without anything inside: for looking at skin and cloth.
int App::portrait() {
    const files::SourceText source = files::load_source(data_ / "scenarios/patients" / (options_.portrait + ".json"));
    const view::HeadLook look =
        view::build_head_look(files::parse_patient(source, options_.portrait), session::two_threads(), {});
    const view::Camera camera(view::portrait_pose(options_.azimuth_deg.value_or(45.0) * sim::kPi / 180.0,
                                                  options_.view == "work" ? 0.55 : 1.0));
    const view::DrawList list = view::portrait(look, camera, static_cast<double>(window_.width()) / window_.height());
    const view::QualityStep& quality = view::quality_step(std::max(0, options_.quality));
    canvas_ = gl::Canvas(window_.width(), window_.height(), quality.samples);
    canvas_.bind();
    renderer_.begin();
    renderer_.draw(list, quality.fine_shading ? gl::Shading::fine : gl::Shading::lean);
    canvas_.show(0, 0, 0, window_.width(), window_.height());
    gl::write_png(gl::read_picture(window_.width(), window_.height()), options_.picture.string());
    return 0;
}

/// What a still of the debrief is asked to show.
void App::arrange_debrief() {
    if (options_.loss > 0) debrief_->select(options_.loss);
    debrief_->set_page(static_cast<std::size_t>(options_.page));
    debrief_->set_beside(static_cast<std::size_t>(options_.beside));
    debrief_->set_layers(options_.layers);
    if ((!options_.replay.empty() || rating_) && options_.at_s) debrief_->set_time(*options_.at_s);
    debrief_->settle_skin();
    while (debrief_->busy()) {
        SDL_Delay(5);
        static_cast<void>(debrief_->advance(0.0));
    }
}

int App::picture() {
    if (!options_.portrait.empty()) return portrait();
    shelf_->wait();
    static const std::map<std::string, Screen> kPlain{{"start", Screen::start},       {"past", Screen::past},
                                                      {"settings", Screen::settings}, {"progress", Screen::progress},
                                                      {"learners", Screen::learners}, {"sessions", Screen::sessions},
                                                      {"rating", Screen::rating}};
    if (!options_.author.empty()) {
        begin_authoring();
        if (options_.page > 0) authoring_->choose_section(static_cast<std::size_t>(options_.page - 1));
        while (authoring_->busy()) {
            SDL_Delay(5);
            static_cast<void>(authoring_->advance(0.005));
        }
    }
    if (!options_.rate.empty()) rating_ = std::make_shared<RatingDesk>(options_.rate);
    const auto plain = kPlain.find(options_.screen);
    if (authoring_) {
        screen_ = Screen::authoring;
    } else if (!options_.observe.empty()) {
        begin_observing();
        observer_->read_now();
        if (options_.screen != "observing") observer_->watch_now(settings_.now());
        if (Observation* one = observer_->watched(); one != nullptr && options_.at_s)
            one->freeze_at(std::llround(*options_.at_s / sim::kStepS));
    } else if (options_.screen == "cohort") {
        begin_cohort();
        while (cohort_->busy()) {
            SDL_Delay(5);
            static_cast<void>(cohort_->advance());
        }
    } else if (plain != kPlain.end()) {
        past_ = shelf_->attempts();
        read_sessions();
        go_to(plain->second);
    } else if (rating_) {
        const std::filesystem::path file = rating_->folder.attempt(rating_->entry);
        DebriefMaterial material = load_debrief(session::open_attempt(file), file, [](double, std::string_view) {});
        material.rating = rating_;
        begin_debrief(std::move(material));
        arrange_debrief();
    } else if (!options_.replay.empty()) {
        begin_debrief(load_debrief(open_to_look(options_.replay), options_.replay, [](double, std::string_view) {}),
                      "replay ");
        arrange_debrief();
    } else {
        load_now(options_.scenario);
        practice_->set_view(options_.view == "whole",
                            glm::dvec2(options_.azimuth_deg.value_or(0.0), options_.elevation_deg) * sim::kPi / 180.0);
        play_script();
        practice_->settle_skin();
        if (options_.final_shape) practice_->settle_shape();
        practice_->show_aid(kAidVessels, options_.vessels);
        practice_->show_aid(kAidSection, options_.over == "section");
        practice_->take_probe(options_.over == "probe");
        if (options_.over == "settings") practice_->open_settings();
        if (options_.screen == "score") {
            begin_score();
            arrange_debrief();
        }
    }
    // the first frames settle fonts, where things go, and how long lists are
    for (int i = 0; i < 4 || patient_unsettled_; ++i) draw();
    gl::write_png(gl::read_picture(window_.width(), window_.height()), options_.picture.string());
    for (const Misfit& misfit : ui_.misfits()) std::fprintf(stderr, "text %s\n", line_of(misfit).c_str());
    return 0;
}

/// Whether a script asks the tissue about threads or the other hand.
bool App::pulls_threads(const std::filesystem::path& script) {
    if (script.empty()) return false;
    const auto about_threads = [](const files::TimedCommand& timed) {
        const sim::Verb verb = timed.command.verb;
        return verb == sim::Verb::traction || verb == sim::Verb::stroke || verb == sim::Verb::touch;
    };
    const files::Script loaded = files::load_script(files::find_script(script.string()));
    return std::any_of(loaded.commands.begin(), loaded.commands.end(), about_threads);
}

void App::play_script() {
    if (options_.script.empty()) return;
    const files::Script script = files::load_script(files::find_script(options_.script.string()));
    const std::int64_t end = options_.at_s ? std::llround(*options_.at_s / sim::kStepS) : script.steps;
    practice_->play(script.commands, end);
}

}  // namespace app
