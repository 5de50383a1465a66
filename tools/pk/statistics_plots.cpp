#include "tools/pk/statistics_plots.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/files/bytes.hpp"
#include "engine/report/chart_sheet.hpp"
#include "engine/view/chart_plot.hpp"
#include "engine/view/plot_axes.hpp"

namespace pk {

namespace {

using view::Chart;
using view::Colour;

constexpr std::size_t kNamedLines = 8;  // more are drawn quietly, without names
constexpr Colour kSky{0.337, 0.706, 0.914, 0.25};

// Okabe and Ito 2008, its yellow darker to be read on paper, a brown and two greys: as many as there are named lines
constexpr Colour kLineColours[kNamedLines] = {view::kBlue,           view::kVermilion,      view::kGreen,
                                              {0.800, 0.475, 0.655}, {0.700, 0.460, 0.000}, {0.450, 0.250, 0.080},
                                              {0.400, 0.400, 0.400}, {0.130, 0.130, 0.130}};
constexpr Colour kManyLines{0.38, 0.38, 0.38, 0.45};

void write(const StatisticsRequest& request, const std::string& title,
           const std::function<void(view::Canvas&, const view::CanvasRect&, double)>& draw) {
    const auto kind = request.plot.ends_with(".svg") ? report::ChartFile::svg : report::ChartFile::pdf;
    files::write_atomically(request.plot, report::chart_sheet(kind, title, std::string(kStatisticsCaution), draw));
}

void write_chart(const StatisticsRequest& request, const std::string& title, const Chart& chart) {
    write(request, title, [&](view::Canvas& canvas, const view::CanvasRect& where, double type) {
        view::draw_chart(canvas, where, chart, type);
    });
}

/// A name that leaves room for the lines: at most so many characters.
std::string shortened(const std::string& name) {
    constexpr std::size_t kMost = 18;
    std::size_t characters = 0;
    for (std::size_t i = 0; i < name.size(); ++i) {
        if ((static_cast<unsigned char>(name[i]) & 0xC0U) == 0x80U) continue;
        if (++characters > kMost) return name.substr(0, i) + "...";
    }
    return name;
}

view::ChartSeries series_of(const PlottedLine& line, std::size_t place, std::size_t lines) {
    view::ChartSeries series;
    const bool named = lines <= kNamedLines;
    if (named) series.name = shortened(line.learner);
    series.colour = named ? kLineColours[place] : kManyLines;
    for (std::size_t i = 0; i < line.values.size(); ++i) series.points.push_back({line.attempts[i], line.values[i]});
    return series;
}

/// Lines, and dots where a limit was crossed.
void add_lines(Chart& chart, const std::vector<PlottedLine>& lines) {
    for (std::size_t i = 0; i < lines.size(); ++i) {
        chart.series.push_back(series_of(lines[i], i, lines.size()));
        view::ChartSeries crossed = chart.series.back();
        crossed.name.clear(), crossed.points.clear();
        crossed.dots = true, crossed.lines = false;
        for (const std::size_t place : lines[i].marked)
            crossed.points.push_back({lines[i].attempts[place], lines[i].values[place]});
        if (!crossed.points.empty()) chart.series.push_back(std::move(crossed));
    }
}

}  // namespace

void plot_components(const StatisticsRequest& request, const statistics::GStudy& study) {
    if (request.plot.empty()) return;
    std::vector<view::Bar> bars;
    for (const statistics::VarianceComponent& part : study.components)
        bars.push_back({std::string(part.name), 100.0 * part.share,
                        part.negative() ? "below 0, taken as 0" : fmt::format("{:.0f} %", 100.0 * part.share)});
    write(request, "Where the spread of one mark comes from",
          [&](view::Canvas& canvas, const view::CanvasRect& where, double type) {
              view::draw_bars(canvas, where, bars, "share of the variance (%)", type);
          });
}

void plot_borderline(const StatisticsRequest& request, std::span<const double> grades, std::span<const double> scores,
                     const statistics::BorderlineRegression& fit) {
    if (request.plot.empty()) return;
    Chart chart{"global grade", "score", {}, {}, {}, {}};
    view::ChartSeries dots;
    dots.colour = view::kBlue;
    dots.dots = true, dots.lines = false;
    for (std::size_t i = 0; i < grades.size(); ++i) dots.points.push_back({grades[i], scores[i]});
    const auto [least, most] = std::minmax_element(grades.begin(), grades.end());
    const double from = std::min(*least, fit.grade), to = std::max(*most, fit.grade);
    view::ChartSeries line;
    line.colour = view::kInk;
    for (const double grade : {from, to}) line.points.push_back({grade, fit.line.intercept + fit.line.slope * grade});
    if (fit.cut.interval)
        chart.bands.push_back({{from, to},
                               {fit.cut.interval->low, fit.cut.interval->low},
                               {fit.cut.interval->high, fit.cut.interval->high},
                               kSky});
    chart.series = {dots, line};
    chart.rules = {{fit.cut.value, false, fmt::format("pass mark {:.1f}", fit.cut.value), view::kVermilion},
                   {fit.grade, true, "borderline", view::kVermilion}};
    write_chart(request,
                fmt::format("Borderline regression of {} attempts, with the pass mark's interval", grades.size()),
                chart);
}

void plot_learning_charts(const StatisticsRequest& request, const std::vector<PlottedLine>& lines, double limit) {
    if (request.plot.empty()) return;
    Chart chart{"attempt", "S", {}, {}, {}, 0.0};
    add_lines(chart, lines);
    chart.rules = {{limit, false, fmt::format("limit {:.2f}", limit), view::kVermilion}};
    write_chart(request, "LC-CUSUM: up with successes, held at 0; a dot where competence is signalled", chart);
}

void plot_failure_charts(const StatisticsRequest& request, const std::vector<PlottedLine>& lines,
                         const statistics::SequentialLimits& limits) {
    if (request.plot.empty()) return;
    Chart chart{"attempt", "sum", {}, {}, {}, {}};
    add_lines(chart, lines);
    chart.rules = {{limits.upper, false, "h1, from the start: alarm", view::kVermilion},
                   {-limits.lower, false, "-h0, from the start: acceptable", view::kGreen}};
    write_chart(request, "CUSUM of failures; a dot where a limit is crossed, from which the next ones count", chart);
}

void plot_curves(const StatisticsRequest& request, const std::vector<files::LearnerSeries>& learners,
                 const std::vector<statistics::LearningCurve>& fits) {
    if (request.plot.empty()) return;
    Chart chart{"attempt", "score", {}, {}, {}, {}};
    double last = 1.0;
    for (std::size_t i = 0; i < learners.size(); ++i) {
        view::ChartSeries dots =
            series_of({learners[i].learner, learners[i].attempts, learners[i].values}, i, learners.size());
        dots.dots = true, dots.width = 0.5;
        last = std::max(last, learners[i].attempts.back());
        chart.series.push_back(std::move(dots));
    }
    if (!fits.empty() && fits.back().state == statistics::FitState::converged) {
        view::ChartSeries curve;
        curve.name = learners.size() > 1 ? "all together" : "fit";
        curve.colour = view::kInk;
        curve.width = 2.2;
        for (int i = 0; i <= 200; ++i) {
            const double attempt = 1.0 + (last - 1.0) * i / 200.0;
            curve.points.push_back({attempt, fits.back().at(attempt)});
        }
        chart.series.push_back(std::move(curve));
    }
    if (request.mark) chart.rules = {{*request.mark, false, fmt::format("mark {:g}", *request.mark), view::kVermilion}};
    write_chart(request, "Scores over attempts", chart);
}

}  // namespace pk
