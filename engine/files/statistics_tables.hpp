#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "engine/files/csv.hpp"
#include "engine/statistics/generalisability.hpp"
#include "engine/statistics/items.hpp"
#include "engine/statistics/standard_setting.hpp"

/// Tables of marks as engine/statistics takes them, read from CSV. Columns that are not asked for are left alone.
///
/// All throw FileError by line, column and value for what a field may not hold.

namespace files {

/// Numbers with names: the first column names rows, the header's rest names columns.
struct NamedNumbers {
    std::vector<std::string> rows, columns;
    statistics::Matrix values;
};

/// @param low, high what a number may be; rows named twice are refused
[[nodiscard]] NamedNumbers read_named_numbers(const CsvTable& table, double low, double high);

/// Marks of persons by raters, and cases where there are: columns `person`, `rater`, `mark`, and `case` or not.
struct NamedCube {
    statistics::MarkCube cube;
    std::vector<std::string> persons, raters, cases;  ///< raters of the first case where they are within cases
};

/// @param nested raters belong to cases: each case must have as many, their names may be used again in another case
/// Each combination must stand there once; the first that is missing or there twice is named.
[[nodiscard]] NamedCube read_mark_cube(const CsvTable& table, bool nested);

/// Whole grades of two raters, columns `first` and `second`, 1 to `grades`.
/// @return counts (grades x grades)
[[nodiscard]] statistics::Matrix read_grade_pairs(const CsvTable& table, int grades);

/// One group against all others: column `group`, then `pass` (0 or 1) or `score` or both, and `stratum` where there is
/// one.
struct GroupTable {
    std::string focal;                        ///< the group that is asked about
    std::vector<std::string> others;          ///< all others, one reference group
    std::vector<statistics::Stratum> strata;  ///< empty without `pass`
    std::vector<std::string> stratum_names;
    std::vector<double> focal_scores, reference_scores;  ///< empty without `score`
};

/// @param focal name of a group that the table has
[[nodiscard]] GroupTable read_groups(const CsvTable& table, const std::string& focal);

/// Columns `judge`, `least_cut`, `most_cut`, `least_fail`, `most_fail`: cuts in the score's unit, shares 0 to 1.
[[nodiscard]] std::vector<statistics::HofsteeJudge> read_hofstee_judges(const CsvTable& table);

/// All numbers of a named column.
[[nodiscard]] std::vector<double> read_numbers(const CsvTable& table, std::string_view column, double low, double high);

/// What a learner did, in order of attempts.
struct LearnerSeries {
    std::string learner;
    std::vector<double> attempts;  ///< whole, from 1, rising
    std::vector<double> values;
};

/// Columns `learner`, `attempt` (whole, from 1) and a column of values; rows in any order, no attempt of a learner
/// twice.
/// @return learners in the order in which they first stand there
[[nodiscard]] std::vector<LearnerSeries> read_series(const CsvTable& table, std::string_view values, double low,
                                                     double high);

/// The same of passes, column `pass`, 0 or 1.
[[nodiscard]] std::vector<LearnerSeries> read_passes(const CsvTable& table);

inline constexpr double kLargestNumber = 1e9;  ///< of a mark or score, either sign
inline constexpr std::int64_t kMostAttempts = 1'000'000;

}  // namespace files
