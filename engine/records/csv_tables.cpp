#include "engine/records/csv_tables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <vector>

#include "engine/files/csv.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

using Fields = std::vector<std::string>;

std::string attempts_table(const std::vector<AttemptRow>& rows) {
    std::set<std::string> headings;
    for (const AttemptRow& row : rows)
        for (const HeadingPoints& heading : row.facts.headings) headings.insert(heading.heading);
    Fields header{"attempt", "learner", "scenario",   "scenario_hash",   "rubric_hash",     "mode",
                  "seed",    "devices", "aids_asked", "started_at",      "steps",           "finished",
                  "verdict", "points",  "points_of",  "scoring_version", "program_version", "content_hash",
                  "added_at"};
    for (const std::string& heading : headings) {
        header.push_back(heading);
        header.push_back(heading + "_of");
    }
    std::vector<Fields> table;
    for (const AttemptRow& row : rows) {
        const AttemptFacts& f = row.facts;
        Fields fields{f.id,
                      row.learner_id,
                      files::unlike_a_formula(f.scenario),
                      f.scenario_hash,
                      f.rubric_hash,
                      f.mode,
                      f.seed,
                      f.devices,
                      std::to_string(f.aids_asked),
                      f.started_at,
                      std::to_string(f.steps),
                      f.finished ? "1" : "0",
                      f.verdict,
                      fmt::format("{}", f.points),
                      fmt::format("{}", f.of),
                      std::to_string(f.scoring_version),
                      files::unlike_a_formula(f.program_version),
                      f.content_hash,
                      row.added_at};
        for (const std::string& name : headings) {
            const auto found = std::find_if(f.headings.begin(), f.headings.end(),
                                            [&](const HeadingPoints& one) { return one.heading == name; });
            const bool there = found != f.headings.end();
            fields.push_back(there ? fmt::format("{}", found->points) : "");  // not measured
            fields.push_back(there ? fmt::format("{}", found->of) : "");
        }
        table.push_back(std::move(fields));
    }
    return files::csv_text(header, table);
}

std::string learners_table(const std::vector<Learner>& learners, const std::string& only) {
    std::vector<Fields> table;
    for (const Learner& learner : learners) {
        if (!only.empty() && learner.id != only) continue;
        std::string keys;
        for (const std::string& key : learner.keys) keys += (keys.empty() ? "" : " ") + key;
        table.push_back({learner.id, files::unlike_a_formula(learner.name), learner.added_at, keys});
    }
    return files::csv_text(Fields{"learner", "name", "added_at", "keys"}, table);
}

std::string ratings_table(Store& store, const Actor& actor, const std::vector<AttemptRow>& rows) {
    std::vector<Fields> table;
    for (const AttemptRow& row : rows)
        for (const Rating& one : store.ratings(actor, row.facts.id))
            table.push_back({one.id, one.attempt_id, one.rater_id, files::unlike_a_formula(one.item),
                             one.point ? std::to_string(*one.point) : "",
                             one.moment_s ? fmt::format("{}", *one.moment_s) : "", files::unlike_a_formula(one.comment),
                             one.rated_at});
    return files::csv_text(Fields{"rating", "attempt", "rater", "item", "point", "moment_s", "comment", "rated_at"},
                           table);
}

/// The account and the trail's rows of one learner.
void add_of_one(Store& store, const std::string& learner_id, std::map<std::string, std::string>& out) {
    std::vector<Fields> account, audit;
    StoreCore& core = store.core();
    core.read([&] {
        account.clear();
        audit.clear();
        for (const Row& row : core.run(
                 "SELECT id, login, role, added_at FROM accounts WHERE learner_id = $1 ORDER BY login", {learner_id}))
            account.push_back({text_of(row[0], "id"), files::unlike_a_formula(text_of(row[1], "login")),
                               text_of(row[2], "role"), text_of(row[3], "added_at")});
        for (const Row& row :
             core.run("SELECT seq, at, actor, role, deed, subject, detail FROM audit WHERE subject = $1 OR subject IN "
                      "(SELECT id FROM attempts WHERE learner_id = $1) OR subject IN (SELECT id FROM accounts WHERE "
                      "learner_id = $1) "
                      "ORDER BY seq",
                      {learner_id})) {
            Fields fields{std::to_string(integer_of(row[0], "seq"))};
            for (std::size_t i = 1; i < row.size(); ++i)
                fields.push_back(files::unlike_a_formula(text_of(row[i], "audit")));
            audit.push_back(std::move(fields));
        }
    });
    out["account.csv"] = files::csv_text(Fields{"account", "login", "role", "added_at"}, account);
    out["audit.csv"] = files::csv_text(Fields{"seq", "at", "actor", "role", "deed", "subject", "detail"}, audit);
}

}  // namespace

std::map<std::string, std::string> csv_tables(Store& store, const Actor& actor, const AttemptFilter& filter) {
    const std::vector<AttemptRow> rows = store.attempts(actor, filter);
    const std::string one = actor.role == Role::learner ? actor.learner_id : filter.learner_id;
    std::map<std::string, std::string> out;
    out["attempts.csv"] = attempts_table(rows);
    out["learners.csv"] = learners_table(store.learners(actor), one);
    out["ratings.csv"] = ratings_table(store, actor, rows);
    if (!one.empty()) add_of_one(store, one, out);
    return out;
}

}  // namespace records
