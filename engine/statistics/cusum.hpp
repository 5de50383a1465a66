#pragma once

#include <cstdint>

#include "engine/statistics/basics.hpp"

/// Charts over one learner's passes and failures in order: has competence been reached, has it been lost?
///
/// A rate is a rate of failing, 0 to 1. Attempts count from 1.

namespace statistics {

/// What one success and one failure add to a learning-curve CUSUM.
struct LearningWeights {
    double success = 0.0;  ///< > 0
    double failure = 0.0;  ///< < 0
};

/// ln[(1 - pa)/(1 - pu)] and ln[pa/pu], the log likelihood ratios of adequate against inadequate (Biau and others 2008,
/// Br J Surg 95:925-9; Biau and Porcher 2010, Stat Med, 10.1002/sim.3947).
/// @param adequate, inadequate rates of failing, 0 < adequate < inadequate < 1
/// @throws InputError otherwise
[[nodiscard]] LearningWeights learning_weights(double adequate, double inadequate);

struct LearningChart {
    LearningWeights weights;
    double limit = 0.0;                 ///< h
    std::vector<double> values;         ///< (attempts) S after each
    std::optional<std::size_t> signal;  ///< the attempt at which S first reached the limit
};

/// LC-CUSUM. The null hypothesis is that performance is inadequate: S starts at 0, S = max(0, S + W), and competence is
/// signalled when S >= h. S is held at 0 below, so that early failures are forgiven, and grows with successes.
///
/// A signal says that the learner's rate is unlikely to be the inadequate one; it does not say what the rate is.
/// Sensitivity and specificity published for such charts are moderate: not for high stakes alone.
/// @param limit > 0, finite
/// @throws InputError for rates and limits that are none
[[nodiscard]] LearningChart learning_cusum(const std::vector<bool>& passes, double adequate, double inadequate,
                                           double limit);

/// How long an LC-CUSUM runs, exactly.
struct RunLength {
    std::vector<double> signalled;  ///< (attempts) share that has signalled by then
    std::optional<double> mean;  ///< attempts until the signal; nothing when there is none or it takes too long to know
};

/// A Markov chain over the values that S can have, as excursions from 0: after n attempts of one S hangs on the
/// failures alone, and each return to 0 begins anew (a renewal).
/// @param failure_rate what the learner really has, 0 to 1
/// @param attempts     1 to 2000
/// @throws InputError for rates, limits and counts outside their range
[[nodiscard]] RunLength learning_run_length(double adequate, double inadequate, double limit, double failure_rate,
                                            std::size_t attempts);

/// What a limit is chosen for.
struct LimitRequest {
    double adequate = 0.10, inadequate = 0.20;
    std::size_t attempts = 50;  ///< how many attempts a learner makes at most, 1 to 2000
    double false_pass = 0.05;   ///< share of inadequate learners that may be signalled within them, over all charts
    std::size_t charts = 1;     ///< watched at once, 1 to 1000; any of which would count as competence
    std::uint64_t seed = 1;
    std::size_t runs = 20000;  ///< simulated learners, 100 to 1 000 000; attempts x runs at most 2e8
};

struct LimitChoice {
    double limit = 0.0;                 ///< h
    double per_chart = 0.0;             ///< false passes that each chart is held to
    double simulated_false_pass = 0.0;  ///< of one chart at that limit
    double exact_false_pass = 0.0;      ///< the same by the Markov chain
    double family_false_pass = 0.0;     ///< of independent charts together, from the exact one
    double power = 0.0;                 ///< share of adequate learners signalled within the attempts, exact
    std::optional<double> mean_adequate, mean_inadequate;  ///< attempts to a signal
    Warnings warnings;
};

/// The lowest limit whose rate of false passes stays within what was asked for, by seeded simulation of learners at the
/// inadequate rate, and raised where the exact chain says that chance had it too low.
///
/// Several charts: each is held to 1 - (1 - f)^(1/m), Sidak's (1967, J Am Stat Assoc 62:626-33), which is exact for
/// independent charts and errs to the safe side for charts that go together. No correction is wanted where every chart
/// must signal: ask with charts = 1.
/// @throws InputError for a request outside the ranges above
[[nodiscard]] LimitChoice choose_learning_limit(const LimitRequest& request);

/// Limits of a CUSUM on failures by the sequential probability ratio test (Wald 1947).
struct SequentialLimits {
    double step = 0.0;   ///< s: a success subtracts it, a failure adds 1 - s
    double lower = 0.0;  ///< h0 > 0: so far below the last decision the acceptable rate is accepted
    double upper = 0.0;  ///< h1 > 0: so far above, the unacceptable one
};

/// P = ln(p1/p0), Q = ln((1-p0)/(1-p1)), s = Q/(P+Q), h0 = ln((1-a)/b)/(P+Q), h1 = ln((1-b)/a)/(P+Q).
/// @param acceptable, unacceptable rates, 0 < p0 < p1 < 1
/// @param alpha, beta errors of the first and second kind, above 0, together below 1
/// @throws InputError otherwise
[[nodiscard]] SequentialLimits sequential_limits(double acceptable, double unacceptable, double alpha, double beta);

struct Crossing {
    std::size_t attempt = 0;
    bool unacceptable = false;  ///< the upper limit, otherwise the lower
};

struct FailureChart {
    SequentialLimits limits;
    std::vector<double> values;       ///< (attempts) sum from the start, never set back
    std::vector<Crossing> crossings;  ///< after each the limits count from where the sum then stands
};

/// CUSUM of failures with such limits. @throws as sequential_limits
[[nodiscard]] FailureChart failure_cusum(const std::vector<bool>& passes, double acceptable, double unacceptable,
                                         double alpha, double beta);

/// Two-sided CUSUM of a measurement about a target (Montgomery, Introduction to Statistical Quality Control).
struct MeasurementChart {
    std::vector<double> above, below;   ///< (n) in standard deviations, >= 0
    std::optional<std::size_t> signal;  ///< first value at which either passes the limit
};

/// @param values in any unit; target in that unit; sd > 0
/// @param slack  k >= 0, half the shift to be found, in standard deviations
/// @param limit  h > 0, in standard deviations
/// @throws InputError for values that are none
[[nodiscard]] MeasurementChart measurement_cusum(std::span<const double> values, double target, double sd,
                                                 double slack = 0.5, double limit = 5.0);

/// Mean run length of such a chart on normal values, from its start: the integral equation of Page 1954 solved by
/// Gauss-Legendre nodes (Goel and Wu 1971, Technometrics 13:221-30).
/// @param shift of the mean from the target, in standard deviations, |shift| <= 10
/// @param slack 0 to 5; limit above 0 to 12
/// @throws InputError outside these
[[nodiscard]] double measurement_run_length(double slack, double limit, double shift, bool two_sided);

}  // namespace statistics
