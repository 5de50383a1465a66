#include "engine/app/app.hpp"
#include "engine/files/places.hpp"

/// A school's records in the trainer's window.

namespace app {

void App::begin_cohort() {
    const std::string place =
        options_.records.empty() ? (files::all_learners_folder() / "records.db").string() : options_.records;
    cohort_ = std::make_unique<CohortDesk>(
        place,
        [entries = library_.entries()](const std::string& id) {
            for (const Entry& entry : entries)
                if (entry.id == id) return entry.title;
            return id;
        },
        journal_);
    go_to(Screen::cohort);
}

void App::draw_cohort_screen() {
    if (!draw_cohort(ui_, *cohort_).back) return;
    cohort_.reset();  // who logged in is forgotten
    go_to_start();
}

}  // namespace app
