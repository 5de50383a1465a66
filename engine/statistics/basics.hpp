#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/core/errors.hpp"

/// What all figures here share: intervals, quantiles, and refusing tables that are none.

namespace statistics {

using sim::InputError;
using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;

/// From low to high at the confidence that was asked for; in the unit of the figure it belongs to.
struct Interval {
    double low = 0.0, high = 0.0;
};

/// A figure with its interval. No interval: the data do not give one (no spread, too few).
struct Estimate {
    double value = 0.0;
    std::optional<Interval> interval;
};

using Warnings = std::vector<std::string>;  ///< sentences for people, in English

inline constexpr double kConfidence = 0.95;
inline constexpr double kLargest = 1e50;  ///< of a value, either sign: fourth powers of it are still numbers

/// A finite number within kLargest.
[[nodiscard]] bool usable(double value);
inline constexpr const char* kUsable = "a finite number, at most 1e50 from 0";

/// Value below which a share p of the distribution lies, 0 < p < 1. Degrees of freedom > 0, need not be whole.
/// NaN or infinity where there is none.
[[nodiscard]] double normal_quantile(double p);
[[nodiscard]] double t_quantile(double p, double df);
[[nodiscard]] double f_quantile(double p, double df_above, double df_below);

/// Share of the standard normal distribution below z.
[[nodiscard]] double normal_below(double z);
/// Share of an F distribution above f >= 0.
[[nodiscard]] double f_above(double f, double df_above, double df_below);

/// @throws InputError naming the row and column, from 1, of the first value that is not usable
void require_finite(const std::string& place, const Matrix& values);
void require_finite(const std::string& place, std::span<const double> values);
/// @throws InputError when a table has fewer rows or columns than that
void require_shape(const std::string& place, const Matrix& values, Eigen::Index least_rows, Eigen::Index least_columns);
/// @throws InputError unless it is a share strictly between 0 and 1
void require_share(const std::string& place, double value);
/// @throws InputError unless both are such shares and the first is below the second
void require_rates(const std::string& low_place, double low, const std::string& high_place, double high);
/// @throws InputError unless there are that many
void require_count(const std::string& place, std::size_t count, std::size_t least);
/// @throws InputError unless both are as long
void require_as_long(const std::string& place, std::size_t count, std::size_t as_long_as);

/// Mean and the variance over n - 1. @pre not empty; the variance of one value is 0
[[nodiscard]] double mean_of(std::span<const double> values);
[[nodiscard]] double variance_of(std::span<const double> values);

/// Linear between order statistics (type 7 of Hyndman and Fan 1996, Am Stat 50:361-5). @param sorted ascending, not
/// empty
[[nodiscard]] double quantile_of(std::span<const double> sorted, double p);

/// "4.25": at most four significant digits, for sentences.
[[nodiscard]] std::string words_of(double value);

}  // namespace statistics
