#include "engine/statistics/basics.hpp"

#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <cstdio>

namespace statistics {

namespace {

/// Where a quantile does not exist: infinity or NaN for the caller to look at, no exception.
using Quiet =
    boost::math::policies::policy<boost::math::policies::domain_error<boost::math::policies::ignore_error>,
                                  boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
                                  boost::math::policies::evaluation_error<boost::math::policies::ignore_error>>;
using Normal = boost::math::normal_distribution<double, Quiet>;
using StudentsT = boost::math::students_t_distribution<double, Quiet>;
using FisherF = boost::math::fisher_f_distribution<double, Quiet>;

std::string cell(const std::string& place, Eigen::Index row, Eigen::Index column) {
    return place + ", row " + std::to_string(row + 1) + ", column " + std::to_string(column + 1);
}

}  // namespace

double normal_quantile(double p) { return boost::math::quantile(Normal(), p); }

double t_quantile(double p, double df) { return boost::math::quantile(StudentsT(df), p); }

double f_quantile(double p, double df_above, double df_below) {
    return boost::math::quantile(FisherF(df_above, df_below), p);
}

double normal_below(double z) { return boost::math::cdf(Normal(), z); }

double f_above(double f, double df_above, double df_below) {
    return boost::math::cdf(boost::math::complement(FisherF(df_above, df_below), f));
}

bool usable(double value) { return std::abs(value) <= kLargest; }

void require_finite(const std::string& place, const Matrix& values) {
    for (Eigen::Index r = 0; r < values.rows(); ++r)
        for (Eigen::Index c = 0; c < values.cols(); ++c)
            if (!usable(values(r, c))) throw InputError(cell(place, r, c), values(r, c), kUsable);
}

void require_finite(const std::string& place, std::span<const double> values) {
    for (std::size_t i = 0; i < values.size(); ++i)
        if (!usable(values[i])) throw InputError(place + ", number " + std::to_string(i + 1), values[i], kUsable);
}

void require_shape(const std::string& place, const Matrix& values, Eigen::Index least_rows,
                   Eigen::Index least_columns) {
    if (values.rows() >= least_rows && values.cols() >= least_columns) return;
    throw InputError(place, std::to_string(values.rows()) + " rows by " + std::to_string(values.cols()) + " columns",
                     "at least " + std::to_string(least_rows) + " by " + std::to_string(least_columns));
}

void require_share(const std::string& place, double value) {
    if (!(value > 0.0 && value < 1.0)) throw InputError(place, value, "between 0 and 1, neither of them");
}

void require_rates(const std::string& low_place, double low, const std::string& high_place, double high) {
    require_share(low_place, low);
    require_share(high_place, high);
    if (!(low < high)) throw InputError(high_place, high, "above " + words_of(low) + ", the " + low_place);
}

void require_count(const std::string& place, std::size_t count, std::size_t least) {
    if (count < least) throw InputError(place, std::to_string(count) + " values", "at least " + std::to_string(least));
}

void require_as_long(const std::string& place, std::size_t count, std::size_t as_long_as) {
    if (count != as_long_as)
        throw InputError(place, std::to_string(count) + " values",
                         std::to_string(as_long_as) + ", as many as the other list");
}

double mean_of(std::span<const double> values) {
    double sum = 0.0;
    for (const double value : values) sum += value;
    return sum / static_cast<double>(values.size());
}

double variance_of(std::span<const double> values) {
    if (values.size() < 2) return 0.0;
    const double mean = mean_of(values);
    double sum = 0.0;
    for (const double value : values) sum += (value - mean) * (value - mean);
    return sum / static_cast<double>(values.size() - 1);
}

double quantile_of(std::span<const double> sorted, double p) {
    const double at = p * static_cast<double>(sorted.size() - 1);
    const auto below = static_cast<std::size_t>(std::floor(at));
    if (below + 1 >= sorted.size()) return sorted.back();
    return sorted[below] + (at - static_cast<double>(below)) * (sorted[below + 1] - sorted[below]);
}

std::string words_of(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.4g", value);
    return text;
}

}  // namespace statistics
