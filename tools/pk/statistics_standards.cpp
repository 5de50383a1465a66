#include "engine/files/statistics_tables.hpp"
#include "engine/statistics/standard_setting.hpp"
#include "tools/pk/statistics_plots.hpp"

/// pk statistics about pass marks.

namespace pk {

namespace {

using files::kLargestNumber;
using Cell = StatisticsSheet::Cell;

}  // namespace

StatisticsSheet borderline_sheet(const StatisticsRequest& request) {
    const files::CsvTable table = files::read_csv(request.file);
    const auto grades = files::read_numbers(table, "grade", -kLargestNumber, kLargestNumber);
    const auto scores = files::read_numbers(table, "score", -kLargestNumber, kLargestNumber);
    const auto out = statistics::borderline_regression(grades, scores, request.borderline, request.confidence,
                                                       {request.seed, request.resamples});
    StatisticsSheet sheet("borderline", "Borderline regression", request.file, request.confidence);
    sheet.figure("attempts", "attempts", grades.size());
    sheet.figure("borderline", "borderline grade", out.grade);
    sheet.figure("cut", "pass mark", cell(out.cut));
    sheet.figure("cut_resampled", "its interval by resampling", cell(out.resampled));
    sheet.figure("slope", "points for each grade", out.line.slope);
    sheet.figure("intercept", "line at grade 0", out.line.intercept);
    sheet.figure("r_squared", "R squared", out.line.r_squared);
    sheet.figure("rmse", "root mean square residual", out.line.rmse);
    sheet.figure("residual_error", "residual standard error", out.line.residual_error);
    std::vector<std::vector<Cell>> rows;
    for (const std::size_t i : out.far_out)
        rows.push_back({table.line(i), grades[i], scores[i], out.line.residuals[i], out.line.standardised[i]});
    if (!rows.empty())
        sheet.table(
            "far_out", "Attempts far off the line",
            {{"line", "line"}, {"grade", "grade"}, {"score", "score"}, {"residual", "residual"}, {"z", "standardised"}},
            rows);
    sheet.warn(out.warnings);
    plot_borderline(request, grades, scores, out);
    return sheet;
}

StatisticsSheet angoff_sheet(const StatisticsRequest& request) {
    const auto judges = files::read_named_numbers(files::read_csv(request.file), 0.0, 1.0);
    const auto out = statistics::angoff(judges.values, request.confidence);
    StatisticsSheet sheet("angoff", "Angoff", request.file, request.confidence);
    sheet.figure("judges", "judges", judges.rows.size());
    sheet.figure("items", "items", judges.columns.size());
    sheet.figure("cut", "pass mark, points", cell(out.cut));
    sheet.figure("cut_share", "as a share of all points", out.cut_share);
    sheet.figure("judge_sd", "spread between judges", out.judge_sd);
    sheet.figure("standard_error", "standard error", out.standard_error);
    std::vector<std::vector<Cell>> sums, items;
    for (std::size_t i = 0; i < judges.rows.size(); ++i) sums.push_back({judges.rows[i], out.judge_sums[i]});
    for (std::size_t i = 0; i < judges.columns.size(); ++i)
        items.push_back({judges.columns[i], out.item_means[i], out.item_sds[i]});
    sheet.table("judges", "Judges", {{"judge", "judge"}, {"sum", "sum"}}, sums);
    sheet.table("items", "Items", {{"item", "item"}, {"mean", "mean"}, {"sd", "spread between judges"}}, items);
    sheet.warn(out.warnings);
    return sheet;
}

StatisticsSheet hofstee_sheet(const StatisticsRequest& request) {
    const auto judges = files::read_hofstee_judges(files::read_csv(request.file));
    const auto scores = files::read_numbers(files::read_csv(request.scores), "score", -kLargestNumber, kLargestNumber);
    const auto out = statistics::hofstee(judges, scores);
    StatisticsSheet sheet("hofstee", "Hofstee's compromise", request.file);
    sheet.figure("judges", "judges", judges.size());
    sheet.figure("scores", "scores", scores.size());
    sheet.figure("cut", "pass mark", cell(out.cut));
    sheet.figure("fail_share", "share that fails there", out.cut ? Cell(out.fail_share) : Cell(nullptr));
    sheet.figure("least_cut", "least cut, mean of judges", out.mean.least_cut);
    sheet.figure("most_cut", "most cut", out.mean.most_cut);
    sheet.figure("least_fail", "least share failing", out.mean.least_fail);
    sheet.figure("most_fail", "most share failing", out.mean.most_fail);
    sheet.warn(out.warnings);
    return sheet;
}

}  // namespace pk
