#include "engine/app/observer.hpp"

#include <fmt/format.h>

#include <chrono>
#include <thread>
#include <utility>

#include "engine/app/screens.hpp"

namespace app {

Observer::Observer(std::filesystem::path folder, std::shared_ptr<const view::InstrumentModels> instruments,
                   Journal& journal)
    : folder_(std::move(folder)), instruments_(std::move(instruments)), journal_(&journal), list_(folder_) {}

void Observer::note_screen(const std::string& name) { journal_->note("screen", "observing " + name); }

void Observer::watch(std::size_t row) {
    if (row >= rows_.rows.size() || rows_.rows[row].refused) return;
    const ObservedRow& one = rows_.rows[row];
    trouble_.clear();
    title_ = one.title;
    const std::string learner = one.station.empty() ? one.learner : one.station + ", " + one.learner;
    loading_ = std::make_unique<Job<ObservedMaterial>>(
        [file = one.file, learner](const auto& progress) { return load_observed(file, learner, progress); });
    note_screen("loading");
}

/// Go on with what the way to an attempt has made, or back to the list with what went wrong.
void Observer::settle(const Settings& settings) {
    if (!loading_ || !loading_->done()) return;
    const auto ended = std::move(loading_);
    try {
        watched_ = std::make_unique<Observation>(ended->take(), instruments_, settings, *journal_);
        note_screen("attempt");
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_->note("trouble", trouble_);
        note_screen("list");
    }
}

bool Observer::update(double elapsed_s, const Input& input, bool over_button, const Settings& settings) {
    if (watched_) {
        watched_->handle(input, over_button);
        const bool changed = watched_->advance(elapsed_s);
        if (!watched_->take_leave()) return changed || input.any;
        watched_.reset();
        came_back_ = true;
        note_screen("list");
        return true;
    }
    if (loading_) {
        settle(settings);
        return true;
    }
    if (looks_ == list_.looks()) return input.any;
    looks_ = list_.looks();
    rows_ = list_.rows();
    std::string rows;
    for (const ObservedRow& row : rows_.rows)
        rows += fmt::format(" {} {}", row.file.filename().string(), standing_words(row.standing, row.finished));
    if (rows != noted_rows_) journal_->note("observed rows", fmt::format("{}{}", rows_.rows.size(), rows));
    noted_rows_ = rows;
    return true;
}

void Observer::draw_screen(Ui& ui) {
    if (watched_) return watched_->draw_screen(ui);
    if (loading_) return draw_loading(ui, title_, loading_->fraction(), loading_->what());
    const ObservedChoice choice = draw_observed(ui, {folder_, rows_, trouble_});
    // the key that left an attempt does not leave the list, too
    leave_ = !std::exchange(came_back_, false) && choice.back;
    if (choice.watch) watch(*choice.watch);
}

void Observer::read_now() {
    while (list_.looks() == 0) std::this_thread::sleep_for(std::chrono::milliseconds(5));
    rows_ = list_.rows();
}

void Observer::watch_now(const Settings& settings) {
    watch(0);
    while (loading_) {
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
        settle(settings);
    }
}

}  // namespace app
