#include "engine/cohort/cohort.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "engine/language/words.hpp"
#include "sim/core/errors.hpp"

namespace cohort {

namespace {

Cell cell_of(const records::BoardRow& row) {
    Cell cell{.attempts = row.attempts, .in_a_row = row.in_a_row};
    if (!row.last_unseen) {
        cell.standing = Standing::shown;
        return cell;
    }
    cell.share = row.last_unseen->share;
    cell.standing = row.ready ? Standing::ready : row.last_unseen->passed ? Standing::passing : Standing::not_passed;
    return cell;
}

void count(ScenarioFigures& figures, const Cell& cell) {
    if (cell.standing == Standing::untried || cell.standing == Standing::shown) return;
    ++figures.tried;
    figures.passed += cell.standing == Standing::not_passed ? 0 : 1;
    figures.ready += cell.standing == Standing::ready ? 1 : 0;
    if (cell.share) figures.shares.push_back(*cell.share);
}

}  // namespace

statistics::Interval share_interval(std::int64_t count, std::int64_t of, double confidence) {
    SIM_ASSERT(of >= 1 && count >= 0 && count <= of);
    const double n = static_cast<double>(of), p = static_cast<double>(count) / n;
    const double z = statistics::normal_quantile(0.5 + 0.5 * confidence), z2 = z * z;
    const double middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    const double half = z / (1.0 + z2 / n) * std::sqrt(p * (1.0 - p) / n + z2 / (4.0 * n * n));
    return {std::max(0.0, middle - half), std::min(1.0, middle + half)};
}

Cohort cohort_of(const records::Board& board, const std::function<std::string(const std::string&)>& title_of,
                 const records::BoardRules& rules) {
    Cohort out;
    out.passes = rules.passes;
    std::map<std::string, std::string> titles;
    for (const records::BoardRow& row : board.rows)
        if (titles.count(row.scenario) == 0) titles[row.scenario] = title_of(row.scenario);
    for (const auto& [id, title] : titles) out.scenarios.push_back({.id = id, .title = title});
    std::sort(out.scenarios.begin(), out.scenarios.end(), [](const ScenarioFigures& a, const ScenarioFigures& b) {
        return std::tie(a.title, a.id) < std::tie(b.title, b.id);
    });
    std::map<std::string, std::size_t> place;
    for (std::size_t s = 0; s < out.scenarios.size(); ++s) place[out.scenarios[s].id] = s;
    // rows come by learner
    for (const records::BoardRow& row : board.rows) {
        if (out.people.empty() || out.people.back().id != row.learner_id)
            out.people.push_back({row.learner_id, row.learner, std::vector<Cell>(out.scenarios.size())});
        out.people.back().cells[place[row.scenario]] = cell_of(row);
    }
    for (const std::string& name : board.no_attempts)
        out.people.push_back({"", name, std::vector<Cell>(out.scenarios.size())});
    std::stable_sort(out.people.begin(), out.people.end(),
                     [](const Person& a, const Person& b) { return a.name < b.name; });
    for (const Person& person : out.people)
        for (std::size_t s = 0; s < out.scenarios.size(); ++s) count(out.scenarios[s], person.cells[s]);
    for (ScenarioFigures& figures : out.scenarios) {
        std::sort(figures.shares.begin(), figures.shares.end());
        if (figures.tried > 0) figures.passed_share = share_interval(figures.passed, figures.tried);
    }
    return out;
}

std::string cell_words(const Cell& cell, std::int64_t passes) {
    switch (cell.standing) {
        case Standing::untried:
            return "";
        case Standing::shown:
            return language::tr("seen");
        case Standing::not_passed:
            return language::tr("not passed");
        case Standing::passing:
            return language::say("{} of {}", cell.in_a_row, passes);
        case Standing::ready:
            return language::tr("ready");
    }
    return "";
}

std::string passed_words(const ScenarioFigures& figures) {
    if (!figures.passed_share) return language::tr("nobody tried an unseen variant");
    return language::say("{} of {} passed ({:.0f} to {:.0f} %)", figures.passed, figures.tried,
                         100.0 * figures.passed_share->low, 100.0 * figures.passed_share->high);
}

std::string shares_words(const ScenarioFigures& figures) {
    if (figures.shares.empty()) return "";
    const auto percent = [&](double p) { return 100.0 * statistics::quantile_of(figures.shares, p); };
    if (figures.shares.size() < kFewForQuartiles) return language::say("median {:.0f} %", percent(0.5));
    return language::say("median {:.0f} % ({:.0f} to {:.0f} %)", percent(0.5), percent(0.25), percent(0.75));
}

}  // namespace cohort
