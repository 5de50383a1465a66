#include "engine/files/statistics_tables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "engine/files/file_error.hpp"
#include "engine/statistics/agreement.hpp"

namespace files {

namespace {

/// Names in the order in which they come, and their places.
class Names {
 public:
    std::size_t place(const std::string& name) {
        const auto [found, is_new] = places_.try_emplace(name, names_.size());
        if (is_new) names_.push_back(name);
        return found->second;
    }
    [[nodiscard]] bool has(const std::string& name) const { return places_.contains(name); }
    [[nodiscard]] std::size_t size() const { return names_.size(); }
    [[nodiscard]] const std::vector<std::string>& list() const { return names_; }

 private:
    std::map<std::string, std::size_t> places_;
    std::vector<std::string> names_;
};

void require_rows(const CsvTable& table) {
    if (table.rows() == 0) throw FileError(table.file(), "", "a header alone", "at least one row of values");
}

std::string joined(const std::vector<std::string>& names) {
    std::string out;
    for (const std::string& name : names) out += (out.empty() ? "" : ", ") + name;
    return out;
}

/// Where a row stands in the cube: names turned to places.
struct CubeRow {
    std::size_t person = 0, rater = 0, case_ = 0;
};

struct CubeRows {
    std::vector<CubeRow> rows;
    Names persons, cases;
    std::vector<Names> raters;  ///< of each case where they are within cases, otherwise one list
};

CubeRows cube_rows(const CsvTable& table, bool nested) {
    const std::size_t person = table.column("person"), rater = table.column("rater");
    const auto case_ = table.find("case");
    if (nested && !case_) (void)table.column("case");
    CubeRows out;
    for (std::size_t r = 0; r < table.rows(); ++r) {
        CubeRow row;
        row.person = out.persons.place(table.name(r, person));
        row.case_ = case_ ? out.cases.place(table.name(r, *case_)) : 0;
        const std::size_t list = nested ? row.case_ : 0;
        if (out.raters.size() <= list) out.raters.resize(list + 1);
        row.rater = out.raters[list].place(table.name(r, rater));
        out.rows.push_back(row);
    }
    if (!case_) out.cases.place("");
    return out;
}

/// The first combination that has no row.
[[noreturn]] void refuse_missing(const CsvTable& table, const CubeRows& rows, const std::vector<bool>& filled,
                                 const statistics::MarkCube& cube) {
    const auto missing = static_cast<std::size_t>(std::find(filled.begin(), filled.end(), false) - filled.begin());
    const std::size_t case_ = missing / cube.raters % cube.cases;
    const Names& raters = rows.raters[rows.raters.size() > 1 ? case_ : 0];
    std::string what =
        fmt::format("no mark of person {} by rater {}", rows.persons.list()[missing / cube.raters / cube.cases],
                    raters.list()[missing % cube.raters]);
    if (!rows.cases.list()[case_].empty()) what += " on case " + rows.cases.list()[case_];
    throw FileError(table.file(), "", what, "a mark for each combination, once");
}

}  // namespace

NamedNumbers read_named_numbers(const CsvTable& table, double low, double high) {
    require_rows(table);
    if (table.columns() < 2)
        throw FileError(table.file(), "line 1", "one column", "a column of names and at least one of numbers");
    NamedNumbers out;
    out.columns.assign(table.header().begin() + 1, table.header().end());
    out.values.resize(static_cast<Eigen::Index>(table.rows()), static_cast<Eigen::Index>(table.columns() - 1));
    Names names;
    for (std::size_t r = 0; r < table.rows(); ++r) {
        if (names.has(table.name(r, 0))) table.refuse(r, 0, "a name that no other row has");
        names.place(table.text(r, 0));
        for (std::size_t c = 1; c < table.columns(); ++c)
            out.values(static_cast<Eigen::Index>(r), static_cast<Eigen::Index>(c - 1)) = table.number(r, c, low, high);
    }
    out.rows = names.list();
    return out;
}

NamedCube read_mark_cube(const CsvTable& table, bool nested) {
    require_rows(table);
    const std::size_t mark = table.column("mark");
    const CubeRows rows = cube_rows(table, nested);
    for (std::size_t c = 0; c < rows.raters.size(); ++c)
        if (rows.raters[c].size() != rows.raters[0].size())
            throw FileError(table.file(), "",
                            fmt::format("case {} with {} raters", rows.cases.list()[c], rows.raters[c].size()),
                            fmt::format("{} raters, as case {} has", rows.raters[0].size(), rows.cases.list()[0]));
    NamedCube out{{rows.persons.size(), rows.raters[0].size(), rows.cases.size(), {}},
                  rows.persons.list(),
                  rows.raters[0].list(),
                  rows.cases.list()};
    // a table with holes may name far more cells than it has rows: no more is set aside than there could be rows for
    const double cells = static_cast<double>(out.cube.persons) * static_cast<double>(out.cube.raters) *
                         static_cast<double>(out.cube.cases);
    if (cells > 100.0 * static_cast<double>(table.rows()))
        throw FileError(table.file(), "", fmt::format("{} rows for {:.0f} combinations", table.rows(), cells),
                        "a mark for each combination, once");
    out.cube.marks.resize(static_cast<std::size_t>(cells));
    std::vector<bool> filled(out.cube.marks.size());
    for (std::size_t r = 0; r < table.rows(); ++r) {
        const CubeRow& row = rows.rows[r];
        const std::size_t at = (row.person * out.cube.cases + row.case_) * out.cube.raters + row.rater;
        if (filled[at]) table.refuse(r, mark, "one mark for each combination of person, rater and case");
        filled[at] = true;
        out.cube.marks[at] = table.number(r, mark, -kLargestNumber, kLargestNumber);
    }
    if (std::find(filled.begin(), filled.end(), false) != filled.end()) refuse_missing(table, rows, filled, out.cube);
    if (!table.find("case")) out.cases.clear();
    return out;
}

statistics::Matrix read_grade_pairs(const CsvTable& table, int grades) {
    require_rows(table);
    const std::size_t first = table.column("first"), second = table.column("second");
    std::vector<int> one, other;
    for (std::size_t r = 0; r < table.rows(); ++r) {
        one.push_back(static_cast<int>(table.whole(r, first, 1, grades)) - 1);
        other.push_back(static_cast<int>(table.whole(r, second, 1, grades)) - 1);
    }
    return statistics::count_grades(one, other, grades);
}

GroupTable read_groups(const CsvTable& table, const std::string& focal) {
    require_rows(table);
    const std::size_t group = table.column("group");
    const auto pass = table.find("pass"), score = table.find("score"), stratum = table.find("stratum");
    if (!pass && !score) (void)table.column("pass");
    GroupTable out;
    out.focal = focal;
    Names strata, others;
    bool seen = false;
    for (std::size_t r = 0; r < table.rows(); ++r) {
        const bool is_focal = table.name(r, group) == focal;
        seen = seen || is_focal;
        if (!is_focal) others.place(table.text(r, group));
        if (score) {
            const double value = table.number(r, *score, -kLargestNumber, kLargestNumber);
            (is_focal ? out.focal_scores : out.reference_scores).push_back(value);
        }
        if (!pass) continue;
        const std::size_t at = strata.place(stratum ? table.name(r, *stratum) : "");
        out.strata.resize(strata.size());
        statistics::Stratum& counts = out.strata[at];
        const bool passed = table.whole(r, *pass, 0, 1) == 1;
        (is_focal ? (passed ? counts.focal_pass : counts.focal_fail)
                  : (passed ? counts.reference_pass : counts.reference_fail)) += 1.0;
    }
    out.others = others.list();
    if (!seen)
        throw FileError(table.file(), "column group", "no row of group " + focal, "one of " + joined(out.others));
    if (out.others.empty()) throw FileError(table.file(), "column group", "group " + focal + " alone", "two groups");
    out.stratum_names = strata.list();
    return out;
}

std::vector<statistics::HofsteeJudge> read_hofstee_judges(const CsvTable& table) {
    require_rows(table);
    const std::size_t least_cut = table.column("least_cut"), most_cut = table.column("most_cut");
    const std::size_t least_fail = table.column("least_fail"), most_fail = table.column("most_fail");
    std::vector<statistics::HofsteeJudge> out;
    for (std::size_t r = 0; r < table.rows(); ++r) {
        statistics::HofsteeJudge judge;
        judge.least_cut = table.number(r, least_cut, -kLargestNumber, kLargestNumber);
        judge.most_cut = table.number(r, most_cut, judge.least_cut, kLargestNumber);
        judge.least_fail = table.number(r, least_fail, 0.0, 1.0);
        judge.most_fail = table.number(r, most_fail, judge.least_fail, 1.0);
        out.push_back(judge);
    }
    return out;
}

std::vector<double> read_numbers(const CsvTable& table, std::string_view column, double low, double high) {
    require_rows(table);
    const std::size_t at = table.column(column);
    std::vector<double> out;
    for (std::size_t r = 0; r < table.rows(); ++r) out.push_back(table.number(r, at, low, high));
    return out;
}

std::vector<LearnerSeries> read_series(const CsvTable& table, std::string_view values, double low, double high) {
    require_rows(table);
    const std::size_t learner = table.column("learner"), attempt = table.column("attempt"),
                      value = table.column(values);
    Names names;
    std::vector<std::map<std::int64_t, double>> found;
    for (std::size_t r = 0; r < table.rows(); ++r) {
        const std::size_t at = names.place(table.name(r, learner));
        found.resize(names.size());
        const std::int64_t number = table.whole(r, attempt, 1, kMostAttempts);
        if (!found[at].try_emplace(number, table.number(r, value, low, high)).second)
            table.refuse(r, attempt, "an attempt that this learner has in no other row");
    }
    std::vector<LearnerSeries> out;
    for (std::size_t l = 0; l < names.size(); ++l) {
        LearnerSeries series{names.list()[l], {}, {}};
        for (const auto& [number, at_number] : found[l]) {
            series.attempts.push_back(static_cast<double>(number));
            series.values.push_back(at_number);
        }
        out.push_back(std::move(series));
    }
    return out;
}

std::vector<LearnerSeries> read_passes(const CsvTable& table) {
    const std::size_t pass = table.column("pass");
    for (std::size_t r = 0; r < table.rows(); ++r) (void)table.whole(r, pass, 0, 1);
    return read_series(table, "pass", 0.0, 1.0);
}

}  // namespace files
