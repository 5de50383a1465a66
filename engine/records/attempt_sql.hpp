#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "engine/records/store_core.hpp"

/// Attempts as rows. Of this library alone.

namespace records {

/// All but the content, in the order in which attempt_row_of() reads them.
inline constexpr const char* kAttemptColumns =
    "id, content_hash, learner_id, learner_key, scenario, scenario_hash, rubric_hash, mode, seed, devices, aids_asked, "
    "started_at, steps, finished, verdict, points, points_of, scoring_version, program_version, added_at";

// deeds of the trail from which a check tells which attempts must be there
inline constexpr const char* kAttemptKept = "attempt kept";
inline constexpr const char* kAttemptWentOn = "attempt went on";
inline constexpr const char* kLearnerErased = "learner erased";
/// Detail of the first two: hash and whose.
[[nodiscard]] inline std::string kept_detail(const std::string& content_hash, const std::string& learner_id) {
    return content_hash + " " + learner_id;
}

[[nodiscard]] AttemptRow attempt_row_of(const Row& row);  ///< without headings
[[nodiscard]] std::vector<HeadingPoints> headings_of(StoreCore& core, const std::string& attempt_id);  ///< by key
void insert_attempt(StoreCore& core, const AttemptFacts& facts, const std::string& learner_id, std::string_view bytes,
                    const std::string& added_at);

/// Store::put_attempt within a transaction that is open.
[[nodiscard]] PutResult put_within(StoreCore& core, const Actor& actor, const AttemptFacts& facts,
                                   std::string_view bytes, const std::string& name, const std::string& learner_id);

}  // namespace records
