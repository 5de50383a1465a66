#include "engine/records/board.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr const char* kAttempts =
    "SELECT learner_id, scenario, started_at, id, seed, mode, finished, verdict, points, points_of FROM attempts WHERE "
    "($1 = '' OR learner_id = $1) AND ($2 = '' OR (scenario IN (SELECT scenario FROM session_scenarios WHERE "
    "session_id = $2) AND learner_id IN (SELECT a.learner_id FROM session_attempts s JOIN attempts a ON a.id = "
    "s.attempt_id WHERE s.session_id = $2))) ORDER BY learner_id, scenario, started_at, id";

class Maker {
 public:
    Maker(StoreCore& core, const BoardRules& rules) : core_(core), rules_(rules) {}

    Board make(const std::string& learner_id, const std::string& session_id) {
        for (const Row& row : core_.run("SELECT scenario, mark FROM pass_marks ORDER BY scenario, version"))
            mark_of_[text_of(row[0], "scenario")] = number_of(row[1], "mark");  // the newest is the last
        for (const Row& row : core_.run("SELECT id, name FROM learners WHERE ($1 = '' OR id = $1)", {learner_id}))
            name_of_[text_of(row[0], "id")] = text_of(row[1], "name");
        for (const Row& row : core_.run(kAttempts, {learner_id, session_id})) add(row);
        std::sort(out_.rows.begin(), out_.rows.end(), [](const BoardRow& a, const BoardRow& b) {
            return std::tie(a.learner, a.learner_id, a.scenario) < std::tie(b.learner, b.learner_id, b.scenario);
        });
        if (session_id.empty()) {
            for (const BoardRow& row : out_.rows) name_of_.erase(row.learner_id);
            for (const auto& [id, name] : name_of_) out_.no_attempts.push_back(name);
            std::sort(out_.no_attempts.begin(), out_.no_attempts.end());
        }
        return std::move(out_);
    }

 private:
    /// Attempts come by learner, scenario and time.
    void add(const Row& raw) {
        const std::string &learner = text_of(raw[0], "learner_id"), &scenario = text_of(raw[1], "scenario");
        if (out_.rows.empty() || out_.rows.back().learner_id != learner || out_.rows.back().scenario != scenario) {
            out_.rows.push_back({.learner_id = learner, .learner = name_of_[learner], .scenario = scenario});
            seen_.clear();
        }
        BoardRow& row = out_.rows.back();
        const bool finished = integer_of(raw[6], "finished") == 1;
        const double of = number_of(raw[9], "points_of");
        std::optional<double> share;
        if (finished && of > 0.0) share = number_of(raw[8], "points") / of;
        ++row.attempts;
        if (share) {
            row.best = std::max(row.best.value_or(*share), *share);
            row.last = share;
        }
        row.last_verdict = text_of(raw[7], "verdict");
        row.last_at = text_of(raw[2], "started_at");
        const bool unseen = seen_.insert(text_of(raw[4], "seed")).second;
        if (unseen && text_of(raw[5], "mode") != "coached") add_unseen(row, share);
    }

    void add_unseen(BoardRow& row, std::optional<double> share) const {
        const auto mark = mark_of_.find(row.scenario);
        const bool reached = mark == mark_of_.end() || (share && *share >= mark->second);
        row.last_unseen = {row.last_verdict, share, row.last_verdict == "pass" && reached};
        ++row.unseen;
        row.in_a_row = row.last_unseen->passed ? row.in_a_row + 1 : 0;
        row.ready = row.in_a_row >= rules_.passes;
    }

    StoreCore& core_;
    const BoardRules& rules_;
    std::map<std::string, double> mark_of_;
    std::map<std::string, std::string> name_of_;  // by learner's id
    std::set<std::string> seen_;                  // variants of this learner and scenario
    Board out_;
};

}  // namespace

Board board(Store& store, const Actor& actor, const std::string& session_id, const BoardRules& rules) {
    if (rules.passes < 1)
        throw RecordsError(Fault::bad_input, "passes in a row", std::to_string(rules.passes), "1 or more");
    if (actor.role == Role::learner) need_own(actor, actor.learner_id, "look at the board");
    const std::string whose = actor.role == Role::learner ? actor.learner_id : "";
    StoreCore& core = store.core();
    Board out;
    core.read([&] {
        if (!session_id.empty() && core.run("SELECT id FROM sessions WHERE id = $1", {session_id}).empty())
            throw RecordsError(Fault::not_found, "session " + session_id, "there is none of this id");
        out = Maker(core, rules).make(whose, session_id);
    });
    return out;
}

}  // namespace records
