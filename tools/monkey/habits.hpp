#pragma once

#include <filesystem>
#include <map>
#include <string>

#include "sim/core/random.hpp"
#include "tools/monkey/room.hpp"

/// What a hand without a plan does next, by chance from a seed, weighted so that it gets everywhere: what was tried
/// least is tried first, and a pass is made now and then from beginning to end.

namespace monkey {

class Habits {
 public:
    /// @param attempts where the trainer keeps them, to look back at one
    Habits(Room& room, std::uint64_t seed, std::filesystem::path attempts);

    /// The trainer, begun in one of the ways that its command line accepts.
    void begin();
    /// One thing, from a twitch to a whole pass.
    void once();
    /// An attempt with hands at random, killed in the middle and gone on with.
    void until_killed();
    /// Attempts that were killed in the middle and gone on with.
    [[nodiscard]] int gone_on() const { return gone_on_; }
    /// Things that were clicked, by name.
    [[nodiscard]] const std::map<std::string, long>& clicked() const { return clicked_; }

 private:
    using Act = void (Habits::*)();
    struct Weighted {
        double weight;
        Act act;
    };
    [[nodiscard]] int whole(int low, int high);  ///< both included
    [[nodiscard]] bool chance(double probability) { return random_.uniform() < probability; }
    void one_of(std::initializer_list<Weighted> acts);
    void note_screen();

    // -- small deeds
    void move(int x, int y);
    void button(int number, bool down);
    void key(const std::string& name, bool down);
    void press(const std::string& name, int hold_ms);
    void click(int x, int y);
    struct Place {
        int x = 0, y = 0;
    };
    [[nodiscard]] Place anywhere();
    bool click_named(const std::string& name);

    // -- on every screen
    void wander();
    void click_least_tried();
    void click_anywhere();
    void let_go_elsewhere();
    void drag();
    void wheel();
    void press_any_key();
    void press_many();
    void type();
    void walk_focus();
    void page_keys();
    void resize();
    void look_away();
    void close_and_begin();
    void kill_and_go_on();

    // -- practice
    void take_something();
    void choose_entry();
    void steer();
    void fine_turn();
    void aids();
    void finish();
    void leave();
    void whole_pass();
    void steer_for(const char* name, const std::string& until, int most_ms);
    void settings_meanwhile();

    // -- debrief
    void debrief_key();
    void scrub();
    void compare();

    Room& room_;
    sim::Random random_;
    std::filesystem::path attempts_;
    std::map<std::string, long> clicked_;
    int gone_on_ = 0;
    bool fresh_ = false;      ///< nothing was done on this screen yet
    std::string screen_;      ///< that it is on
    long left_after_ms_ = 0;  ///< it leaves the screen then
};

}  // namespace monkey
