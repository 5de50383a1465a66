#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "engine/files/attempt.hpp"
#include "sim/scoring/rubric.hpp"

/// An attempt scored anew from its record alone.

namespace files {

/// By the attempt's own rubric, with the version of the measures that it names.
/// @param name stands for the attempt in messages
/// @throws FileError when its rubric is none
[[nodiscard]] sim::Score score_of(const LoadedAttempt& attempt, const std::string& name);

struct MeasuredHeading {
    std::string_view heading;       ///< key: "plane_accuracy"
    double points = 0.0, of = 0.0;  ///< of > 0
};
/// (H) headings that were measured, in scoring's order.
[[nodiscard]] std::vector<MeasuredHeading> measured_headings(const sim::Score& score);

}  // namespace files
