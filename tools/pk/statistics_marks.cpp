#include <fmt/format.h>

#include "engine/files/statistics_tables.hpp"
#include "engine/statistics/agreement.hpp"
#include "tools/pk/statistics_plots.hpp"

/// pk statistics about marks: agreement, generalisability, items, groups.

namespace pk {

namespace {

using files::kLargestNumber;
using Cell = StatisticsSheet::Cell;

void add_decisions(StatisticsSheet& sheet, const StatisticsRequest& request, const statistics::GStudy& study) {
    std::vector<std::vector<Cell>> rows;
    const auto add = [&](std::size_t raters, std::size_t cases) {
        const statistics::DecisionStudy d = statistics::decision_study(study, raters, cases);
        rows.push_back({raters, cases, cell(d.g), cell(d.phi), d.sem_relative, d.sem_absolute});
    };
    const bool has_cases = study.design != statistics::Design::persons_raters;
    if (request.raters || request.cases) {
        add(request.raters.value_or(study.raters), request.cases.value_or(study.cases));
    } else {
        for (const std::size_t cases :
             has_cases ? std::vector<std::size_t>{1, 2, 4, 8, 12} : std::vector<std::size_t>{1})
            for (const std::size_t raters : {1U, 2U, 3U, 4U}) add(raters, cases);
    }
    sheet.table("decision_study", "Decision study: the mean of so many",
                {{"raters", has_cases && request.nested ? "raters in each case" : "raters"},
                 {"cases", "cases"},
                 {"g", "G (ranking)"},
                 {"phi", "phi (against a mark)"},
                 {"sem_relative", "error, relative"},
                 {"sem_absolute", "error, absolute"}},
                rows);
}

void add_cut(StatisticsSheet& sheet, const StatisticsRequest& request, const statistics::GStudy& study) {
    const auto decision =
        statistics::decision_study(study, request.raters.value_or(study.raters), request.cases.value_or(study.cases));
    const auto at = statistics::cut_study(study, decision, *request.cut, request.confidence);
    sheet.figure("cut", "cut", at.cut);
    sheet.figure("cut_raters", "decided by raters", decision.raters);
    sheet.figure("cut_cases", "and cases", decision.cases);
    sheet.figure("phi_lambda", "phi(lambda)", cell(at.phi_lambda));
    sheet.figure("sem", "standard error of measurement", at.sem);
    sheet.figure("sem_near_cut", "the same of those near the cut", cell(at.sem_near_cut));
    sheet.figure("persons_near_cut", "persons near the cut", at.persons_near_cut);
    sheet.figure("doubtful", "marks in doubt", cell(std::optional(at.doubtful)));
    sheet.figure("consistency", "same verdict twice, share", at.consistency);
    sheet.figure("consistency_kappa", "beyond chance", at.consistency_kappa);
    sheet.figure("accuracy", "right verdict, share", at.accuracy);
    sheet.warn(at.warnings);
}

}  // namespace

StatisticsSheet icc_sheet(const StatisticsRequest& request) {
    const auto marks = files::read_named_numbers(files::read_csv(request.file), -kLargestNumber, kLargestNumber);
    const auto out = statistics::intraclass_correlations(marks.values, request.confidence);
    StatisticsSheet sheet("icc", "Intraclass correlations", request.file, request.confidence);
    sheet.figure("targets", "targets", out.anova.targets);
    sheet.figure("judges", "judges", out.anova.judges);
    sheet.figure("between_ms", "mean square between targets", out.anova.between_ms);
    sheet.figure("within_ms", "mean square within targets", out.anova.within_ms);
    sheet.figure("judges_ms", "mean square of judges", out.anova.judges_ms);
    sheet.figure("error_ms", "mean square of error", out.anova.error_ms);
    std::vector<std::vector<Cell>> rows;
    for (const auto& form : out.forms)
        rows.push_back({form.name, cell(form.icc), cell(form.f), cell(form.p), form.meaning});
    sheet.table("forms", "Forms", {{"form", "form"}, {"icc", "value"}, {"f", "F"}, {"p", "p"}, {"meaning", "of"}},
                rows);
    sheet.warn(out.warnings);
    return sheet;
}

StatisticsSheet kappa_sheet(const StatisticsRequest& request) {
    const statistics::Matrix counts = files::read_grade_pairs(files::read_csv(request.file), request.grades);
    const auto weights = request.weights == "none"     ? statistics::KappaWeights::unweighted
                         : request.weights == "linear" ? statistics::KappaWeights::linear
                                                       : statistics::KappaWeights::quadratic;
    const statistics::Kappa out = statistics::kappa(counts, weights, request.confidence);
    StatisticsSheet sheet("kappa", fmt::format("Cohen's kappa, weights {}", request.weights), request.file,
                          request.confidence);
    sheet.figure("pairs", "pairs of grades", counts.sum());
    sheet.figure("observed", "agreement observed", out.observed);
    sheet.figure("expected", "agreement by chance", out.expected);
    sheet.figure("kappa", "kappa", cell(out.kappa));
    sheet.figure("standard_error", "standard error", out.standard_error);
    sheet.figure("null_standard_error", "standard error if kappa were 0", out.null_standard_error);
    std::vector<std::vector<Cell>> rows;
    std::vector<StatisticsSheet::Column> columns{{"first", "first \\ second"}};
    for (int g = 1; g <= request.grades; ++g) columns.push_back({std::to_string(g), std::to_string(g)});
    for (Eigen::Index r = 0; r < counts.rows(); ++r) {
        rows.push_back({r + 1});
        for (Eigen::Index c = 0; c < counts.cols(); ++c) rows.back().emplace_back(counts(r, c));
    }
    sheet.table("counts", "Counts", columns, rows);
    sheet.warn(out.warnings);
    return sheet;
}

StatisticsSheet gstudy_sheet(const StatisticsRequest& request) {
    using statistics::Design;
    const auto table = files::read_mark_cube(files::read_csv(request.file), request.nested);
    const Design design = table.cases.empty() ? Design::persons_raters
                          : request.nested    ? Design::persons_raters_within_cases
                                              : Design::persons_raters_cases;
    const auto study = statistics::generalisability_study(table.cube, design);
    StatisticsSheet sheet("gstudy", "Generalisability study", request.file, request.confidence);
    sheet.figure("design", "design",
                 design == Design::persons_raters         ? "persons x raters"
                 : design == Design::persons_raters_cases ? "persons x raters x cases"
                                                          : "persons x (raters within cases)");
    sheet.figure("persons", "persons", study.persons);
    sheet.figure("raters", "raters", study.raters);
    sheet.figure("cases", "cases", study.cases);
    sheet.figure("mean", "mean mark", study.mean);
    std::vector<std::vector<Cell>> rows;
    for (const auto& part : study.components)
        rows.push_back({part.name, part.df, part.ms, part.estimate, part.variance, part.share});
    sheet.table("components", "Variance components of one mark",
                {{"source", "source"},
                 {"df", "df"},
                 {"ms", "mean square"},
                 {"estimate", "estimate"},
                 {"variance", "gone on with"},
                 {"share", "share"}},
                rows);
    sheet.warn(study.warnings);
    add_decisions(sheet, request, study);
    if (request.cut) add_cut(sheet, request, study);
    plot_components(request, study);
    return sheet;
}

StatisticsSheet items_sheet(const StatisticsRequest& request) {
    const auto marks = files::read_named_numbers(files::read_csv(request.file), 0.0, request.maximum);
    const std::vector<double> maxima(marks.columns.size(), request.maximum);
    const auto out = statistics::item_analysis(marks.values, maxima, request.confidence);
    StatisticsSheet sheet("items", "Items of a checklist", request.file, request.confidence);
    sheet.figure("persons", "persons", marks.rows.size());
    sheet.figure("total_mean", "mean total", out.total_mean);
    sheet.figure("total_sd", "spread of totals", out.total_sd);
    Cell alpha = nullptr;
    if (out.alpha) alpha = cell(statistics::Estimate{*out.alpha, out.alpha_interval});
    sheet.figure("alpha", "Cronbach's alpha", alpha);
    std::vector<std::vector<Cell>> rows;
    for (std::size_t i = 0; i < out.items.size(); ++i)
        rows.push_back({marks.columns[i], out.items[i].difficulty, cell(out.items[i].discrimination),
                        cell(out.items[i].alpha_without)});
    sheet.table("items", "Items: difficulty 0 hard to 1 easy; correlation with the sum of the others",
                {{"item", "item"},
                 {"difficulty", "difficulty"},
                 {"discrimination", "discrimination"},
                 {"alpha_without", "alpha without it"}},
                rows);
    sheet.warn(out.warnings);
    return sheet;
}

StatisticsSheet bias_sheet(const StatisticsRequest& request) {
    const auto groups = files::read_groups(files::read_csv(request.file), request.group);
    StatisticsSheet sheet("bias", "Group " + request.group + " against the others", request.file, request.confidence);
    std::string others;
    for (const std::string& name : groups.others) others += (others.empty() ? "" : ", ") + name;
    sheet.figure("group", "group", request.group);
    sheet.figure("reference", "others", others);
    if (!groups.strata.empty()) {
        const auto out = statistics::mantel_haenszel(groups.strata, request.confidence);
        Cell odds = nullptr;
        if (out.odds_ratio) odds = cell(statistics::Estimate{*out.odds_ratio, out.interval});
        sheet.figure("odds_ratio", "odds of passing, group over others", odds);
        sheet.figure("chi_square", "chi-square of no difference", cell(out.chi_square));
        sheet.figure("p", "p", cell(out.p));
        std::vector<std::vector<Cell>> rows;
        for (std::size_t i = 0; i < groups.strata.size(); ++i) {
            const auto& s = groups.strata[i];
            rows.push_back({groups.stratum_names[i], s.focal_pass, s.focal_fail, s.reference_pass, s.reference_fail});
        }
        sheet.table("strata", "Counts",
                    {{"stratum", "stratum"},
                     {"focal_pass", "group passed"},
                     {"focal_fail", "failed"},
                     {"reference_pass", "others passed"},
                     {"reference_fail", "failed"}},
                    rows);
        sheet.warn(out.warnings);
    }
    if (!groups.focal_scores.empty()) {
        const auto out = statistics::mean_difference(groups.focal_scores, groups.reference_scores, request.confidence);
        sheet.figure("difference", "difference of mean scores", out.difference);
        sheet.figure("standardised_difference", "the same, standardised", cell(out.standardised));
        sheet.warn(out.warnings);
    }
    sheet.warn({"A difference is not yet bias: groups may differ in what they can do."});
    return sheet;
}

}  // namespace pk
