#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "engine/app/ui.hpp"
#include "sim/scoring/recording.hpp"

/// What happened in an attempt, line by line, for whoever looks on while it is made.

namespace app {

/// "layer crossed subject 2 at 1.0 2.0 3.0 mm": for the journal.
[[nodiscard]] std::string line_of(const sim::Event& event);

struct Happening {
    std::int64_t step = 0;
    Mark mark = Mark::neutral;  ///< caution: something was met; bad: something was harmed
    std::string what;           ///< "Layer crossed"
    std::string detail;         ///< "in superficial fat, 1.9 N"; may be empty
};

/// One event in words. @param recording for names; indices that it does not have are left out
[[nodiscard]] Happening happening_of(const sim::Event& event, const sim::Recording& recording);

/// Every event of a record that grows, and each time that the tip came nearer to a structure than its margin.
class Happenings {
 public:
    /// Take in what the record has gained since the last call.
    void follow(const sim::Recording& recording);
    [[nodiscard]] const std::vector<Happening>& all() const { return all_; }  ///< rising in step
    /// How many there were by this step.
    [[nodiscard]] std::size_t count_by(std::int64_t step) const;

 private:
    std::size_t events_ = 0, rows_ = 0;  ///< taken in
    int near_ = -1;                      ///< structure that the tip is too near to, -1: none
    std::vector<Happening> all_;
};

}  // namespace app
