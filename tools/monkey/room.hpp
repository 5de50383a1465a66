#pragma once

#include <chrono>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>

#include "tools/monkey/hands.hpp"
#include "tools/monkey/seen.hpp"
#include "tools/monkey/trainer.hpp"

/// The trainer on its display with somebody in front of it: deeds are sent and listed, what it tells is followed, and
/// what it must never do is noticed.

namespace monkey {

/// It crashed, reported, hung, or ended on its own.
struct Fault : std::runtime_error {
    using std::runtime_error::runtime_error;
};

class Room {
 public:
    /// @param folder for the list of deeds, journals and errors
    Room(const std::filesystem::path& program, const std::filesystem::path& folder);

    /// @throws Fault from here on
    void start(const std::string& arguments);  ///< words between blanks
    void close();                              ///< by the window's frame, and see it end well
    void kill();                               ///< as when the machine's power goes
    void act(const Deed& deed);
    void wait(int ms);
    /// Until something was told so often, at most so long. @return it was
    bool await(const std::string& what, long count, int ms);

    [[nodiscard]] const Seen& seen() const { return seen_; }
    [[nodiscard]] const Hands& hands() const { return hands_; }
    [[nodiscard]] long deeds() const { return deeds_; }
    [[nodiscard]] int starts() const { return starts_; }
    [[nodiscard]] long frames() const { return frames_before_ + seen_.frames(); }
    [[nodiscard]] std::filesystem::path errors() const;  ///< of the trainer that was started last
    [[nodiscard]] std::filesystem::path journal() const;
    [[nodiscard]] long ms() const;  ///< since the first start

 private:
    void look();
    void judge_end(int status, bool asked) const;

    using Clock = std::chrono::steady_clock;
    Hands hands_;
    Trainer trainer_;
    Seen seen_;
    std::filesystem::path folder_;
    std::ofstream list_;
    Clock::time_point began_ = Clock::now(), framed_ = Clock::now(), nudged_ = Clock::now();
    long frames_seen_ = 0, frames_before_ = 0, deeds_ = 0;
    int starts_ = 0;
    int mouse_x_ = 0;
};

/// What a sanitizer wrote in these words, the first line of it; empty when it wrote nothing.
[[nodiscard]] std::string sanitizer_report(const std::filesystem::path& errors);

}  // namespace monkey
