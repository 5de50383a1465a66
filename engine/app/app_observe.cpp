#include "engine/app/app.hpp"

/// An instructor who looks on while others work, in the trainer's window.

namespace app {

void App::begin_observing() {
    observer_ = std::make_unique<Observer>(options_.observe, instruments_.models, journal_);
    go_to(Screen::observing, "list");
}

bool App::observe(double elapsed_s) {
    const bool changed = observer_->update(elapsed_s, input_, over_button_, settings_.now());
    if (!observer_->wants_to_leave()) return changed;
    observer_.reset();
    read_sessions();  // whoever goes to the trainer's start observes no more
    go_to_start();
    return true;
}

}  // namespace app
