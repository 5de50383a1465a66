#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "sim/scoring/rubric.hpp"

/// What the judges of critical faults share, and those that judge the visit around the passes. Internal to sim/scoring.

namespace sim::figures {

using Found = std::optional<Finding>;

/// @param detail behind the rubric's words, may be empty
[[nodiscard]] Finding fault(const CriticalFault& rule, const std::string& detail, std::int64_t step,
                            const Vec3& place_m, double shown, std::string_view unit, std::string_view stage = "pass");

/// Each: the first occurrence. Nothing where the scenario has no visit.
[[nodiscard]] Found no_consent(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found against_reason(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found dose_over_limit(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found known_allergy(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found toxicity_ignored(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found unprepared_entry(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found contaminated_thread(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found bleeding_ignored(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found sharp_missing(const Recording& recording, const CriticalFault& rule);
[[nodiscard]] Found open_red_flag(const Recording& recording, const CriticalFault& rule);

}  // namespace sim::figures
