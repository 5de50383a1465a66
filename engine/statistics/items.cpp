#include "engine/statistics/items.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

namespace statistics {

namespace {

constexpr double kNoSpread = 1e-12;      // of a variance, relative to the mean squared
constexpr std::size_t kFewPersons = 30;  // common practice, no source
constexpr double kFewVerdicts = 5.0;     // common practice, no source

double variance(const Vector& values) { return variance_of({values.data(), static_cast<std::size_t>(values.size())}); }

bool varies(const Vector& values) { return variance(values) > kNoSpread * values.squaredNorm(); }

std::optional<double> correlation(const Vector& a, const Vector& b) {
    if (!varies(a) || !varies(b)) return {};
    const Vector da = (a.array() - a.mean()).matrix(), db = (b.array() - b.mean()).matrix();
    return std::clamp(da.dot(db) / std::sqrt(da.squaredNorm() * db.squaredNorm()), -1.0, 1.0);
}

std::optional<double> alpha_of(const Matrix& marks) {
    const Vector totals = marks.rowwise().sum();
    if (marks.cols() < 2 || !varies(totals)) return {};
    double parts = 0.0;
    for (Eigen::Index i = 0; i < marks.cols(); ++i) parts += variance(marks.col(i));
    const auto m = static_cast<double>(marks.cols());
    return m / (m - 1.0) * (1.0 - parts / variance(totals));
}

Matrix without_column(const Matrix& marks, Eigen::Index column) {
    Matrix out(marks.rows(), marks.cols() - 1);
    out << marks.leftCols(column), marks.rightCols(marks.cols() - column - 1);
    return out;
}

void check_marks(const Matrix& marks, std::span<const double> maxima) {
    require_shape("marks", marks, 3, 2);
    require_finite("marks", marks);
    require_as_long("maxima", maxima.size(), static_cast<std::size_t>(marks.cols()));
    for (Eigen::Index c = 0; c < marks.cols(); ++c) {
        const double most = maxima[static_cast<std::size_t>(c)];
        if (!(most > 0.0 && usable(most)))
            throw InputError("maximum of item " + std::to_string(c + 1), most, "a number above 0");
        for (Eigen::Index r = 0; r < marks.rows(); ++r)
            if (!(marks(r, c) >= 0.0 && marks(r, c) <= most))
                throw InputError("marks, row " + std::to_string(r + 1) + ", column " + std::to_string(c + 1),
                                 marks(r, c), sim::range_text(0.0, most));
    }
}

struct Sums {
    double focal = 0.0, reference = 0.0, pass = 0.0, fail = 0.0, useless = 0.0;
};

Sums check_strata(std::span<const Stratum> strata) {
    require_count("strata", strata.size(), 1);
    Sums sums;
    for (std::size_t i = 0; i < strata.size(); ++i) {
        const Stratum& s = strata[i];
        for (const double count : {s.focal_pass, s.focal_fail, s.reference_pass, s.reference_fail})
            if (!(count >= 0.0 && usable(count)) || count != std::floor(count))
                throw InputError("stratum " + std::to_string(i + 1), count, "a whole number, at least 0");
        const double focal = s.focal_pass + s.focal_fail, reference = s.reference_pass + s.reference_fail;
        sums.focal += focal, sums.reference += reference;
        sums.pass += s.focal_pass + s.reference_pass, sums.fail += s.focal_fail + s.reference_fail;
        if (focal == 0.0 || reference == 0.0) sums.useless += focal + reference;
    }
    if (sums.focal == 0.0) throw InputError("focal group", "nobody", "at least one person");
    if (sums.reference == 0.0) throw InputError("reference group", "nobody", "at least one person");
    return sums;
}

void warn_of_few(Warnings& warnings, double focal, double reference) {
    if (std::min(focal, reference) < static_cast<double>(kFewPersons))
        warnings.push_back("Fewer than 30 in a group (" + words_of(focal) + " and " + words_of(reference) +
                           "): no difference seen is not no difference.");
}

/// Chi-square of the sum over strata, corrected for continuity.
void test_of_no_difference(std::span<const Stratum> strata, MantelHaenszel& out) {
    double excess = 0.0, variance = 0.0;
    for (const Stratum& s : strata) {
        const double focal = s.focal_pass + s.focal_fail, reference = s.reference_pass + s.reference_fail;
        const double pass = s.focal_pass + s.reference_pass, fail = s.focal_fail + s.reference_fail;
        const double n = focal + reference;
        if (n < 2.0) continue;
        excess += s.focal_pass - focal * pass / n;
        variance += focal * reference * pass * fail / (n * n * (n - 1.0));
    }
    if (!(variance > 0.0)) return;
    const double corrected = std::max(0.0, std::abs(excess) - 0.5);
    out.chi_square = corrected * corrected / variance;
    out.p = boost::math::cdf(boost::math::complement(boost::math::chi_squared_distribution<>(1.0), *out.chi_square));
}

}  // namespace

ItemAnalysis item_analysis(const Matrix& marks, std::span<const double> maxima, double confidence) {
    require_share("confidence", confidence);
    check_marks(marks, maxima);
    ItemAnalysis out;
    const Vector totals = marks.rowwise().sum();
    out.total_mean = totals.mean();
    out.total_sd = std::sqrt(variance(totals));
    out.alpha = alpha_of(marks);
    for (Eigen::Index i = 0; i < marks.cols(); ++i) {
        Item item;
        item.mean = marks.col(i).mean();
        item.difficulty = item.mean / maxima[static_cast<std::size_t>(i)];
        item.discrimination = correlation(marks.col(i), totals - marks.col(i));
        item.alpha_without = alpha_of(without_column(marks, i));
        if (item.discrimination && *item.discrimination < 0.0)
            out.warnings.push_back("Item " + std::to_string(i + 1) +
                                   " goes against the others: those who do well elsewhere do worse in it.");
        out.items.push_back(item);
    }
    if (out.alpha && *out.alpha < 1.0) {
        const auto n = static_cast<double>(marks.rows()), m = static_cast<double>(marks.cols());
        const double above = n - 1.0, below = (n - 1.0) * (m - 1.0), tail = (1.0 - confidence) / 2.0;
        out.alpha_interval = Interval{1.0 - (1.0 - *out.alpha) * f_quantile(1.0 - tail, above, below),
                                      1.0 - (1.0 - *out.alpha) * f_quantile(tail, above, below)};
    }
    if (!out.alpha) out.warnings.push_back("All persons have the same total: items cannot be told apart.");
    if (marks.rows() < static_cast<Eigen::Index>(kFewPersons))
        out.warnings.push_back("Only " + std::to_string(marks.rows()) + " persons: figures of single items are rough.");
    return out;
}

MantelHaenszel mantel_haenszel(std::span<const Stratum> strata, double confidence) {
    require_share("confidence", confidence);
    const Sums sums = check_strata(strata);
    MantelHaenszel out;
    // Robins, Breslow and Greenland 1986: R and S of each stratum, P and Q the shares of its diagonals
    double r_sum = 0.0, s_sum = 0.0, pr = 0.0, ps_qr = 0.0, qs = 0.0;
    for (const Stratum& s : strata) {
        const double n = s.focal_pass + s.focal_fail + s.reference_pass + s.reference_fail;
        if (n == 0.0) continue;
        const double r = s.focal_pass * s.reference_fail / n, t = s.focal_fail * s.reference_pass / n;
        const double p = (s.focal_pass + s.reference_fail) / n, q = (s.focal_fail + s.reference_pass) / n;
        r_sum += r, s_sum += t, pr += p * r, ps_qr += p * t + q * r, qs += q * t;
    }
    if (r_sum > 0.0 && s_sum > 0.0) {
        out.odds_ratio = r_sum / s_sum;
        const double log_variance =
            pr / (2.0 * r_sum * r_sum) + ps_qr / (2.0 * r_sum * s_sum) + qs / (2.0 * s_sum * s_sum);
        const double factor = std::exp(normal_quantile(0.5 + confidence / 2.0) * std::sqrt(log_variance));
        out.interval = Interval{*out.odds_ratio / factor, *out.odds_ratio * factor};
    } else {
        out.warnings.push_back("One group never passes or never fails beside the other: there is no odds ratio.");
    }
    test_of_no_difference(strata, out);
    warn_of_few(out.warnings, sums.focal, sums.reference);
    if (std::min(sums.pass, sums.fail) < kFewVerdicts)
        out.warnings.push_back("Fewer than 5 passes or failures: the interval is for larger numbers.");
    if (sums.useless > 0.0)
        out.warnings.push_back(words_of(sums.useless) + " persons stand in strata of one group only and tell nothing.");
    return out;
}

MeanDifference mean_difference(std::span<const double> focal, std::span<const double> reference, double confidence) {
    require_share("confidence", confidence);
    require_count("focal group", focal.size(), 2);
    require_count("reference group", reference.size(), 2);
    require_finite("focal group", focal);
    require_finite("reference group", reference);
    const auto n1 = static_cast<double>(focal.size()), n2 = static_cast<double>(reference.size());
    const double df = n1 + n2 - 2.0;
    const double pooled = ((n1 - 1.0) * variance_of(focal) + (n2 - 1.0) * variance_of(reference)) / df;
    const double scale = std::max(mean_of(focal) * mean_of(focal), mean_of(reference) * mean_of(reference));
    if (!(pooled > kNoSpread * scale)) throw InputError("scores", "no spread within the groups", "scores that differ");
    MeanDifference out;
    out.difference = mean_of(focal) - mean_of(reference);
    const double d = out.difference / std::sqrt(pooled), correction = 1.0 - 3.0 / (4.0 * df - 1.0);
    out.standardised.value = correction * d;
    const double standard_error = correction * std::sqrt((n1 + n2) / (n1 * n2) + d * d / (2.0 * (n1 + n2)));
    const double half = normal_quantile(0.5 + confidence / 2.0) * standard_error;
    out.standardised.interval = Interval{out.standardised.value - half, out.standardised.value + half};
    warn_of_few(out.warnings, n1, n2);
    return out;
}

}  // namespace statistics
