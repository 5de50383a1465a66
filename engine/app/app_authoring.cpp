#include "engine/app/app.hpp"

/// Writing cases in the trainer: the desk, and what the rest of the program hears of it.

namespace app {

void App::begin_authoring() {
    trouble_.clear();
    try {
        authoring_ = std::make_unique<AuthoringDesk>(drafts_folder(), library_.entries());
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
        return go_to(Screen::start);
    }
    if (!options_.author.empty()) authoring_->open(std::exchange(options_.author, ""), options_.scenario);
    go_to(Screen::authoring);
}

bool App::advance_authoring(double elapsed_s) {
    const bool changed = authoring_->advance(elapsed_s);
    for (const std::string& note : authoring_->take_notes()) journal_.note("authoring", note);
    if (authoring_->take_published()) library_ = Library();
    return changed;
}

void App::draw_authoring_screen() {
    if (!authoring_->draw_screen(ui_, settings_.now())) return;
    authoring_.reset();
    go_to_start();
}

}  // namespace app
