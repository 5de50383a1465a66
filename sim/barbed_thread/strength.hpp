#pragma once

#include <algorithm>
#include <array>

/// What is left of an absorbable thread's strength, week by week. An illustration, never scored: strength of the thread
/// is not duration of lift.

namespace sim {

/// Of polydioxanone, 0 to 1. 74, 50 and 25 % after 2, 4 and 6 weeks (tables of surgical materials, second hand), 14 %
/// after 8 (rat: Ray et al. 1981, Surg Gynecol Obstet 153:497); nothing after 12 (assumed). Straight between those.
[[nodiscard]] inline double strength_left(double weeks) {
    struct Point {
        double weeks, share;
    };
    constexpr std::array<Point, 6> kLeft{{{0, 1.0}, {2, 0.74}, {4, 0.5}, {6, 0.25}, {8, 0.14}, {12, 0.0}}};
    for (std::size_t i = 1; i < kLeft.size(); ++i)
        if (weeks <= kLeft[i].weeks) {
            const double t = std::max(0.0, weeks - kLeft[i - 1].weeks) / (kLeft[i].weeks - kLeft[i - 1].weeks);
            return kLeft[i - 1].share + t * (kLeft[i].share - kLeft[i - 1].share);
        }
    return 0.0;
}

}  // namespace sim
