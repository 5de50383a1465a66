#pragma once

#include "engine/files/statistics_tables.hpp"
#include "engine/statistics/cusum.hpp"
#include "engine/statistics/learning_curve.hpp"
#include "tools/pk/statistics.hpp"

/// Plots of pk statistics, each a sheet of its own. All do nothing when the request names no file to plot to.

namespace pk {

void plot_components(const StatisticsRequest& request, const statistics::GStudy& study);
void plot_borderline(const StatisticsRequest& request, std::span<const double> grades, std::span<const double> scores,
                     const statistics::BorderlineRegression& fit);

/// One learner's line of a chart, over attempts.
struct PlottedLine {
    std::string learner;
    std::vector<double> attempts, values;
    std::vector<std::size_t> marked{};  ///< where a limit was crossed, places from 0
};
void plot_learning_charts(const StatisticsRequest& request, const std::vector<PlottedLine>& lines, double limit);
void plot_failure_charts(const StatisticsRequest& request, const std::vector<PlottedLine>& lines,
                         const statistics::SequentialLimits& limits);
/// @param fits the curves that are drawn through; the last one is the pooled one where there is more than one learner
void plot_curves(const StatisticsRequest& request, const std::vector<files::LearnerSeries>& learners,
                 const std::vector<statistics::LearningCurve>& fits);

}  // namespace pk
