#pragma once

#include <string>

#include "sim/scoring/rubric.hpp"

/// A score as text: JSON for programs, a table for people.

namespace report {

/// {verdict, total_points, measures{name:{value,unit,points,of}}, deductions[...], critical_faults[],
/// verdict_stability} with places in millimetres and times in seconds.
[[nodiscard]] std::string score_json(const sim::Score& score);

/// At most 100 columns; every point lost says where, when, what was measured and what is accepted. Ends with the
/// cautions.
[[nodiscard]] std::string score_table(const sim::Recording& recording, const sim::Score& score);

/// What every report and export says.
[[nodiscard]] std::string caution_text();

/// A figure with at most three significant digits and its unit: "3.75 mm", "82 %".
[[nodiscard]] std::string figure(double value, const std::string& unit);
/// The same of a measure: "5 mm or more" where it is told no further.
[[nodiscard]] std::string figure(const sim::Measure& measure);

/// "track in band" for the measure "track_in_band".
[[nodiscard]] std::string measure_words(const std::string& name);

}  // namespace report
