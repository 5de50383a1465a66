#include "engine/statistics/agreement.hpp"

#include <algorithm>
#include <cmath>

namespace statistics {

namespace {

constexpr double kNoSpread = 1e-13;      // of the total sum of squares: what rounding leaves of an exact agreement
constexpr std::size_t kFewTargets = 10;  // assumed

/// F, and its quantiles turned to the ends of an interval.
struct FRatio {
    double f = 0.0, df_above = 0.0, df_below = 0.0;
    Interval limits;

    FRatio(double above_ms, double below_ms, double df_above_, double df_below_, double alpha)
        : f(above_ms / below_ms), df_above(df_above_), df_below(df_below_) {
        limits = {f / f_quantile(1.0 - alpha / 2.0, df_above, df_below),
                  f * f_quantile(1.0 - alpha / 2.0, df_below, df_above)};
    }
};

/// Correlation of one judge's marks from a ratio of mean squares, and of the mean of k.
double single(double f, double k) { return (f - 1.0) / (f + k - 1.0); }
double average(double f) { return 1.0 - 1.0 / f; }
double spearman_brown(double icc, double k) { return k * icc / (1.0 + (k - 1.0) * icc); }

/// Interval of ICC(2,1), McGraw and Wong's ICC(A,1); none where Satterthwaite's degrees of freedom do not exist.
std::optional<Interval> absolute_interval(const AgreementAnova& anova, double icc, double alpha) {
    const auto n = static_cast<double>(anova.targets), k = static_cast<double>(anova.judges);
    const double a = k * icc / (n * (1.0 - icc));
    const double b = 1.0 + k * icc * (n - 1.0) / (n * (1.0 - icc));
    const double part_j = a * anova.judges_ms, part_e = b * anova.error_ms;
    const double v = (part_j + part_e) * (part_j + part_e) /
                     (part_j * part_j / (k - 1.0) + part_e * part_e / ((n - 1.0) * (k - 1.0)));
    if (!(v > 1e-3 && std::isfinite(v))) return {};
    const double lower_f = f_quantile(1.0 - alpha / 2.0, n - 1.0, v);
    const double upper_f = f_quantile(1.0 - alpha / 2.0, v, n - 1.0);
    const double rest = k * anova.judges_ms + (k * n - k - n) * anova.error_ms;
    if (!std::isfinite(lower_f) || !std::isfinite(upper_f)) return {};
    return Interval{n * (anova.between_ms - lower_f * anova.error_ms) / (lower_f * rest + n * anova.between_ms),
                    n * (upper_f * anova.between_ms - anova.error_ms) / (rest + n * upper_f * anova.between_ms)};
}

void fill_f(IntraclassCorrelation& form, const FRatio& ratio) {
    form.f = ratio.f;
    form.p = f_above(ratio.f, ratio.df_above, ratio.df_below);
}

/// (1,.) or (3,.), one judge and the mean of k: exact by F. Without spread below, the correlation is 1.
void fill_by_f(IntraclassCorrelation& one, IntraclassCorrelation& mean, double above_ms, double below_ms, double k,
               double alpha, bool no_spread) {
    if (no_spread) {
        one.icc = mean.icc = Estimate{1.0, {}};
        return;
    }
    const FRatio ratio(above_ms, below_ms, one.df_above, one.df_below, alpha);
    one.icc = Estimate{single(ratio.f, k), Interval{single(ratio.limits.low, k), single(ratio.limits.high, k)}};
    mean.icc = Estimate{average(ratio.f), Interval{average(ratio.limits.low), average(ratio.limits.high)}};
    fill_f(one, ratio);
    fill_f(mean, ratio);
}

void fill_absolute(IntraclassCorrelation& one, IntraclassCorrelation& mean, const AgreementAnova& anova, double alpha,
                   bool no_error) {
    const auto n = static_cast<double>(anova.targets), k = static_cast<double>(anova.judges);
    const double difference = anova.between_ms - anova.error_ms;
    one.icc = Estimate{
        difference / (anova.between_ms + (k - 1.0) * anova.error_ms + k * (anova.judges_ms - anova.error_ms) / n), {}};
    const double mean_total = anova.between_ms + (anova.judges_ms - anova.error_ms) / n;
    if (mean_total > kNoSpread * anova.between_ms) mean.icc = Estimate{difference / mean_total, {}};
    if (no_error) return;
    one.icc->interval = absolute_interval(anova, one.icc->value, alpha);
    // Spearman and Brown's formula has a pole at -1 / (k - 1): from there down the mean's interval has no lower end
    if (const auto& limits = one.icc->interval; mean.icc && limits && 1.0 + (k - 1.0) * limits->low > 1e-9)
        mean.icc->interval = Interval{spearman_brown(limits->low, k), spearman_brown(limits->high, k)};
    const FRatio ratio(anova.between_ms, anova.error_ms, one.df_above, one.df_below, alpha);
    fill_f(one, ratio);
    fill_f(mean, ratio);
}

std::array<IntraclassCorrelation, 6> named_forms(double n, double k) {
    std::array<IntraclassCorrelation, 6> forms{
        {{"ICC(1,1)", "one mark, each target with judges of its own", {}, {}, {}, n - 1.0, n * (k - 1.0)},
         {"ICC(2,1)",
          "one judge's mark, judges a sample, absolute agreement",
          {},
          {},
          {},
          n - 1.0,
          (n - 1.0) * (k - 1.0)},
         {"ICC(3,1)", "one judge's mark, these judges alone, consistency", {}, {}, {}, n - 1.0, (n - 1.0) * (k - 1.0)},
         {"ICC(1,k)", "mean mark, each target with judges of its own", {}, {}, {}, n - 1.0, n * (k - 1.0)},
         {"ICC(2,k)", "mean mark, judges a sample, absolute agreement", {}, {}, {}, n - 1.0, (n - 1.0) * (k - 1.0)},
         {"ICC(3,k)", "mean mark, these judges alone, consistency", {}, {}, {}, n - 1.0, (n - 1.0) * (k - 1.0)}}};
    return forms;
}

double weight(Eigen::Index i, Eigen::Index j, Eigen::Index q, KappaWeights weights) {
    const double apart = std::abs(static_cast<double>(i - j)) / static_cast<double>(q - 1);
    if (weights == KappaWeights::unweighted) return i == j ? 1.0 : 0.0;
    return weights == KappaWeights::linear ? 1.0 - apart : 1.0 - apart * apart;
}

void check_counts(const Matrix& counts) {
    require_shape("counts", counts, 2, 2);
    if (counts.rows() != counts.cols())
        throw InputError("counts",
                         std::to_string(counts.rows()) + " rows by " + std::to_string(counts.cols()) + " columns",
                         "as many rows as columns");
    require_finite("counts", counts);
    for (Eigen::Index r = 0; r < counts.rows(); ++r)
        for (Eigen::Index c = 0; c < counts.cols(); ++c)
            if (!(counts(r, c) >= 0.0) || counts(r, c) != std::floor(counts(r, c)))
                throw InputError("counts, row " + std::to_string(r + 1) + ", column " + std::to_string(c + 1),
                                 counts(r, c), "a whole number, at least 0");
}

}  // namespace

AgreementAnova agreement_anova(const Matrix& marks) {
    require_shape("marks", marks, 2, 2);
    require_finite("marks", marks);
    AgreementAnova out;
    out.targets = static_cast<std::size_t>(marks.rows());
    out.judges = static_cast<std::size_t>(marks.cols());
    const auto n = static_cast<double>(out.targets), k = static_cast<double>(out.judges);
    const double grand = marks.mean();
    const Vector target_means = marks.rowwise().mean();
    const Vector judge_means = marks.colwise().mean().transpose();
    const Matrix within = marks.colwise() - target_means;
    const Matrix rest = within.rowwise() - (judge_means.array() - grand).matrix().transpose();
    out.between_ms = k * (target_means.array() - grand).square().sum() / (n - 1.0);
    out.within_ms = within.array().square().sum() / (n * (k - 1.0));
    out.judges_ms = n * (judge_means.array() - grand).square().sum() / (k - 1.0);
    out.error_ms = rest.array().square().sum() / ((n - 1.0) * (k - 1.0));
    return out;
}

IntraclassCorrelations intraclass_correlations(const Matrix& marks, double confidence) {
    require_share("confidence", confidence);
    IntraclassCorrelations out{agreement_anova(marks), {}, {}};
    const auto n = static_cast<double>(out.anova.targets), k = static_cast<double>(out.anova.judges);
    const double total = (marks.array() - marks.mean()).square().sum();
    if (!(total > kNoSpread * marks.array().square().sum()))
        throw InputError("marks", "the same mark in every cell", "marks that differ");
    const bool no_within = out.anova.within_ms * n * (k - 1.0) <= kNoSpread * total;
    const bool no_error = out.anova.error_ms * (n - 1.0) * (k - 1.0) <= kNoSpread * total;
    const bool no_between = out.anova.between_ms * (n - 1.0) <= kNoSpread * total;
    if (no_between) throw InputError("marks", "every target with the same mean mark", "targets that differ");
    out.forms = named_forms(n, k);
    const double alpha = 1.0 - confidence;
    fill_by_f(out.forms[0], out.forms[3], out.anova.between_ms, out.anova.within_ms, k, alpha, no_within);
    fill_absolute(out.forms[1], out.forms[4], out.anova, alpha, no_error);
    fill_by_f(out.forms[2], out.forms[5], out.anova.between_ms, out.anova.error_ms, k, alpha, no_error);
    for (const IntraclassCorrelation& form : out.forms)
        if (form.icc && form.icc->value < 0.0) {
            out.warnings.push_back("A negative correlation: targets differ less than marks of one target do.");
            break;
        }
    if (!out.forms[4].icc) out.warnings.emplace_back("ICC(2,k) is not defined for these marks.");
    if (out.forms[4].icc && !out.forms[4].icc->interval && !no_error)
        out.warnings.emplace_back("The interval of ICC(2,k) has no lower end and is left out.");
    if (no_error) out.warnings.emplace_back("Judges rank and space the targets exactly alike: there is no interval.");
    if (out.anova.targets < kFewTargets)
        out.warnings.push_back("Only " + std::to_string(out.anova.targets) +
                               " targets: read the interval, not the value.");
    return out;
}

Kappa kappa(const Matrix& counts, KappaWeights weights, double confidence) {
    check_counts(counts);
    require_share("confidence", confidence);
    const double total = counts.sum();
    if (!(total > 0.0)) throw InputError("counts", "no pair of grades", "at least one");
    const Eigen::Index q = counts.rows();
    const Matrix p = counts / total;
    const Vector rows = p.rowwise().sum(), columns = p.colwise().sum().transpose();
    Matrix w(q, q);
    for (Eigen::Index i = 0; i < q; ++i)
        for (Eigen::Index j = 0; j < q; ++j) w(i, j) = weight(i, j, q, weights);
    Kappa out;
    out.observed = (w.array() * p.array()).sum();
    out.expected = rows.dot(w * columns);
    const double room = 1.0 - out.expected;
    if (!(room > kNoSpread)) throw InputError("counts", "all pairs in one grade", "at least two grades used");
    out.kappa.value = (out.observed - out.expected) / room;

    // Fleiss, Cohen and Everitt 1969, equations 8 and 9
    const Vector row_weight = w * columns, column_weight = w.transpose() * rows;
    double about = 0.0, null = 0.0;
    for (Eigen::Index i = 0; i < q; ++i)
        for (Eigen::Index j = 0; j < q; ++j) {
            const double both = row_weight(i) + column_weight(j);
            const double term = w(i, j) * room - both * (1.0 - out.observed);
            about += p(i, j) * term * term;
            null += rows(i) * columns(j) * (w(i, j) - both) * (w(i, j) - both);
        }
    const double centre = out.observed * out.expected - 2.0 * out.expected + out.observed;
    out.standard_error = std::sqrt(std::max(0.0, about - centre * centre) / total) / (room * room);
    out.null_standard_error = std::sqrt(std::max(0.0, null - out.expected * out.expected) / total) / room;
    const double half = normal_quantile(0.5 + confidence / 2.0) * out.standard_error;
    if (out.standard_error > 0.0)
        out.kappa.interval = Interval{std::max(-1.0, out.kappa.value - half), std::min(1.0, out.kappa.value + half)};
    else
        out.warnings.push_back(
            "No disagreement was seen: the interval for large samples has no width and is left out.");
    // assumed; Cicchetti 1981 asks for 2 q^2 (from memory)
    if (total < 2.0 * static_cast<double>(q * q))
        out.warnings.push_back("Fewer pairs than twice the number of cells: the interval is for large samples.");
    return out;
}

Matrix count_grades(std::span<const int> one, std::span<const int> other, int q) {
    if (q < 2) throw InputError("grades", std::to_string(q) + " grades", "at least 2");
    require_count("grades", one.size(), 1);
    require_as_long("grades of the other rater", other.size(), one.size());
    Matrix counts = Matrix::Zero(q, q);
    for (std::size_t i = 0; i < one.size(); ++i) {
        for (const int grade : {one[i], other[i]})
            if (grade < 0 || grade >= q)
                throw InputError("pair " + std::to_string(i + 1), std::to_string(grade),
                                 "a grade from 0 to " + std::to_string(q - 1));
        counts(one[i], other[i]) += 1.0;
    }
    return counts;
}

}  // namespace statistics
