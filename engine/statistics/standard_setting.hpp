#pragma once

#include <cstdint>

#include "engine/statistics/basics.hpp"

/// Where a pass mark lies, from ratings of performances or from judges.

namespace statistics {

/// A line through points, by least squares.
struct LineFit {
    double intercept = 0.0, slope = 0.0;
    double r_squared = 0.0;       ///< 0 to 1
    double rmse = 0.0;            ///< root of the mean squared residual, over n
    double residual_error = 0.0;  ///< the same over n - 2
    double x_mean = 0.0, x_squares = 0.0;
    std::vector<double> residuals;     ///< (n) score minus line
    std::vector<double> standardised;  ///< (n) over their own standard deviation; 0 where that is 0
};

/// @param x, y as long as each other, at least 3, x not all the same
/// @throws InputError otherwise and for values that are not finite
[[nodiscard]] LineFit fit_line(std::span<const double> x, std::span<const double> y);

struct BorderlineRegression {
    LineFit line;
    double grade = 0.0;
    Estimate cut;                       ///< in the score's unit; analytic interval, Student's t
    std::optional<Interval> resampled;  ///< percentiles of attempts drawn again with a seed
    std::size_t resamples_used = 0;     ///< those in which grades differed
    std::vector<std::size_t> far_out;   ///< attempts whose standardised residual is beyond 3, from 0
    Warnings warnings;
};

/// How the second interval is made.
struct Resampling {
    std::uint64_t seed = 1;
    std::size_t times = 2000;  ///< 0: none; at most 100 000
};

inline constexpr std::size_t kFewAttempts = 50;  ///< common practice, no source

/// Borderline regression: checklist scores over global grades; the pass mark is the line's value at the borderline
/// grade.
///
/// (Wood, Humphrey-Murto and Norman 2006, Adv Health Sci Educ 11:115-22; Hejri and others 2013, J Res Med Sci
/// 18:887-91.) Grades count as evenly spaced. The analytic interval is that of a line's mean at a point and takes
/// residuals as normal and equally wide; the resampled one draws attempts with their grades and needs neither. Attempts
/// of one learner are not independent: with several each, both intervals are too narrow. Warnings: fewer than 50
/// attempts, a slope not above 0, a borderline grade outside those given, nobody at it, residuals beyond 3.
/// @param grades     (n) global grades
/// @param scores     (n) checklist scores, any unit
/// @param borderline the grade that is neither a pass nor a fail
/// @throws InputError as fit_line does, for a borderline that is not finite, and for too many resamples
[[nodiscard]] BorderlineRegression borderline_regression(std::span<const double> grades, std::span<const double> scores,
                                                         double borderline, double confidence = kConfidence,
                                                         const Resampling& resampling = {});

struct Angoff {
    std::vector<double> judge_sums;  ///< (judges)
    std::vector<double> item_means;  ///< (items) 0 to 1
    std::vector<double> item_sds;    ///< (items) between judges
    Estimate cut;                    ///< mean of the sums, in points; interval between judges, Student's t
    double cut_share = 0.0;          ///< of the points there are
    double judge_sd = 0.0, standard_error = 0.0;
    Warnings warnings;
};

/// Angoff's method (1971, in Thorndike, Educational Measurement, 2nd ed): each judge says for each item what share of
/// just-competent learners would get it right; the pass mark is the mean over judges of the sum over items.
///
/// @param shares (judges x items), 0 to 1, at least 2 judges and 1 item
/// @throws InputError for other shapes and values
[[nodiscard]] Angoff angoff(const Matrix& shares, double confidence = kConfidence);

/// What one judge will stand for: marks and rates of failing.
struct HofsteeJudge {
    double least_cut = 0.0, most_cut = 0.0;    ///< in the score's unit
    double least_fail = 0.0, most_fail = 0.0;  ///< shares, 0 to 1
};

struct Hofstee {
    HofsteeJudge mean;          ///< over judges
    std::optional<double> cut;  ///< nothing when the line does not meet the curve
    double fail_share = 0.0;    ///< of the scores, at the cut
    Warnings warnings;
};

/// Hofstee's compromise (1983, in Anderson and Helmick, On Educational Testing): where the line from (least cut, most
/// failing) to (most cut, least failing) meets the curve of how many fail at each cut, taken straight between scores.
///
/// When the curve lies beyond an end of the line that end is told in a warning, and there is no cut.
/// @throws InputError for no judge, fewer than 2 scores, least above most, shares outside 0 to 1, values not finite
[[nodiscard]] Hofstee hofstee(std::span<const HofsteeJudge> judges, std::span<const double> scores);

/// One item of an attempt.
struct ItemResult {
    double points = 0.0, maximum = 1.0;
    bool critical = false;
};

struct Verdict {
    bool pass = false;
    std::vector<std::size_t> critical_missed;  ///< from 0
    double rest_share = 0.0;                   ///< of the points of items that are not critical
};

/// Pass by both: every critical item whole, and at least a share of the points of the others.
///
/// (The patient-safety rule of Barsuk and others 2018, Acad Med 93:1079-84.)
/// @throws InputError for no item, points outside 0 to the maximum, a maximum not above 0, or a share outside 0 to 1.
///         With critical items alone the rest counts as whole.
[[nodiscard]] Verdict conjunctive_verdict(std::span<const ItemResult> items, double rest_needed);

}  // namespace statistics
