#pragma once

#include "engine/statistics/basics.hpp"

/// How the items of a checklist do, and whether a group is judged otherwise than another.

namespace statistics {

struct Item {
    double mean = 0.0;
    double difficulty = 0.0;  ///< mean over the item's maximum, 0 to 1: the higher, the easier
    /// Correlation of the item with the sum of the others, -1 to 1; nothing where either does not vary.
    std::optional<double> discrimination;
    std::optional<double> alpha_without;  ///< Cronbach's alpha of the other items
};

struct ItemAnalysis {
    std::vector<Item> items;
    std::optional<double> alpha;  ///< Cronbach's; nothing where totals do not vary
    std::optional<Interval> alpha_interval;
    double total_mean = 0.0, total_sd = 0.0;
    Warnings warnings;
};

/// Difficulty, corrected item-total correlation and Cronbach's alpha (1951, Psychometrika 16:297-334; KR-20 where items
/// are 0 or 1), its interval by Feldt 1965, Psychometrika 30:357-70.
///
/// @param marks (n persons x m items), n >= 3, m >= 2; 0 <= mark <= its item's maximum
/// @param maxima (m) > 0
/// @throws InputError for bad shapes, values that are not finite, marks outside 0 to the maximum
[[nodiscard]] ItemAnalysis item_analysis(const Matrix& marks, std::span<const double> maxima,
                                         double confidence = kConfidence);

/// Verdicts of two groups at one level of ability: how many passed and failed.
struct Stratum {
    double focal_pass = 0.0, focal_fail = 0.0, reference_pass = 0.0, reference_fail = 0.0;
};

struct MantelHaenszel {
    std::optional<double> odds_ratio;  ///< odds of passing, focal over reference; 1 is no difference
    std::optional<Interval> interval;
    std::optional<double> chi_square, p;  ///< one degree of freedom, with the correction for continuity
    Warnings warnings;
};

/// Common odds ratio over strata: Mantel and Haenszel 1959, J Natl Cancer Inst 22:719-48; interval by the variance of
/// Robins, Breslow and Greenland 1986, Biometrics 42:311-23.
///
/// A warning is given where a group has fewer than 30 persons, or passes or failures are fewer than 5 (common practice,
/// no source), and where strata hold one group only and so tell nothing.
/// @param strata counts, whole numbers >= 0; at least one stratum
/// @throws InputError for another value, or when a group has nobody
[[nodiscard]] MantelHaenszel mantel_haenszel(std::span<const Stratum> strata, double confidence = kConfidence);

struct MeanDifference {
    double difference = 0.0;  ///< focal minus reference, in the score's unit
    Estimate standardised;    ///< Hedges' g: over the pooled standard deviation, corrected for small groups
    Warnings warnings;
};

/// Standardised mean difference: Hedges 1981, J Educ Stat 6:107-28; interval by the variance for large samples, times
/// the correction squared (Borenstein and others 2009, Introduction to Meta-Analysis, chapter 4).
/// @param focal, reference scores, at least 2 each
/// @throws InputError for fewer, values that are not finite, or no spread within groups
[[nodiscard]] MeanDifference mean_difference(std::span<const double> focal, std::span<const double> reference,
                                             double confidence = kConfidence);

}  // namespace statistics
