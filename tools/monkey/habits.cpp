#include "tools/monkey/habits.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

namespace monkey {

namespace {

constexpr std::array kKeys{"w",     "a",      "s",        "d",      "q",         "e",         "x",    "c",     "v",
                           "t",     "b",      "n",        "i",      "o",         "f",         "g",    "k",     "l",
                           "p",     "r",      "m",        "z",      "1",         "2",         "3",    "4",     "9",
                           "0",     "Up",     "Down",     "Left",   "Right",     "Home",      "End",  "Prior", "Next",
                           "Tab",   "Return", "KP_Enter", "space",  "BackSpace", "Delete",    "F1",   "F5",    "F11",
                           "minus", "comma",  "slash",    "Insert", "Shift_L",   "Control_L", "Alt_L"};
constexpr std::array kSteering{"w", "s", "a", "d", "q", "e", "space", "Up", "Down", "Left", "Right", "w", "w", "s"};
constexpr std::array kAids{"c", "v", "t", "b", "n", "i", "f", "g", "x"};
constexpr std::array kDebrief{"Left", "Right", "Up", "Down", "Home", "End", "k", "l",
                              "s",    "i",     "b",  "w",    "p",    "f",   "g"};
constexpr std::array kButtons{1, 1, 1, 2, 3, 3};
constexpr int kSmallestW = 1024, kSmallestH = 640;  // a window's frame keeps people from less

}  // namespace

Habits::Habits(Room& room, std::uint64_t seed, std::filesystem::path attempts)
    : room_(room), random_(seed), attempts_(std::move(attempts)) {}

int Habits::whole(int low, int high) {
    return low + static_cast<int>(random_.next() % static_cast<std::uint64_t>(high - low + 1));
}

void Habits::one_of(std::initializer_list<Weighted> acts) {
    double left = 0.0;
    for (const Weighted& one : acts) left += one.weight;
    left *= random_.uniform();
    for (const Weighted& one : acts)
        if ((left -= one.weight) < 0.0) return (this->*one.act)();
}

namespace {

/// Graded work that is not finished is not shown, and the trainer says so and ends.
bool is_graded(const std::filesystem::path& attempt) {
    std::string first;
    std::ifstream in(attempt);
    std::getline(in, first);
    return first.find("\"mode\":\"graded\"") != std::string::npos;
}

}  // namespace

void Habits::begin() {
    std::string arguments = fmt::format("--size {}x{}", chance(0.7) ? 1280 : whole(kSmallestW, 1500),
                                        chance(0.7) ? 720 : whole(kSmallestH, 900));
    arguments = chance(0.7) ? "--size 1280x720" : arguments;
    if (chance(0.5)) arguments += fmt::format(" --text {}", 100 + 25 * whole(0, 4));
    if (chance(0.4)) arguments += std::array{" --mode coached", " --mode solo", " --mode graded"}[random_.next() % 3];
    std::vector<std::string> kept;
    std::error_code none;
    for (const auto& entry : std::filesystem::directory_iterator(attempts_, none))
        if (entry.path().extension() == ".attempt" && !is_graded(entry.path())) kept.push_back(entry.path().string());
    std::sort(kept.begin(), kept.end());
    if (!kept.empty() && chance(0.2)) arguments += " --replay " + kept[random_.next() % kept.size()];
    room_.start(arguments);
    screen_.clear();
}

/// On a screen that it has just come to, it decides how long it stays.
void Habits::note_screen() {
    if (room_.seen().screen() == screen_) return;
    screen_ = room_.seen().screen();
    fresh_ = screen_ == "practice";
    const int stay_ms = screen_ == "practice" ? whole(10'000, 45'000)
                        : screen_ == "score"  ? whole(8'000, 30'000)
                        : screen_ == "start"  ? whole(300, 3'000)
                                              : whole(1'000, 6'000);
    left_after_ms_ = room_.ms() + stay_ms;
}

void Habits::until_killed() {
    const long end_ms = room_.ms() + whole(6'000, 25'000);
    for (int left = 20'000; room_.ms() < end_ms || room_.seen().screen() != "practice"; --left) {
        if (left == 0) throw Fault("no attempt is begun");
        once();
    }
    kill_and_go_on();
}

void Habits::once() {
    note_screen();
    const bool enough = room_.ms() > left_after_ms_;
    // it begins with a pass more often than not: chance alone seldom finds the way in
    if (std::exchange(fresh_, false) && chance(0.6)) return whole_pass();
    // a loading screen is looked at often
    if (chance(screen_ == "loading" ? 0.0005 : 0.004)) return close_and_begin();
    if (chance(0.02)) return resize();
    if (chance(0.01)) return look_away();
    if (screen_ == "practice" && !enough)
        return one_of({{5, &Habits::steer},
                       {3, &Habits::take_something},
                       {3, &Habits::choose_entry},
                       {3, &Habits::aids},
                       {2, &Habits::whole_pass},
                       {2, &Habits::fine_turn},
                       {2, &Habits::drag},
                       {1, &Habits::wheel},
                       {2, &Habits::click_least_tried},
                       {1, &Habits::click_anywhere},
                       {1, &Habits::walk_focus},
                       {1, &Habits::press_many},
                       {1, &Habits::press_any_key},
                       {1, &Habits::settings_meanwhile},
                       {0.5, &Habits::type},
                       {0.5, &Habits::wander},
                       {0.3, &Habits::let_go_elsewhere},
                       {0.3, &Habits::finish}});
    if (screen_ == "practice") return one_of({{2, &Habits::whole_pass}, {2, &Habits::finish}, {1, &Habits::leave}});
    if (screen_ == "score" && !enough)
        return one_of({{6, &Habits::debrief_key},
                       {6, &Habits::click_least_tried},
                       {3, &Habits::compare},
                       {3, &Habits::scrub},
                       {2, &Habits::drag},
                       {1, &Habits::wheel},
                       {1, &Habits::click_anywhere},
                       {1, &Habits::walk_focus},
                       {1, &Habits::press_many},
                       {1, &Habits::wander},
                       {0.5, &Habits::type},
                       {0.5, &Habits::let_go_elsewhere}});
    if (screen_ == "loading") {
        if (chance(0.5))
            return one_of({{1, &Habits::wander}, {1, &Habits::press_any_key}, {1, &Habits::click_anywhere}});
        return room_.wait(whole(50, 800));
    }
    if (enough && screen_ != "start") return press(chance(0.15) && screen_ == "score" ? "r" : "Escape", 60);
    one_of({{enough ? 12.0 : 4.0, &Habits::click_least_tried},
            {1, &Habits::walk_focus},
            {1, &Habits::wheel},
            {1, &Habits::wander},
            {1, &Habits::page_keys},
            {0.6, &Habits::click_anywhere},
            {0.6, &Habits::press_any_key},
            {0.4, &Habits::drag},
            {0.3, &Habits::type},
            {0.3, &Habits::let_go_elsewhere}});
}

// -- small deeds

void Habits::move(int x, int y) { room_.act({Do::move, x, y, {}}); }
void Habits::button(int number, bool down) { room_.act({down ? Do::button_down : Do::button_up, number, 0, {}}); }
void Habits::key(const std::string& name, bool down) { room_.act({down ? Do::key_down : Do::key_up, 0, 0, name}); }

void Habits::press(const std::string& name, int hold_ms) {
    key(name, true);
    room_.wait(hold_ms);
    key(name, false);
    room_.wait(whole(10, 120));
}

void Habits::click(int x, int y) {
    move(x, y);
    room_.wait(whole(20, 150));
    button(1, true);
    room_.wait(whole(20, 120));
    button(1, false);
    room_.wait(whole(30, 200));
}

Habits::Place Habits::anywhere() {
    const Hands::Size size = room_.hands().window_size();
    return {whole(0, std::max(1, size.width - 1)), whole(0, std::max(1, size.height - 1))};
}

bool Habits::click_named(const std::string& name) {
    for (const Spot& spot : room_.seen().spots())
        if (spot.name == name) {
            ++clicked_[name];
            click(spot.x, spot.y);
            return true;
        }
    return false;
}

// -- on every screen

void Habits::wander() {
    for (int left = whole(2, 12); left > 0; --left) {
        const Place to = anywhere();
        move(to.x, to.y);
        room_.wait(whole(5, 80));
    }
}

/// Of what can be aimed at, one that was clicked least; now and then any.
void Habits::click_least_tried() {
    const std::vector<Spot>& spots = room_.seen().spots();
    const Hands::Size size = room_.hands().window_size();
    std::vector<std::string> least;
    long tries = -1;
    const bool any = chance(0.2), ends_it = chance(0.1);
    for (const Spot& spot : spots) {
        if (spot.name == "practice.finish" && !ends_it) continue;
        if (spot.x < 0 || spot.y < 0 || spot.x >= size.width || spot.y >= size.height) continue;
        const auto at = clicked_.find(spot.name);
        const long tried = any || at == clicked_.end() ? 0 : at->second;
        if (tries >= 0 && tried > tries) continue;
        if (tried < tries || tries < 0) least.clear();
        tries = tried;
        least.push_back(spot.name);
    }
    if (least.empty()) return room_.wait(50);
    click_named(least[random_.next() % least.size()]);
}

void Habits::click_anywhere() {
    const Place at = anywhere();
    click(at.x, at.y);
}

void Habits::let_go_elsewhere() {
    const Place from = anywhere(), to = anywhere();
    move(from.x, from.y);
    button(1, true);
    room_.wait(whole(10, 100));
    move(to.x, to.y);
    if (chance(0.3)) room_.act({Do::blur, 0, 0, {}});
    room_.wait(whole(10, 100));
    button(1, false);
    room_.act({Do::focus, 0, 0, {}});
    room_.wait(50);
}

void Habits::drag() {
    const int held = kButtons[random_.next() % kButtons.size()];
    const std::string with = chance(0.2) ? "Shift_L" : chance(0.2) ? "Control_L" : "";
    Place at = anywhere();
    move(at.x, at.y);
    if (!with.empty()) key(with, true);
    button(held, true);
    for (int left = whole(2, 15); left > 0; --left) {
        at = {at.x + whole(-60, 60), at.y + whole(-60, 60)};
        move(std::max(0, at.x), std::max(0, at.y));
        room_.wait(whole(5, 60));
    }
    button(held, false);
    if (!with.empty()) key(with, false);
    room_.wait(50);
}

void Habits::wheel() {
    const Place at = anywhere();
    move(at.x, at.y);
    const int direction = chance(0.5) ? 4 : 5;
    for (int left = whole(1, 8); left > 0; --left) {
        button(direction, true);
        button(direction, false);
        room_.wait(whole(5, 60));
    }
}

void Habits::press_any_key() { press(kKeys[random_.next() % kKeys.size()], whole(10, 500)); }

void Habits::press_many() {
    std::vector<std::string> held;
    for (int left = whole(2, 5); left > 0; --left) {
        held.emplace_back(kKeys[random_.next() % kKeys.size()]);
        key(held.back(), true);
        room_.wait(whole(0, 40));
    }
    room_.wait(whole(50, 1500));
    for (const std::string& name : held) key(name, false);
    room_.wait(50);
}

void Habits::type() {
    for (int left = whole(3, 20); left > 0; --left) {
        const char letter = static_cast<char>(whole('a', 'z'));
        if (letter == 'r' && screen_ == "score") continue;  // that leaves
        press(std::string(1, letter), whole(5, 30));
    }
}

void Habits::walk_focus() {
    const bool back = chance(0.25);
    if (back) key("Shift_L", true);
    for (int left = whole(1, 15); left > 0; --left) press("Tab", 15);
    if (back) key("Shift_L", false);
    if (chance(0.5))
        for (int left = whole(1, 4); left > 0; --left)
            press(std::array{"Up", "Down", "Left", "Right"}[random_.next() % 4], 20);
    if (chance(0.8)) press(chance(0.5) ? "Return" : "space", 40);
}

void Habits::page_keys() {
    for (int left = whole(1, 4); left > 0; --left)
        press(std::array{"Prior", "Next", "Home", "End", "Up", "Down"}[random_.next() % 6], 30);
}

/// While others go on with what they do.
void Habits::resize() {
    const int most_w = std::min(room_.hands().screen_width(), 1920), most_h = room_.hands().screen_height();
    const bool usual = chance(0.5);
    room_.act({Do::resize, usual ? 1280 : whole(kSmallestW, most_w), usual ? 720 : whole(kSmallestH, most_h), {}});
    room_.wait(whole(20, 500));
}

void Habits::look_away() {
    key("w", true);
    room_.wait(whole(20, 200));
    room_.act({Do::blur, 0, 0, {}});
    room_.wait(whole(50, 1000));
    key("w", false);
    room_.act({Do::focus, 0, 0, {}});
    room_.wait(100);
}

/// In the middle of an attempt the trainer is killed; the attempt must be there, and be gone on with.
void Habits::kill_and_go_on() {
    constexpr int kLoadMs = 120'000, kListMs = 20'000;
    room_.wait(1500);  // what a killed program had not written yet is at most a second
    const bool practising = room_.seen().screen() == "practice";
    room_.kill();
    room_.start("--size 1280x720");
    screen_.clear();
    if (!practising) return;
    const auto offered = [this] {
        return std::any_of(room_.seen().spots().begin(), room_.seen().spots().end(),
                           [](const Spot& spot) { return spot.name == "start.go_on"; });
    };
    for (int waited = 0; !offered(); waited += 200) {
        if (waited > kListMs) throw Fault("an attempt that was killed is not offered to be gone on with");
        room_.wait(200);
    }
    const long before = room_.seen().count("taken");
    click_named("start.go_on");
    if (!room_.await("taken", before + 1, kLoadMs)) throw Fault("an attempt that was killed is not gone on with");
    ++gone_on_;
}

void Habits::close_and_begin() {
    if (chance(0.25)) return kill_and_go_on();
    room_.close();
    begin();
}

// -- practice

void Habits::take_something() {
    if (chance(0.5)) return press(std::array{"1", "2", "3"}[random_.next() % 3], 40);
    if (!click_named(fmt::format("tray.{}", whole(1, 3)))) press("1", 40);
}

void Habits::choose_entry() {
    std::vector<Spot> entries;
    for (const Spot& spot : room_.seen().spots())
        if (spot.name.starts_with("entry.")) entries.push_back(spot);
    if (entries.empty()) return press("g", 40);
    const Spot at = entries[random_.next() % entries.size()];
    const bool close = chance(0.7);
    ++clicked_[at.name];
    click(at.x + (close ? 0 : whole(-80, 80)), at.y + (close ? 0 : whole(-80, 80)));
}

void Habits::steer() {
    const bool slow = chance(0.2);
    if (slow) key("Shift_L", true);
    const char* one = kSteering[random_.next() % kSteering.size()];
    const char* two = kSteering[random_.next() % kSteering.size()];
    key(one, true);
    room_.wait(whole(50, 1500));
    if (chance(0.5)) {
        key(two, true);
        room_.wait(whole(50, 800));
        key(two, false);
    }
    key(one, false);
    if (slow) key("Shift_L", false);
    room_.wait(30);
}

void Habits::fine_turn() {
    key("Control_L", true);
    Place at = anywhere();
    for (int left = whole(3, 20); left > 0; --left) {
        at = {at.x + whole(-40, 40), at.y + whole(-40, 40)};
        move(std::max(0, at.x), std::max(0, at.y));
        room_.wait(whole(5, 40));
    }
    key("Control_L", false);
}

void Habits::aids() { press(kAids[random_.next() % kAids.size()], 40); }

void Habits::finish() {
    press("Return", 60);
    press("Return", 60);
    room_.wait(300);
}

void Habits::leave() {
    press("Escape", 60);
    if (chance(0.8)) press("Escape", 60);
    room_.wait(200);
}

void Habits::steer_for(const char* name, const std::string& until, int most_ms) {
    const long before = room_.seen().count(until);
    key(name, true);
    room_.await(until, before + 1, most_ms);
    key(name, false);
}

/// Needle, cannula, the way in with a shaking hand, the way out, and the score.
void Habits::whole_pass() {
    press("g", 40);
    press("1", 40);
    room_.wait(300);
    choose_entry();
    steer_for("w", "event layer crossed", whole(1'000, 8'000));
    steer_for("s", "event entry opened", 8'000);
    press("2", 40);
    steer_for("w", "event track opened", 6'000);
    for (int left = whole(3, 15); left > 0; --left)
        if (chance(0.6)) {
            key("w", true);
            room_.wait(whole(200, 1500));
            key("w", false);
        } else if (chance(0.3)) {
            click_least_tried();
        } else {
            steer();
        }
    if (chance(0.3)) return;
    steer_for("s", "event track closed", 15'000);
    if (chance(0.7)) finish();
}

void Habits::settings_meanwhile() {
    press("o", 40);
    for (int left = whole(1, 6); left > 0; --left) one_of({{3, &Habits::click_least_tried}, {1, &Habits::walk_focus}});
    press(chance(0.7) ? "Escape" : "o", 40);
}

// -- debrief

void Habits::debrief_key() {
    const bool fine = chance(0.2);
    if (fine) key("Shift_L", true);
    press(kDebrief[random_.next() % kDebrief.size()], chance(0.8) ? 40 : whole(300, 1500));
    if (fine) key("Shift_L", false);
}

/// Along the trace, and along the line of time.
void Habits::scrub() {
    const std::string name = chance(0.5) ? "debrief.trace" : "debrief.time";
    for (const Spot& spot : room_.seen().spots()) {
        if (spot.name != name) continue;
        ++clicked_[name];
        move(spot.x, spot.y);
        button(1, true);
        for (int left = whole(3, 15); left > 0; --left) {
            move(std::max(0, spot.x + whole(-600, 600)), std::max(0, spot.y + whole(-60, 60)));
            room_.wait(whole(10, 80));
        }
        return button(1, false);
    }
}

/// Another pass beside it, and watch that one.
void Habits::compare() {
    for (int left = whole(1, 4); left > 0; --left) press("b", 40);
    room_.wait(whole(100, 3000));
    if (chance(0.7)) press("w", 40);
    room_.wait(whole(100, 2000));
}

}  // namespace monkey
