#pragma once

#include <array>
#include <string_view>

#include "engine/statistics/basics.hpp"

/// Do raters agree? Intraclass correlations of marks, kappa of grades.

namespace statistics {

/// Analysis of variance of a table of targets by judges, one mark in each cell.
struct AgreementAnova {
    std::size_t targets = 0, judges = 0;
    double between_ms = 0.0;  ///< targets; df n - 1
    double within_ms = 0.0;   ///< within targets; df n (k - 1)
    double judges_ms = 0.0;   ///< df k - 1
    double error_ms = 0.0;    ///< df (n - 1)(k - 1)
};

/// @param marks (n targets x k judges), n >= 2, k >= 2, in any unit
/// @throws InputError for a smaller table or a value that is not finite
[[nodiscard]] AgreementAnova agreement_anova(const Matrix& marks);

/// One of the six forms: "ICC(2,1)", what it stands for, its value, interval and F test against no correlation.
struct IntraclassCorrelation {
    std::string_view name, meaning;
    /// Nothing for ICC(2,k) where judges differ so much less than chance that the mean of k has no such correlation.
    std::optional<Estimate> icc;
    std::optional<double> f, p;  ///< nothing when the judges agree exactly
    double df_above = 0.0, df_below = 0.0;
};

struct IntraclassCorrelations {
    AgreementAnova anova;
    std::array<IntraclassCorrelation, 6> forms;  ///< (1,1) (2,1) (3,1) (1,k) (2,k) (3,k)
    Warnings warnings;
};

/// The six intraclass correlations of Shrout and Fleiss 1979, Psychol Bull 86:420-8.
///
/// (1,.): each target has its own judges. (2,.): the same judges, a sample of all judges; absolute agreement. (3,.):
/// these judges alone; consistency. (.,1) one judge's mark, (.,k) the mean of k. Intervals by F: those of (1,.) and
/// (3,.) are exact, those of (2,.) take Satterthwaite's degrees of freedom as in McGraw and Wong 1996, Psychol Methods
/// 1:30-46, ICC(A,1), and by Spearman and Brown's formula for the mean of k; marks are taken to be normal. An estimate
/// may be negative; it is given as it is, with a warning.
/// @param marks      (n targets x k judges)
/// @param confidence share, 0 < c < 1
/// @throws InputError for bad shapes and numbers, and when the targets' mean marks are all the same
[[nodiscard]] IntraclassCorrelations intraclass_correlations(const Matrix& marks, double confidence = kConfidence);

/// How far apart two grades count.
enum class KappaWeights { unweighted, linear, quadratic };

struct Kappa {
    double observed = 0.0, expected = 0.0;  ///< weighted agreement, 0 to 1
    Estimate kappa;
    double standard_error = 0.0;       ///< about the estimate
    double null_standard_error = 0.0;  ///< if kappa were 0
    Warnings warnings;
};

/// Cohen's kappa (1960, Educ Psychol Meas 20:37-46; weighted 1968, Psychol Bull 70:213-20).
///
/// Weights of agreement: 1 on the diagonal; 1 - |i - j| / (q - 1), linear; 1 - ((i - j) / (q - 1))^2, quadratic.
/// Standard errors for large samples by Fleiss, Cohen and Everitt 1969, Psychol Bull 72:323-7; the interval is normal,
/// cut at +-1.
/// @param counts (q x q), rows one rater's grades in order, columns the other's; whole numbers >= 0, q >= 2
/// @throws InputError for another shape, a count below 0 or not whole, no counts, or all in one grade of both raters
[[nodiscard]] Kappa kappa(const Matrix& counts, KappaWeights weights, double confidence = kConfidence);

/// Count pairs of grades. @param grades 0 to q - 1, both lists as long
/// @throws InputError for a grade outside the range, lists of different length or none, q < 2
[[nodiscard]] Matrix count_grades(std::span<const int> one, std::span<const int> other, int q);

}  // namespace statistics
