#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "tools/pk/statistics_sheet.hpp"

namespace pk {

/// What the kinds of `pk statistics` are asked with; each uses some of it.
struct StatisticsRequest {
    std::string kind, file, plot;
    double confidence = statistics::kConfidence;
    bool json = false;

    std::string weights = "quadratic";  // kappa
    int grades = 5;
    bool nested = false;  // gstudy
    std::optional<std::size_t> raters, cases;
    std::optional<double> cut;
    double maximum = 1.0;     // items
    std::string group;        // bias
    double borderline = 0.0;  // borderline
    std::uint64_t seed = 1;
    std::size_t resamples = 2000;
    std::string scores;                         // hofstee
    double adequate = 0.10, inadequate = 0.20;  // lccusum
    std::optional<double> limit;
    double false_pass = 0.05;
    std::size_t within = 50, charts = 1, runs = 20000;
    double acceptable = 0.10, unacceptable = 0.20, alpha = 0.10, beta = 0.10;  // cusum
    std::string shape = "exponential";                                         // curve
    std::optional<double> mark;
    std::size_t in_a_row = 1;
    bool falling = false;
};

StatisticsSheet icc_sheet(const StatisticsRequest& request);
StatisticsSheet kappa_sheet(const StatisticsRequest& request);
StatisticsSheet gstudy_sheet(const StatisticsRequest& request);
StatisticsSheet items_sheet(const StatisticsRequest& request);
StatisticsSheet bias_sheet(const StatisticsRequest& request);
StatisticsSheet borderline_sheet(const StatisticsRequest& request);
StatisticsSheet angoff_sheet(const StatisticsRequest& request);
StatisticsSheet hofstee_sheet(const StatisticsRequest& request);
StatisticsSheet lccusum_sheet(const StatisticsRequest& request);
StatisticsSheet cusum_sheet(const StatisticsRequest& request);
StatisticsSheet curve_sheet(const StatisticsRequest& request);

}  // namespace pk
