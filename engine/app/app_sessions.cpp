#include <fmt/format.h>

#include <ctime>

#include "engine/app/app.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"

/// Graded sessions in the trainer: from a slot to its attempt, and what is handed in.

namespace app {

namespace {

using Clock = std::chrono::steady_clock;

const graded::Slot& slot_in(const graded::Station& station, const std::string& id) {
    const graded::Slot* slot = station.session().slot(id);
    if (slot == nullptr) throw std::runtime_error("no slot " + id + " in this session");
    return *slot;
}

}  // namespace

void App::read_sessions() {
    std::vector<std::string> trouble;
    stations_ = graded::Station::all(&trouble);
    if (!trouble.empty()) {
        trouble_ = trouble.front();
        journal_.note("trouble", trouble_);
    }
}

void App::draw_sessions_screen() {
    const files::PublicKey learner = files::load_or_create_keys().public_key;
    const std::string keys = fmt::format("Key of the learner: {}\nKey of this machine: {}", files::hex(learner),
                                         files::hex(graded::station_key().public_key));
    const SessionsChoice choice = draw_sessions(ui_, {stations_, learner, keys, trouble_, handed_in_});
    if (choice.back) return go_to_start();
    if (choice.hand_in) hand_in(choice.station);
    if (!choice.slot.empty()) begin_slot(choice.station, choice.slot);
}

void App::begin_slot(std::size_t station, const std::string& slot) {
    trouble_.clear();
    handed_in_.clear();
    if (must_get_used_to_it(sim::PracticeMode::graded)) return;
    try {
        graded::Station& here = stations_[station];
        const graded::Slot& one = slot_in(here, slot);
        const std::filesystem::path file = here.attempt_file(one);
        const bool begun = std::filesystem::exists(file);
        if (begun && files::verify(file).finished) return here.end(one);  // stopped before its end was counter-signed
        here.begin(one);
        in_slot_ = InSlot{station, slot, std::nullopt};
        if (const auto left_s = here.left_s(one, std::time(nullptr)))
            in_slot_->ends = Clock::now() + std::chrono::milliseconds(std::llround(1000.0 * *left_s));
        last_id_ = here.session().form_of(one).scenario.id;
        loading_ = std::make_unique<Job<Prepared>>([this, here, one, file, begun](const auto& progress) {
            return begun ? library_.take_up(file, progress) : library_.prepare_slot(here, one, progress);
        });
        go_to(Screen::loading, begun ? "go on" : "slot");
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
        in_slot_.reset();
    }
}

std::optional<double> App::slot_left_s() const {
    if (!in_slot_ || !in_slot_->ends) return std::nullopt;
    return std::chrono::duration<double>(*in_slot_->ends - Clock::now()).count();
}

/// Its end is counter-signed, and whoever made it sees what is left to do: results come from the instructor.
void App::end_slot() {
    const InSlot ended = *std::exchange(in_slot_, std::nullopt);
    try {
        graded::Station& station = stations_[ended.station];
        station.end(slot_in(station, ended.slot));
        journal_.note("slot", "ended " + ended.slot);
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
    }
    go_to(Screen::sessions);
}

void App::hand_in(std::size_t station) {
    try {
        graded::Station& here = stations_[station];
        const std::filesystem::path file =
            files::all_learners_folder() / fmt::format("session-{}.returned", here.session().id.substr(0, 8));
        files::write_atomically(file, here.hand_in());
        handed_in_ = file.string();
        journal_.note("handed_in", handed_in_);
        patient_unsettled_ = true;  // drawn again with it
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
    }
}

void App::draw_rating_screen() {
    const RatingChoice choice = draw_rating_list(ui_, *rating_);
    if (choice.open) return begin_rating(*choice.open);
    if (!choice.back) return;
    rating_.reset();  // whoever goes to the trainer's start rates no more
    go_to_start();
}

/// A replay without whatever tells whose it is or what the program gave for it.
void App::begin_rating(std::size_t entry) {
    rating_->trouble.clear();
    try {
        const std::filesystem::path file = rating_->folder.attempt(entry);
        files::LoadedAttempt attempt = session::open_attempt(file);
        rating_->entry = entry;
        rating_->item = 0;
        rating_->typed.clear();
        replay_loading_ = std::make_unique<Job<DebriefMaterial>>(
            [file, desk = rating_, attempt = std::move(attempt)](const auto& progress) {
                DebriefMaterial material = load_debrief(attempt, file, progress);
                material.rating = desk;
                return material;
            });
        go_to(Screen::loading, "rating");
    } catch (const std::exception& error) {
        rating_->trouble = error.what();
        journal_.note("trouble", rating_->trouble);
    }
}

}  // namespace app
