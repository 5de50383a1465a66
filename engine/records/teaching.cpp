#include <fmt/format.h>

#include <algorithm>

#include "engine/files/crypto.hpp"
#include "engine/records/attempt_sql.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr std::size_t kMostTitleBytes = 200, kMostWordsBytes = 4000, kMostNameBytes = 200,
                      kMostReturnBytes = 256U << 20U;

/// A whole number in decimal digits, 0 to 2^64 - 1.
void need_seed(const std::string& seed) {
    static constexpr std::string_view kMost = "18446744073709551615";
    const bool digits = std::all_of(seed.begin(), seed.end(), [](char c) { return c >= '0' && c <= '9'; });
    if (digits && !seed.empty() && (seed.size() == 1 || seed[0] != '0') &&
        (seed.size() < kMost.size() || (seed.size() == kMost.size() && seed <= kMost)))
        return;
    throw RecordsError(Fault::bad_input, "seed", "\"" + seed + "\"", fmt::format("0 to {}", kMost));
}

void need_attempt(StoreCore& core, const std::string& id) {
    if (core.run("SELECT id FROM attempts WHERE id = $1", {id}).empty())
        throw RecordsError(Fault::not_found, "attempt " + id, "there is none of this id");
}

/// Whether just this session is kept. @throws RecordsError (conflict) where another one has its id
bool is_there(StoreCore& core, const std::string& id, const std::string& title,
              const std::vector<SessionScenario>& scenarios) {
    const Rows found = core.run("SELECT title FROM sessions WHERE id = $1", {id});
    if (found.empty()) return false;
    Rows wanted;
    for (const SessionScenario& one : scenarios) wanted.push_back({one.scenario, one.scenario_hash, one.seed});
    const Rows there = core.run(
        "SELECT scenario, scenario_hash, seed FROM session_scenarios WHERE session_id = $1 ORDER BY position", {id});
    if (text_of(found[0][0], "title") != title || there != wanted)
        throw RecordsError(Fault::conflict, "session " + id, "another title or other scenarios are kept under this id",
                           "the session that was kept");
    return true;
}

/// Takes what waits, or what was claimed for too long.
std::vector<std::string> claim_within(StoreCore& core, const std::string& job, const std::string& who,
                                      std::int64_t most, std::int64_t lease_s) {
    std::vector<std::string> out;
    const std::int64_t now_s = core.now_s();
    const Rows rows = core.run(
        "SELECT item FROM claims WHERE job = $1 AND state <> 'done' AND (state = 'waiting' OR claimed_until <= $2) "
        "ORDER BY item LIMIT $3{skip_locked}",
        {job, now_s, most});
    for (const Row& row : rows) {
        out.push_back(text_of(row[0], "claims.item"));
        core.run(
            "UPDATE claims SET state = 'claimed', claimed_by = $3, claimed_until = $4, tries = tries + 1 "
            "WHERE job = $1 AND item = $2",
            {job, out.back(), who, now_s + lease_s});
    }
    return out;
}

/// @return whether it was theirs; the same said twice is
bool finish_within(StoreCore& core, const std::string& job, const std::string& item, const std::string& who,
                   const std::string& result) {
    core.run(
        "UPDATE claims SET state = 'done', result = $4 WHERE job = $1 AND item = $2 AND claimed_by = $3 AND "
        "(state = 'claimed' OR (state = 'done' AND result = $4))",
        {job, item, who, result});
    return core.database().changed() == 1;
}

}  // namespace

std::string Store::add_session(const Actor& actor, const std::string& title,
                               const std::vector<SessionScenario>& scenarios, const std::string& asked_id) {
    need_role(actor, Role::instructor, "add a graded session");
    need_text(title, kMostTitleBytes, "title");
    if (scenarios.empty()) throw RecordsError(Fault::bad_input, "session", "no scenario", "one or more");
    for (const SessionScenario& one : scenarios) {
        need_text(one.scenario, kMostNameBytes, "scenario");
        need_seed(one.seed);
    }
    if (!asked_id.empty() && !files::from_hex<16>(asked_id))
        throw RecordsError(Fault::bad_input, "session id", asked_id, "32 lower-case hexadecimal digits");
    const std::string id = asked_id.empty() ? new_id() : asked_id;
    core_->write([&] {
        if (is_there(*core_, id, title, scenarios)) return;
        core_->run("INSERT INTO sessions (id, title, opened_at, opened_by) VALUES ($1, $2, $3, $4)",
                   {id, title, core_->now(), actor.account_id});
        std::int64_t position = 0;
        for (const SessionScenario& one : scenarios)
            core_->run(
                "INSERT INTO session_scenarios (session_id, position, scenario, scenario_hash, seed) "
                "VALUES ($1, $2, $3, $4, $5)",
                {id, ++position, one.scenario, one.scenario_hash, one.seed});
        core_->note(actor, "session added", id, fmt::format("{} scenarios", scenarios.size()));
    });
    return id;
}

void Store::add_to_session(const Actor& actor, const std::string& session_id, const std::string& attempt_id,
                           std::int64_t position) {
    need_role(actor, Role::instructor, "add to a session");
    core_->write([&] {
        const Rows planned =
            core_->run("SELECT scenario, seed FROM session_scenarios WHERE session_id = $1 AND position = $2",
                       {session_id, position});
        if (planned.empty())
            throw RecordsError(Fault::not_found, "session " + session_id, fmt::format("it has no place {}", position));
        need_attempt(*core_, attempt_id);
        if (core_->run("SELECT scenario, seed FROM attempts WHERE id = $1", {attempt_id}) != planned)
            throw RecordsError(Fault::conflict, "attempt " + attempt_id,
                               "another scenario or seed than the session has there",
                               text_of(planned[0][0], "scenario") + ", seed " + text_of(planned[0][1], "seed"));
        if (!core_
                 ->run("SELECT position FROM session_attempts WHERE session_id = $1 AND attempt_id = $2",
                       {session_id, attempt_id})
                 .empty())
            return;
        core_->run("INSERT INTO session_attempts (session_id, attempt_id, position) VALUES ($1, $2, $3)",
                   {session_id, attempt_id, position});
        core_->note(actor, "attempt put into a session", attempt_id, session_id);
    });
}

std::vector<GradedSession> Store::sessions(const Actor& actor) {
    need_role(actor, Role::instructor, "list sessions");
    std::vector<GradedSession> out;
    core_->read([&] {
        out.clear();
        for (const Row& row :
             core_->run("SELECT id, title, opened_at, opened_by FROM sessions ORDER BY opened_at, id")) {
            GradedSession session{text_of(row[0], "id"),
                                  text_of(row[1], "title"),
                                  text_of(row[2], "opened_at"),
                                  text_of(row[3], "opened_by"),
                                  {}};
            for (const Row& one : core_->run("SELECT scenario, scenario_hash, seed FROM session_scenarios WHERE "
                                             "session_id = $1 ORDER BY position",
                                             {session.id}))
                session.scenarios.push_back(
                    {text_of(one[0], "scenario"), text_of(one[1], "scenario_hash"), text_of(one[2], "seed")});
            out.push_back(std::move(session));
        }
    });
    return out;
}

std::string Store::add_rating(const Actor& actor, Rating rating) {
    need_role(actor, Role::instructor, "rate an attempt");
    need_text(rating.item, kMostNameBytes, "item");
    if (rating.point && !(*rating.point >= 1 && *rating.point <= 5))
        throw RecordsError(Fault::bad_input, "point", std::to_string(*rating.point), "1 to 5");
    if (rating.moment_s && !(*rating.moment_s >= 0.0 && *rating.moment_s < 1e9))
        throw RecordsError(Fault::bad_input, "moment", fmt::format("{} s", *rating.moment_s), "0 s or later");
    if (!rating.point && rating.comment.empty())
        throw RecordsError(Fault::bad_input, "rating", "neither a point nor a comment", "one of them");
    if (!rating.comment.empty()) need_text(rating.comment, kMostWordsBytes, "comment");
    rating.id = new_id();
    core_->write([&] {
        need_attempt(*core_, rating.attempt_id);
        core_->run(
            "INSERT INTO ratings (id, attempt_id, rater_id, item, point, moment_s, comment, rated_at) "
            "VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
            {rating.id, rating.attempt_id, actor.account_id, rating.item, rating.point ? Value{*rating.point} : Value{},
             rating.moment_s ? Value{*rating.moment_s} : Value{}, rating.comment, core_->now()});
        core_->note(actor, "attempt rated", rating.attempt_id, rating.id);
    });
    return rating.id;
}

std::vector<Rating> Store::ratings(const Actor& actor, const std::string& attempt_id) {
    static_cast<void>(attempt(actor, attempt_id));  // theirs, and there
    std::vector<Rating> out;
    core_->read([&] {
        out.clear();
        for (const Row& row :
             core_->run("SELECT id, attempt_id, rater_id, item, point, moment_s, comment, rated_at FROM "
                        "ratings WHERE attempt_id = $1 ORDER BY rated_at, id",
                        {attempt_id})) {
            Rating one{text_of(row[0], "id"),
                       text_of(row[1], "attempt_id"),
                       text_of(row[2], "rater_id"),
                       text_of(row[3], "item"),
                       {},
                       {},
                       text_of(row[6], "comment"),
                       text_of(row[7], "rated_at")};
            if (!std::holds_alternative<std::monostate>(row[4])) one.point = integer_of(row[4], "point");
            if (!std::holds_alternative<std::monostate>(row[5])) one.moment_s = number_of(row[5], "moment_s");
            out.push_back(std::move(one));
        }
    });
    return out;
}

bool Store::put_handed_in(const Actor& actor, const std::string& session_id, std::string_view bytes) {
    need_text(session_id, kMostNameBytes, "session id");
    if (bytes.empty() || bytes.size() > kMostReturnBytes)
        throw RecordsError(Fault::bad_input, "what a station handed in", fmt::format("{} bytes", bytes.size()),
                           fmt::format("1 to {} bytes", kMostReturnBytes));
    const std::string hash = files::hex(files::sha256(bytes));
    bool added = false;
    core_->write([&] {
        added = core_->run("SELECT content_hash FROM handed_in WHERE content_hash = $1", {hash}).empty();
        if (!added) return;
        core_->run(
            "INSERT INTO handed_in (content_hash, session_id, handed_in_at, handed_in_by, content) "
            "VALUES ($1, $2, $3, $4, $5)",
            {hash, session_id, core_->now(), actor.account_id, Blob{std::string(bytes)}});
        core_->note(actor, "handed in", session_id, hash);
    });
    return added;
}

std::vector<HandedIn> Store::handed_in(const Actor& actor, const std::string& session_id) {
    need_role(actor, Role::instructor, "read what stations handed in");
    std::vector<HandedIn> out;
    core_->read([&] {
        out.clear();
        for (const Row& row : core_->run("SELECT content_hash, session_id, handed_in_at, handed_in_by, content FROM "
                                         "handed_in WHERE session_id = $1 ORDER BY handed_in_at, content_hash",
                                         {session_id}))
            out.push_back({text_of(row[0], "content_hash"), text_of(row[1], "session_id"),
                           text_of(row[2], "handed_in_at"), text_of(row[3], "handed_in_by"),
                           bytes_of(row[4], "content")});
    });
    return out;
}

std::int64_t Store::take_away_handed_in(const Actor& actor, const std::string& session_id) {
    need_role(actor, Role::instructor, "take away what stations handed in");
    std::int64_t gone = 0;
    core_->write([&] {
        core_->run("DELETE FROM handed_in WHERE session_id = $1", {session_id});
        gone = core_->database().changed();
        if (gone > 0) core_->note(actor, "handed in, taken away", session_id, fmt::format("{} files", gone));
    });
    return gone;
}

PassMark Store::add_pass_mark(const Actor& actor, PassMark mark) {
    need_role(actor, Role::lead, "decide a pass mark");
    need_text(mark.scenario, kMostNameBytes, "scenario");
    need_text(mark.reason, kMostWordsBytes, "reason");
    if (!(mark.mark >= 0.0 && mark.mark <= 1.0))
        throw RecordsError(Fault::bad_input, "pass mark", fmt::format("{}", mark.mark), "a share, 0 to 1");
    core_->write([&] {
        mark.version = 1 + integer_of(core_->run("SELECT coalesce(max(version), 0) FROM pass_marks WHERE scenario = $1",
                                                 {mark.scenario})[0][0],
                                      "version");
        mark.decided_at = core_->now();
        mark.decided_by = actor.account_id;
        core_->run(
            "INSERT INTO pass_marks (scenario, version, scenario_hash, mark, reason, decided_at, decided_by) "
            "VALUES ($1, $2, $3, $4, $5, $6, $7)",
            {mark.scenario, mark.version, mark.scenario_hash, mark.mark, mark.reason, mark.decided_at,
             mark.decided_by});
        core_->note(actor, "pass mark decided", mark.scenario, fmt::format("version {}: {}", mark.version, mark.mark));
    });
    return mark;
}

std::vector<PassMark> Store::pass_marks(const Actor& actor) {
    static_cast<void>(actor);  // what is passed with is no secret
    std::vector<PassMark> out;
    core_->read([&] {
        out.clear();
        for (const Row& row :
             core_->run("SELECT scenario, scenario_hash, version, mark, reason, decided_at, decided_by FROM "
                        "pass_marks ORDER BY scenario, version"))
            out.push_back({text_of(row[0], "scenario"), text_of(row[1], "scenario_hash"), integer_of(row[2], "version"),
                           number_of(row[3], "mark"), text_of(row[4], "reason"), text_of(row[5], "decided_at"),
                           text_of(row[6], "decided_by")});
    });
    return out;
}

std::int64_t Store::add_work(const Actor& actor, const std::string& job, const std::vector<std::string>& items) {
    need_role(actor, Role::instructor, "add work");
    need_text(job, kMostNameBytes, "job");
    std::int64_t added = 0;
    core_->write([&] {
        added = 0;
        for (const std::string& item : items) {
            core_->run(
                "INSERT INTO claims (job, item, state, claimed_by, claimed_until, tries, result) "
                "VALUES ($1, $2, 'waiting', '', 0, 0, '') ON CONFLICT (job, item) DO NOTHING",
                {job, item});
            added += core_->database().changed();
        }
        if (added > 0) core_->note(actor, "work added", job, fmt::format("{} items", added));
    });
    return added;
}

std::vector<std::string> Store::claim_work(const Actor& actor, const std::string& job, const std::string& who,
                                           std::int64_t most, std::int64_t lease_s) {
    need_role(actor, Role::instructor, "claim work");
    std::vector<std::string> out;
    core_->write_beside([&] { out = claim_within(*core_, job, who, most, lease_s); });
    return out;
}

void Store::finish_work(const Actor& actor, const std::string& job, const std::string& item, const std::string& who,
                        const std::string& result) {
    need_role(actor, Role::instructor, "finish work");
    core_->write_beside([&] {
        if (!finish_within(*core_, job, item, who, result))
            throw RecordsError(Fault::conflict, job + ", " + item, "it is not " + who + "'s any more",
                               "work that is still claimed");
    });
}

NextWork Store::finish_and_claim(const Actor& actor, const std::string& job, const std::string& item,
                                 const std::string& who, const std::string& result, std::int64_t most,
                                 std::int64_t lease_s) {
    need_role(actor, Role::instructor, "finish work");
    NextWork out;
    core_->write_beside([&] {
        out.taken = finish_within(*core_, job, item, who, result);
        out.items = claim_within(*core_, job, who, most, lease_s);
    });
    return out;
}

std::int64_t Store::work_left(const Actor& actor, const std::string& job) {
    need_role(actor, Role::instructor, "look at work");
    std::int64_t left = 0;
    core_->read([&] {
        left = integer_of(core_->run("SELECT count(*) FROM claims WHERE job = $1 AND state <> 'done'", {job})[0][0],
                          "count");
    });
    return left;
}

}  // namespace records
