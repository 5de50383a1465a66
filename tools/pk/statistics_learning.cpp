#include <fmt/format.h>

#include <set>

#include "engine/files/statistics_tables.hpp"
#include "engine/statistics/cusum.hpp"
#include "engine/statistics/learning_curve.hpp"
#include "tools/pk/statistics_plots.hpp"

/// pk statistics about learners over time.

namespace pk {

namespace {

using files::kLargestNumber;
using Cell = StatisticsSheet::Cell;

std::vector<bool> passes_of(const files::LearnerSeries& series) {
    std::vector<bool> out;
    for (const double value : series.values) out.push_back(value == 1.0);
    return out;
}

/// The number that the attempt has in the file, null for none.
Cell attempt_at(const files::LearnerSeries& series, const std::optional<std::size_t>& place) {
    return place ? Cell(series.attempts[*place - 1]) : Cell(nullptr);
}

/// The limit that was given, or the one that false passes ask for.
double add_limit(StatisticsSheet& sheet, const StatisticsRequest& request) {
    using statistics::learning_run_length;
    sheet.figure("adequate", "adequate rate of failing", request.adequate);
    sheet.figure("inadequate", "inadequate rate of failing", request.inadequate);
    sheet.figure("within", "within attempts", request.within);
    if (request.limit) {
        const auto adequate =
            learning_run_length(request.adequate, request.inadequate, *request.limit, request.adequate, request.within);
        const auto inadequate = learning_run_length(request.adequate, request.inadequate, *request.limit,
                                                    request.inadequate, request.within);
        sheet.figure("limit", "limit h", *request.limit);
        sheet.figure("false_pass", "inadequate learners signalled, share", inadequate.signalled.back());
        sheet.figure("power", "adequate learners signalled, share", adequate.signalled.back());
        sheet.figure("mean_adequate", "mean attempts of adequate learners", cell(adequate.mean));
        sheet.figure("mean_inadequate", "mean attempts of inadequate ones", cell(inadequate.mean));
        if (inadequate.signalled.back() > request.false_pass)
            sheet.warn({fmt::format("This limit signals competence for {:.0f} % of inadequate learners.",
                                    100.0 * inadequate.signalled.back())});
        return *request.limit;
    }
    const auto choice =
        statistics::choose_learning_limit({request.adequate, request.inadequate, request.within, request.false_pass,
                                           request.charts, request.seed, request.runs});
    sheet.figure("limit", "limit h", choice.limit);
    sheet.figure("charts", "charts at once", request.charts);
    sheet.figure("per_chart", "false passes allowed, each chart", choice.per_chart);
    sheet.figure("false_pass", "inadequate learners signalled, share", choice.exact_false_pass);
    sheet.figure("false_pass_simulated", "the same, simulated", choice.simulated_false_pass);
    sheet.figure("false_pass_family", "by any of the charts", choice.family_false_pass);
    sheet.figure("power", "adequate learners signalled, share", choice.power);
    sheet.figure("mean_adequate", "mean attempts of adequate learners", cell(choice.mean_adequate));
    sheet.figure("mean_inadequate", "mean attempts of inadequate ones", cell(choice.mean_inadequate));
    sheet.warn(choice.warnings);
    return choice.limit;
}

statistics::CurveShape shape_of(const StatisticsRequest& request) {
    return request.shape == "power" ? statistics::CurveShape::power : statistics::CurveShape::exponential;
}

const char* words_of(statistics::FitState state) {
    switch (state) {
        case statistics::FitState::converged:
            return "converged";
        case statistics::FitState::not_converged:
            return "not converged";
        case statistics::FitState::not_determined:
            return "not determined";
    }
    return "";
}

std::vector<Cell> curve_row(const std::string& who, const statistics::LearningCurve& curve,
                            const StatisticsRequest& request) {
    const bool good = curve.state == statistics::FitState::converged;
    std::vector<Cell> row{who, curve.points, words_of(curve.state)};
    for (const statistics::Estimate* parameter : {&curve.level, &curve.gain, &curve.rate})
        row.push_back(good ? cell(*parameter) : Cell(nullptr));
    row.push_back(good ? Cell(curve.residual_error) : Cell(nullptr));
    if (request.mark) {
        const auto reaches = statistics::curve_reaches(curve, *request.mark, request.confidence);
        row.push_back(cell(reaches));
    }
    return row;
}

void add_curves(StatisticsSheet& sheet, const StatisticsRequest& request,
                const std::vector<files::LearnerSeries>& all) {
    std::vector<std::vector<Cell>> rows;
    std::vector<statistics::CurvePoint> pooled;
    std::vector<statistics::LearningCurve> fits;
    std::set<double> attempts;
    std::size_t few = 0;
    const auto add = [&](const std::string& who, const std::vector<statistics::CurvePoint>& points) {
        fits.push_back(statistics::fit_learning_curve(points, shape_of(request), request.confidence));
        rows.push_back(curve_row(who, fits.back(), request));
    };
    for (std::size_t l = 0; l < all.size(); ++l) {
        std::vector<statistics::CurvePoint> own;
        for (std::size_t i = 0; i < all[l].attempts.size(); ++i)
            own.push_back({all[l].attempts[i], all[l].values[i], l});
        pooled.insert(pooled.end(), own.begin(), own.end());
        attempts.insert(all[l].attempts.begin(), all[l].attempts.end());
        if (own.size() < 4)
            ++few;
        else
            add(all[l].learner, own);
    }
    if (all.size() > 1 && attempts.size() >= 4) {
        add("all together", pooled);
        sheet.warn(fits.back().warnings);
    }
    std::vector<StatisticsSheet::Column> columns{{"learner", "learner"},
                                                 {"points", "attempts"},
                                                 {"state", "fit"},
                                                 {"level", "levels off at a"},
                                                 {"gain", "starts off it by b"},
                                                 {"rate", "c"},
                                                 {"residual_error", "residual error"}};
    if (request.mark) columns.push_back({"reaches", "reaches the mark at attempt"});
    sheet.table("curves", "Curves", columns, rows);
    if (few > 0) sheet.warn({fmt::format("{} learners with fewer than 4 attempts have no curve of their own.", few)});
    plot_curves(request, all, fits);
}

void add_survival(StatisticsSheet& sheet, const StatisticsRequest& request,
                  const std::vector<files::LearnerSeries>& all) {
    std::vector<statistics::Reach> reaches;
    for (const files::LearnerSeries& series : all)
        reaches.push_back(
            statistics::attempts_to_mark(series.values, *request.mark, request.in_a_row, !request.falling));
    const auto out = statistics::survival_to_mark(reaches, request.confidence);
    sheet.figure("mark", "mark", *request.mark);
    sheet.figure("in_a_row", "times in a row", request.in_a_row);
    sheet.figure("reached", "learners who reached it", out.reached);
    sheet.figure("median", "attempts by which half have",
                 out.median
                     ? Cell{{"value", *out.median}, {"low", cell(out.median_low)}, {"high", cell(out.median_high)}}
                     : Cell(nullptr));
    std::vector<std::vector<Cell>> rows;
    for (const auto& step : out.steps) {
        Cell share{{"value", step.not_yet}, {"low", nullptr}, {"high", nullptr}};
        if (step.interval) share["low"] = step.interval->low, share["high"] = step.interval->high;
        rows.push_back({step.attempt, step.at_risk, step.reached, share});
    }
    sheet.table("survival", "Not yet at the mark",
                {{"attempt", "attempt"},
                 {"at_risk", "still on the way"},
                 {"reached", "reached it"},
                 {"not_yet", "share not yet"}},
                rows);
    sheet.warn(out.warnings);
}

}  // namespace

StatisticsSheet lccusum_sheet(const StatisticsRequest& request) {
    const auto all = files::read_passes(files::read_csv(request.file));
    StatisticsSheet sheet("lccusum", "LC-CUSUM: has competence been reached?", request.file);
    const double limit = add_limit(sheet, request);
    std::vector<std::vector<Cell>> rows;
    std::vector<PlottedLine> lines;
    std::size_t longer = 0;
    for (const files::LearnerSeries& series : all) {
        const auto chart = statistics::learning_cusum(passes_of(series), request.adequate, request.inadequate, limit);
        lines.push_back({series.learner, series.attempts, chart.values});
        if (chart.signal) lines.back().marked.push_back(*chart.signal - 1);
        longer += series.attempts.size() > request.within ? 1U : 0U;
        double failures = 0.0;
        for (const double pass : series.values) failures += 1.0 - pass;
        rows.push_back(
            {series.learner, series.attempts.size(), failures, chart.values.back(), attempt_at(series, chart.signal)});
    }
    sheet.table("learners", "Learners",
                {{"learner", "learner"},
                 {"attempts", "attempts"},
                 {"failures", "failures"},
                 {"value", "S now"},
                 {"signal", "competence signalled at"}},
                rows);
    if (longer > 0)
        sheet.warn({fmt::format("{} learners made more attempts than {}: for them false passes are more frequent.",
                                longer, request.within)});
    plot_learning_charts(request, lines, limit);
    sheet.warn({"A signal says that the inadequate rate is unlikely. Not for high stakes alone."});
    return sheet;
}

StatisticsSheet cusum_sheet(const StatisticsRequest& request) {
    const auto all = files::read_passes(files::read_csv(request.file));
    StatisticsSheet sheet("cusum", "CUSUM of failures", request.file);
    const auto limits =
        statistics::sequential_limits(request.acceptable, request.unacceptable, request.alpha, request.beta);
    sheet.figure("acceptable", "acceptable rate of failing", request.acceptable);
    sheet.figure("unacceptable", "unacceptable rate of failing", request.unacceptable);
    sheet.figure("step", "s, taken off for a success", limits.step);
    sheet.figure("lower", "h0, down to accept", limits.lower);
    sheet.figure("upper", "h1, up to alarm", limits.upper);
    std::vector<std::vector<Cell>> rows;
    std::vector<PlottedLine> lines;
    for (const files::LearnerSeries& series : all) {
        const auto chart = statistics::failure_cusum(passes_of(series), request.acceptable, request.unacceptable,
                                                     request.alpha, request.beta);
        lines.push_back({series.learner, series.attempts, chart.values});
        for (const auto& crossing : chart.crossings) lines.back().marked.push_back(crossing.attempt - 1);
        std::string crossings;
        for (const auto& crossing : chart.crossings)
            crossings +=
                fmt::format("{}{:.0f} {}", crossings.empty() ? "" : ", ", series.attempts[crossing.attempt - 1],
                            crossing.unacceptable ? "alarm" : "acceptable");
        rows.push_back(
            {series.learner, series.attempts.size(), chart.values.back(), crossings.empty() ? "none" : crossings});
    }
    sheet.table(
        "learners", "Learners",
        {{"learner", "learner"}, {"attempts", "attempts"}, {"value", "sum now"}, {"crossings", "limits crossed at"}},
        rows);
    plot_failure_charts(request, lines, limits);
    return sheet;
}

StatisticsSheet curve_sheet(const StatisticsRequest& request) {
    const auto all = files::read_series(files::read_csv(request.file), "score", -kLargestNumber, kLargestNumber);
    StatisticsSheet sheet(
        "curve",
        request.shape == "power" ? "Learning curves, y = a + b n^(-c)" : "Learning curves, y = a + b exp(-n / c)",
        request.file, request.confidence);
    sheet.figure("learners", "learners", all.size());
    if (request.mark) add_survival(sheet, request, all);
    add_curves(sheet, request, all);
    return sheet;
}

}  // namespace pk
