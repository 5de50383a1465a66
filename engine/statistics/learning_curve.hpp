#pragma once

#include "engine/statistics/basics.hpp"

/// How a figure changes with practice, and how many attempts it takes to reach a mark.

namespace statistics {

enum class CurveShape {
    exponential,  ///< y = a + b exp(-n / c): c attempts bring it nearer by a factor e
    power         ///< y = a + b n^(-c)
};

/// One figure of one attempt. Attempts count from 1.
struct CurvePoint {
    double attempt = 1.0;
    double value = 0.0;
    std::size_t learner = 0;  ///< who; points of one learner hang together
};

enum class FitState {
    converged,
    not_converged,   ///< steps ran out, or the curve ran away to a straight line or a jump
    not_determined,  ///< the points do not tell the three parameters apart
};

struct LearningCurve {
    CurveShape shape = CurveShape::exponential;
    FitState state = FitState::not_converged;
    /// a: where it levels off, b: how far from there it starts, both in the value's unit; c as in the shape. No
    /// intervals unless converged.
    Estimate level, gain, rate;
    double residual_error = 0.0;  ///< root of the residual squares over points - 3
    double r_squared = 0.0;       ///< of the spread about the mean; below 0 when the mean does better
    int steps = 0;
    std::size_t points = 0, learners = 0;
    Matrix covariance;  ///< (3 x 3) of a, b, c; empty unless converged
    double interval_df = 0.0;
    Warnings warnings;

    /// The curve at an attempt, by the parameters as they are.
    [[nodiscard]] double at(double attempt) const;
};

/// Fit such a curve by Gauss-Newton with halved steps, from the best of a grid of c (a and b are then linear).
///
/// One learner: intervals by the curvature of the residual squares and Student's t with points - 3 degrees of freedom,
/// residuals normal, independent and equally wide. Several: points of one learner hang together, so the covariance is
/// the sandwich over learners (Liang and Zeger 1986, Biometrika 73:13-22) times m/(m - 1), with m - 1 degrees of
/// freedom; rough below some 20 learners, which is told. Not converged is told and keeps the last parameters for a
/// look, no more.
/// @param points at least 4, at 4 or more different attempts, attempt >= 1
/// @throws InputError for fewer, attempts below 1, values not finite
[[nodiscard]] LearningCurve fit_learning_curve(std::span<const CurvePoint> points, CurveShape shape,
                                               double confidence = kConfidence);

/// Attempt, not whole, at which a converged curve reaches a mark, with the interval of the delta method.
///
/// @return nothing when it did not converge or levels off before the mark; 1 at least
/// @throws InputError for a mark that is not finite
[[nodiscard]] std::optional<Estimate> curve_reaches(const LearningCurve& curve, double mark,
                                                    double confidence = kConfidence);

/// How many attempts a learner made, and whether the mark was reached at the last of them.
struct Reach {
    std::size_t attempts = 1;
    bool reached = false;
};

/// First attempt with which the mark was reached so many times in a row; otherwise all attempts, not reached.
///
/// @param values    of one learner in order
/// @param in_a_row  >= 1
/// @param rising    true where more is better
/// @throws InputError for no value, values not finite, in_a_row 0
[[nodiscard]] Reach attempts_to_mark(std::span<const double> values, double mark, std::size_t in_a_row = 1,
                                     bool rising = true);

/// One step of the share that has not reached the mark yet.
struct SurvivalStep {
    std::size_t attempt = 0;
    std::size_t at_risk = 0;           ///< learners who had not reached it before and were still practising
    std::size_t reached = 0;           ///< of them, at this attempt
    double not_yet = 1.0;              ///< share after this attempt, 0 to 1
    double standard_error = 0.0;       ///< Greenwood's
    std::optional<Interval> interval;  ///< by log(-log); nothing at 0 and 1
};

struct Survival {
    std::vector<SurvivalStep> steps;  ///< where somebody reached it
    std::size_t learners = 0, reached = 0;
    std::optional<double> median;                   ///< attempts by which half have reached it; nothing when fewer did
    std::optional<double> median_low, median_high;  ///< its interval; an end that is not reached is nothing
    Warnings warnings;
};

/// Kaplan and Meier 1958, J Am Stat Assoc 53:457-81: learners who stopped before the mark count as long as they
/// practised. Those who stop must not be those who would have taken longer; where they are, the share is too bright.
///
/// Standard errors by Greenwood 1926; intervals on the scale log(-log); the median's by Brookmeyer and Crowley 1982,
/// Biometrics 38:29-41, on that scale.
/// @param learners at least one, attempts >= 1
/// @throws InputError otherwise
[[nodiscard]] Survival survival_to_mark(std::span<const Reach> learners, double confidence = kConfidence);

}  // namespace statistics
