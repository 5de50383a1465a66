#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

/// What the trainer tells of itself in its journal: which screen is shown, what can be aimed at, what happened.

namespace monkey {

struct Spot {
    std::string name;
    int x = 0, y = 0;
};

class Seen {
 public:
    /// Follow a new journal from its beginning; counts go on.
    void begin(const std::filesystem::path& journal);
    /// Take in what it gained. @return lines
    int look();

    [[nodiscard]] const std::string& screen() const { return screen_; }  ///< "start", empty before the first
    [[nodiscard]] const std::string& detail() const { return detail_; }  ///< of the screen: a scenario's name
    [[nodiscard]] const std::vector<Spot>& spots() const { return spots_; }
    [[nodiscard]] const std::vector<std::string>& misfits() const { return misfits_; }  ///< of all journals
    [[nodiscard]] long frames() const { return frames_; }                               ///< of this journal
    /// How often something was told, in all journals: "screen start", "event entry opened", "paper".
    [[nodiscard]] const std::map<std::string, long>& counts() const { return counts_; }
    [[nodiscard]] long count(const std::string& what) const;

 private:
    void take(const std::string& line);

    std::filesystem::path journal_;
    std::streamoff read_ = 0;
    std::string rest_;  ///< of a line that is not yet whole
    std::string screen_, detail_;
    std::vector<Spot> spots_;
    std::vector<std::string> misfits_;
    std::map<std::string, long> counts_;
    long frames_ = 0;
};

}  // namespace monkey
