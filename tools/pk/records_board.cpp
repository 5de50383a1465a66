#include <fmt/format.h>

#include "engine/cohort/cohort_pdf.hpp"
#include "engine/files/attempt_header.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/csv.hpp"
#include "engine/files/places.hpp"
#include "engine/files/scenario.hpp"
#include "engine/report/score_text.hpp"
#include "tools/pk/records.hpp"

/// pk records board: how a cohort stands.

namespace pk {

namespace {

using nlohmann::ordered_json;
using records::BoardRow;
using Fields = std::vector<std::string>;

std::string figure(const std::optional<double>& share) { return share ? fmt::format("{}", *share) : std::string(); }
std::string percent(const std::optional<double>& share) {
    return share ? fmt::format("{:.0f} %", 100.0 * *share) : std::string("-");
}
ordered_json json_of(const std::optional<double>& share) { return share ? ordered_json(*share) : ordered_json(); }

std::string csv_of(const records::Board& board) {
    std::vector<Fields> table;
    for (const BoardRow& row : board.rows)
        table.push_back({row.learner_id, files::unlike_a_formula(row.learner), files::unlike_a_formula(row.scenario),
                         std::to_string(row.attempts), figure(row.best), figure(row.last), row.last_verdict,
                         row.last_at, std::to_string(row.unseen), row.last_unseen ? row.last_unseen->verdict : "",
                         row.last_unseen ? figure(row.last_unseen->share) : "", std::to_string(row.in_a_row),
                         row.ready ? "1" : "0"});
    return files::csv_text(
        Fields{"learner", "name", "scenario", "attempts", "best_share", "last_share", "last_verdict", "last_at",
               "unseen_variants", "last_unseen_verdict", "last_unseen_share", "unseen_passed_in_a_row", "ready"},
        table);
}

ordered_json json_of(const records::Board& board) {
    ordered_json rows = ordered_json::array();
    for (const BoardRow& row : board.rows) {
        ordered_json unseen;
        if (row.last_unseen)
            unseen = {{"verdict", row.last_unseen->verdict},
                      {"share", json_of(row.last_unseen->share)},
                      {"passed", row.last_unseen->passed}};
        rows.push_back({{"learner", row.learner_id},
                        {"name", row.learner},
                        {"scenario", row.scenario},
                        {"attempts", row.attempts},
                        {"best_share", json_of(row.best)},
                        {"last_share", json_of(row.last)},
                        {"last_verdict", row.last_verdict},
                        {"last_at", row.last_at},
                        {"unseen_variants", row.unseen},
                        {"last_unseen", unseen},
                        {"unseen_passed_in_a_row", row.in_a_row},
                        {"ready", row.ready}});
    }
    return {{"rows", rows}, {"no_attempts", board.no_attempts}};
}

std::string unseen_words(const BoardRow& row) {
    if (!row.last_unseen) return "no unseen variant yet";
    return fmt::format("{}, {}, {} in a row of {}", row.last_unseen->passed ? "passed" : "not passed",
                       percent(row.last_unseen->share), row.in_a_row, row.unseen);
}

void print(const records::Board& board, std::int64_t passes) {
    fmt::print("{:<24} {:>8} {:>6} {:>6}  {:<10}  {:<10}  {:<34}  {}\n", "", "attempts", "best", "last", "verdict",
               "date", "newest unseen variant", "ready");
    std::string before;
    std::int64_t ready = 0;
    for (const BoardRow& row : board.rows) {
        if (row.learner_id != before) fmt::print("{}\n", row.learner);
        before = row.learner_id;
        ready += row.ready ? 1 : 0;
        fmt::print("  {:<22} {:>8} {:>6} {:>6}  {:<10}  {:<10}  {:<34}  {}\n", row.scenario, row.attempts,
                   percent(row.best), percent(row.last), row.last_verdict.empty() ? "unfinished" : row.last_verdict,
                   row.last_at.substr(0, 10), unseen_words(row), row.ready ? "yes" : "no");
    }
    for (const std::string& name : board.no_attempts) fmt::print("{}\n  no attempt\n", name);
    fmt::print(
        "{} of {} lines ready for a supervised case: a pass on {} consecutive unseen variants, not coached. It is one "
        "input to a supervisor's decision, never a licence to treat.\n{}\n",
        ready, board.rows.size(), passes, report::caution_text());
}

/// What a scenario is called on this machine; its id where it is not here.
std::string title_of(const std::string& id) {
    try {
        return files::load_scenario(files::find_scenario(id)).scenario.title;
    } catch (const std::exception&) {
        return id;
    }
}

std::string pdf_of(Desk& desk, const records::Board& board, const RecordsArguments& a) {
    cohort::Cohort cohort = cohort::cohort_of(board, title_of, {a.passes});
    cohort.title = "All attempts";
    cohort.made_at = files::time_text();
    if (!a.session.empty() && desk.actor.role != records::Role::learner)
        for (const records::GradedSession& session : desk.store.sessions(desk.actor))
            if (session.id == a.session) cohort.title = session.title;
    return cohort::cohort_pdf(cohort);
}

int show_board(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    const records::Board board = records::board(desk.store, desk.actor, a.session, {a.passes});
    const std::string pdf = a.pdf.empty() ? "" : pdf_of(desk, board, a);
    if (!a.csv.empty()) {
        files::write_atomically(a.csv, csv_of(board), 0600);
        fmt::print("{}: {} lines\n", a.csv, board.rows.size());
    }
    if (!a.pdf.empty()) {
        files::write_atomically(a.pdf, pdf, 0600);
        fmt::print("{}: {} lines\n", a.pdf, board.rows.size());
    }
    if (!a.csv.empty() || !a.pdf.empty()) return 0;
    if (a.json) {
        fmt::print("{}\n", json_of(board).dump(-1, ' ', false, ordered_json::error_handler_t::replace));
    } else {
        print(board, a.passes);
    }
    return 0;
}

}  // namespace

void add_records_board(const AddPart& add, const std::shared_ptr<RecordsArguments>& a) {
    CLI::App* part = add("board", "how learners stand at each scenario, and who is ready", show_board);
    part->add_option("--session", a->session, "only this session's learners and scenarios, by its id");
    part->add_option("--passes", a->passes, "unseen variants to be passed in a row, 3 by default")
        ->check(CLI::Range(1, 1000));
    part->add_option("--csv", a->csv, "write it there as a table");
    part->add_option("--pdf", a->pdf, "print it there: what each scenario tells, and learners by scenarios");
}

}  // namespace pk
