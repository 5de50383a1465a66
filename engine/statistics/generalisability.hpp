#pragma once

#include <string_view>

#include "engine/statistics/basics.hpp"

/// Generalisability theory: where the spread of marks comes from, and how many raters and cases a decision needs.
///
/// Notation of Brennan 2001, Generalizability Theory. All facets are random samples; tables are complete and balanced.

namespace statistics {

enum class Design {
    persons_raters,              ///< p x r: every rater marks every person
    persons_raters_cases,        ///< p x r x c: every rater marks every person on every case
    persons_raters_within_cases  ///< p x (r:c): each case has raters of its own, who mark every person
};

/// What a part of the variance belongs to.
enum class Source { person, rater, case_, person_rater, person_case, rater_case, residual };

/// One part of the variance of a single mark.
struct VarianceComponent {
    Source source = Source::person;
    std::string_view name;  ///< "person", "rater within case", "person x case"
    double df = 0.0, ms = 0.0;
    double estimate = 0.0;  ///< as the mean squares give it, in the mark's unit squared; may be below 0
    double variance = 0.0;  ///< what is gone on with: the estimate, or 0 for one below 0
    double share = 0.0;     ///< of the sum of all variances, 0 to 1
    [[nodiscard]] bool negative() const { return estimate < 0.0; }
};

/// Marks of a complete table.
struct MarkCube {
    std::size_t persons = 0, raters = 0, cases = 1;  ///< raters: of each case where they are within cases
    std::vector<double> marks;                       ///< (persons x cases x raters), raters fastest

    [[nodiscard]] double at(std::size_t person, std::size_t case_, std::size_t rater) const {
        return marks[(person * cases + case_) * raters + rater];
    }
};

struct GStudy {
    Design design = Design::persons_raters;
    std::size_t persons = 0, raters = 0, cases = 0;
    double mean = 0.0;
    std::vector<VarianceComponent> components;  ///< in the order of the analysis of variance
    std::vector<double> person_means;           ///< (persons)
    std::vector<double> person_error_ms;        ///< (persons) spread of a person's marks, over n - 1; p x r only
    Warnings warnings;

    [[nodiscard]] double variance(Source source) const;  ///< 0 for one that the design does not part off
};

/// Variance components from mean squares set equal to what is expected of them (Brennan 2001, chapters 3 and 5;
/// Shavelson and Webb 1991). An estimate below 0 is gone on with as 0, and a warning names it.
///
/// @param cube persons >= 2, raters >= 2, cases >= 2 (1 for persons_raters)
/// @throws InputError for other shapes, a list that is not persons x cases x raters long, values that are not finite,
/// or
///         marks that are all the same
[[nodiscard]] GStudy generalisability_study(const MarkCube& cube, Design design);

/// What a decision would rest on with so many raters and cases.
struct DecisionStudy {
    std::size_t raters = 0, cases = 0;  ///< raters: of each case where they are within cases
    double relative_error_variance = 0.0, absolute_error_variance = 0.0;
    std::optional<double> g, phi;  ///< 0 to 1; nothing when there is no variance at all
    double sem_relative = 0.0;     ///< standard errors of measurement, in the mark's unit
    double sem_absolute = 0.0;
};

/// Mean of `raters` raters and `cases` cases (1 for persons_raters): Brennan 2001, equations for delta and Delta.
/// @throws InputError for 0 of either, more than 1000, or cases other than 1 in p x r
[[nodiscard]] DecisionStudy decision_study(const GStudy& study, std::size_t raters, std::size_t cases);

/// How far a pass mark can be relied on.
struct CutStudy {
    double cut = 0.0;
    std::optional<double> phi_lambda;  ///< 0 to 1
    double sem = 0.0;                  ///< absolute standard error of measurement, all persons
    /// Of those whose mean lies within one such error of the cut, p x r with the raters of the study; and how many they
    /// are.
    std::optional<double> sem_near_cut;
    std::size_t persons_near_cut = 0;
    Interval doubtful;               ///< observed marks whose interval of measurement holds the cut
    double consistency = 0.0;        ///< share with the same verdict from another sample of raters and cases
    double consistency_kappa = 0.0;  ///< beyond chance
    double accuracy = 0.0;           ///< share whose verdict is that of their universe score
    Warnings warnings;
};

/// Brennan and Kane 1977, J Educ Meas 14:277-89, for phi(lambda), with their correction for the mean's own error (a
/// squared distance below 0 becomes 0); the standard error near the cut from each person's own spread (Brennan 1998,
/// Appl Psychol Meas 22:307-31).
///
/// Consistency and accuracy take universe scores and errors as normal (Peng and Subkoviak 1980, J Educ Meas 17:359-68):
/// two occasions are a bivariate normal pair with correlation phi, since each draws raters and cases anew for each
/// person.
/// @param cut in the mark's unit; a mean mark at or above it passes
/// @throws InputError for a cut or confidence that is no such number
[[nodiscard]] CutStudy cut_study(const GStudy& study, const DecisionStudy& decision, double cut,
                                 double confidence = kConfidence);

/// P(X >= h and Y >= k) of a standard bivariate normal pair with correlation rho, -1 < rho < 1; by quadrature, to
/// 1e-10.
[[nodiscard]] double both_above(double h, double k, double rho);

}  // namespace statistics
