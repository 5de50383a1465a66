#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "engine/records/store.hpp"

/// How a cohort stands: a line for each learner and scenario, worked out from the columns of attempts alone.

namespace records {

/// When a learner is ready for a supervised case: a school's rule. Assumed: a pass on three consecutive unseen
/// variants.
struct BoardRules {
    std::int64_t passes = 3;  ///< 1 or more
};

/// First attempt of a learner at a variant of a scenario that they had not tried before, not coached. A coached one
/// shows the variant and counts for nothing; one that is unfinished counts as not passed.
struct UnseenAttempt {
    std::string verdict;          ///< "" while unfinished
    std::optional<double> share;  ///< as below
    bool passed = false;          ///< its verdict is a pass, and it reaches the newest pass mark of its scenario
};

struct BoardRow {
    std::string learner_id{}, learner{}, scenario{};
    std::int64_t attempts = 0;             ///< 1 or more, unfinished ones too
    std::optional<double> best{}, last{};  ///< shares of the points, 0 to 1, of attempts that are finished
    std::string last_verdict{};            ///< of the newest; "" while it is unfinished
    std::string last_at{};                 ///< when the newest began
    std::int64_t unseen = 0;               ///< unseen variants that were tried
    std::optional<UnseenAttempt> last_unseen{};
    std::int64_t in_a_row = 0;  ///< newest unseen variants that were passed without one between that was not
    bool ready = false;         ///< in_a_row reaches the rule
};

struct Board {
    std::vector<BoardRow> rows;  ///< (R) by learner's name, id, scenario; pairs without an attempt are left out
    std::vector<std::string> no_attempts;  ///< names of learners who have none; empty for a session
};

/// Of all learners and scenarios, or a session's: learners with an attempt in it, its scenarios, and all that they did
/// at them. A learner sees their own lines.
/// @param session_id "" for all
/// @throws RecordsError (not_found) for a session that is none
[[nodiscard]] Board board(Store& store, const Actor& actor, const std::string& session_id = {},
                          const BoardRules& rules = {});

}  // namespace records
