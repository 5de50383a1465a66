#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "engine/records/board.hpp"
#include "engine/statistics/basics.hpp"

/// How a cohort stands, made up for people: learners by scenarios, and what each scenario tells of all of them. For
/// screen and paper alike.

namespace cohort {

enum class Standing : std::uint8_t {
    untried,
    shown,       ///< no unseen variant yet: coached attempts, or variants seen before
    not_passed,  ///< the newest unseen variant
    passing,     ///< the newest unseen variant was passed, the rule is not reached
    ready,       ///< the school's rule is reached
};

/// A learner at a scenario.
struct Cell {
    Standing standing = Standing::untried;
    std::int64_t attempts = 0, in_a_row = 0;
    std::optional<double> share{};  ///< of the points, 0 to 1, of the newest unseen variant that was finished
};

struct Person {
    std::string id, name;
    std::vector<Cell> cells;  ///< (S)
};

/// What a scenario tells of the cohort, by the newest unseen variant of each learner who tried one.
struct ScenarioFigures {
    std::string id, title;
    std::int64_t tried = 0, passed = 0, ready = 0;       ///< learners
    std::optional<statistics::Interval> passed_share{};  ///< 0 to 1, of those who tried; nothing where nobody did
    std::vector<double> shares{};                        ///< of the points, ascending, of those that were finished
};

struct Cohort {
    std::string title;                       ///< of the session, or what else it is
    std::string made_at;                     ///< "2026-03-01T10:15:00Z"
    std::int64_t passes = 3;                 ///< the school's rule: unseen variants passed in a row
    std::vector<ScenarioFigures> scenarios;  ///< (S) by title
    std::vector<Person> people;              ///< (P) by name
};

/// Interval of a share by Wilson's score (Wilson 1927, J Am Stat Assoc 22:209-12). @pre 0 <= count <= of, of >= 1
[[nodiscard]] statistics::Interval share_interval(std::int64_t count, std::int64_t of,
                                                  double confidence = statistics::kConfidence);

/// @param title_of a scenario's id in words
[[nodiscard]] Cohort cohort_of(const records::Board& board,
                               const std::function<std::string(const std::string&)>& title_of,
                               const records::BoardRules& rules);

/// "2 of 3" for who is on the way, "ready", "not passed" ...: never told by colour alone.
[[nodiscard]] std::string cell_words(const Cell& cell, std::int64_t passes);
/// "12 of 20 passed (39 to 78 %)"
[[nodiscard]] std::string passed_words(const ScenarioFigures& figures);
inline constexpr std::size_t kFewForQuartiles = 4;  ///< shares of fewer have none
/// "median 71 % (58 to 84 %)" of the points; "" where nobody finished one
[[nodiscard]] std::string shares_words(const ScenarioFigures& figures);

}  // namespace cohort
