#include "engine/records/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "engine/records/records_error.hpp"

namespace records {

namespace {

// whole numbers are BIGINT and figures DOUBLE PRECISION, which SQLite reads as INTEGER and REAL; moments are text in
// UTC, a seed of 64 bits is text since BIGINT has a sign
constexpr std::array<std::string_view, 10> kBase{
    "CREATE TABLE learners (id {text} PRIMARY KEY, name {text} NOT NULL, added_at {text} NOT NULL)",
    "CREATE TABLE learner_keys (fingerprint {text} PRIMARY KEY, learner_id {text} NOT NULL REFERENCES learners (id) "
    "ON DELETE CASCADE, added_at {text} NOT NULL)",
    "CREATE TABLE accounts (id {text} PRIMARY KEY, login {text} NOT NULL UNIQUE, role {text} NOT NULL "
    "CHECK (role IN ('learner', 'instructor', 'lead')), learner_id {text} REFERENCES learners (id) ON DELETE CASCADE, "
    "pass_hash {text} NOT NULL, wrong_tries BIGINT NOT NULL CHECK (wrong_tries >= 0), locked_until BIGINT NOT NULL, "
    "added_at {text} NOT NULL, CHECK ((role = 'learner') = (learner_id IS NOT NULL)))",
    "CREATE TABLE audit (seq BIGINT PRIMARY KEY CHECK (seq >= 1), at {text} NOT NULL, actor {text} NOT NULL, "
    "role {text} NOT NULL, deed {text} NOT NULL, subject {text} NOT NULL, detail {text} NOT NULL, "
    "deed_id {text} NOT NULL, hash {text} NOT NULL)",
    "CREATE INDEX audit_deed_id ON audit (deed_id)",
    "CREATE TABLE audit_head (one BIGINT PRIMARY KEY CHECK (one = 1), seq BIGINT NOT NULL, hash {text} NOT NULL)",
    "INSERT INTO audit_head (one, seq, hash) VALUES "
    "(1, 0, '0000000000000000000000000000000000000000000000000000000000000000')",
    "CREATE TABLE attempts (id {text} PRIMARY KEY, content_hash {text} NOT NULL UNIQUE, learner_id {text} NOT NULL "
    "REFERENCES learners (id) ON DELETE CASCADE, learner_key {text} NOT NULL, scenario {text} NOT NULL, "
    "scenario_hash {text} NOT NULL, rubric_hash {text} NOT NULL, mode {text} NOT NULL, seed {text} NOT NULL, "
    "devices {text} NOT NULL, aids_asked BIGINT NOT NULL, started_at {text} NOT NULL, steps BIGINT NOT NULL, "
    "finished BIGINT NOT NULL CHECK (finished IN (0, 1)), verdict {text} NOT NULL, points DOUBLE PRECISION NOT NULL, "
    "points_of DOUBLE PRECISION NOT NULL, scoring_version BIGINT NOT NULL, program_version {text} NOT NULL, "
    "added_at {text} NOT NULL, content {blob} NOT NULL)",
    "CREATE INDEX attempts_learner ON attempts (learner_id, started_at)",
    "CREATE TABLE attempt_headings (attempt_id {text} NOT NULL REFERENCES attempts (id) ON DELETE CASCADE, "
    "heading {text} NOT NULL, points DOUBLE PRECISION NOT NULL, points_of DOUBLE PRECISION NOT NULL, "
    "PRIMARY KEY (attempt_id, heading))",
};

constexpr std::array<std::string_view, 6> kTeaching{
    "CREATE TABLE sessions (id {text} PRIMARY KEY, title {text} NOT NULL, opened_at {text} NOT NULL, "
    "opened_by {text} NOT NULL)",
    "CREATE TABLE session_scenarios (session_id {text} NOT NULL REFERENCES sessions (id) ON DELETE CASCADE, "
    "position BIGINT NOT NULL CHECK (position >= 1), scenario {text} NOT NULL, scenario_hash {text} NOT NULL, "
    "seed {text} NOT NULL, PRIMARY KEY (session_id, position))",
    "CREATE TABLE session_attempts (session_id {text} NOT NULL REFERENCES sessions (id) ON DELETE CASCADE, "
    "attempt_id {text} NOT NULL REFERENCES attempts (id) ON DELETE CASCADE, position BIGINT NOT NULL, "
    "PRIMARY KEY (session_id, attempt_id))",
    "CREATE TABLE ratings (id {text} PRIMARY KEY, attempt_id {text} NOT NULL REFERENCES attempts (id) "
    "ON DELETE CASCADE, rater_id {text} NOT NULL, item {text} NOT NULL, point BIGINT CHECK (point BETWEEN 1 AND 5), "
    "moment_s DOUBLE PRECISION CHECK (moment_s >= 0), comment {text} NOT NULL, rated_at {text} NOT NULL)",
    "CREATE TABLE pass_marks (scenario {text} NOT NULL, version BIGINT NOT NULL CHECK (version >= 1), "
    "scenario_hash {text} NOT NULL, mark DOUBLE PRECISION NOT NULL CHECK (mark >= 0 AND mark <= 1), "
    "reason {text} NOT NULL, decided_at {text} NOT NULL, decided_by {text} NOT NULL, PRIMARY KEY (scenario, version))",
    "CREATE TABLE claims (job {text} NOT NULL, item {text} NOT NULL, state {text} NOT NULL "
    "CHECK (state IN ('waiting', 'claimed', 'done')), claimed_by {text} NOT NULL, claimed_until BIGINT NOT NULL, "
    "tries BIGINT NOT NULL, result {text} NOT NULL, PRIMARY KEY (job, item))",
};

constexpr std::array<std::string_view, 1> kSent{
    "CREATE TABLE sent_statements (lrs {text} NOT NULL, statement_id {text} NOT NULL, attempt_id {text} NOT NULL "
    "REFERENCES attempts (id) ON DELETE CASCADE, sent_at {text} NOT NULL, PRIMARY KEY (lrs, statement_id))",
};

// what is done is most of a job, and is not looked through again
constexpr std::array<std::string_view, 1> kOpenClaims{
    "CREATE INDEX claims_open ON claims (job, item) WHERE state <> 'done'",
};

// all that a board reads, so that no row with its content is
constexpr std::array<std::string_view, 1> kBoard{
    "CREATE INDEX attempts_board ON attempts (learner_id, scenario, started_at, id, seed, mode, finished, verdict, "
    "points, points_of)",
};

// what stations handed in, sealed for the instructor, until it is collected
constexpr std::array<std::string_view, 1> kReturns{
    "CREATE TABLE handed_in (content_hash {text} PRIMARY KEY, session_id {text} NOT NULL, "
    "handed_in_at {text} NOT NULL, handed_in_by {text} NOT NULL, content {blob} NOT NULL)",
};

constexpr std::array<Migration, 6> kMigrations{{
    {1, "learners, accounts, audit trail, attempts", kBase},
    {2, "graded sessions, ratings, pass marks, claims", kTeaching},
    {3, "statements sent to a learning record store", kSent},
    {4, "index of claims that are open", kOpenClaims},
    {5, "index for the board", kBoard},
    {6, "what stations handed in", kReturns},
}};

constexpr auto kText = ColumnType::text;
constexpr auto kInteger = ColumnType::integer;
constexpr auto kReal = ColumnType::real;

constexpr std::array<Column, 3> kLearners{{{"id"}, {"name"}, {"added_at"}}};
constexpr std::array<Column, 3> kLearnerKeys{{{"fingerprint"}, {"learner_id"}, {"added_at"}}};
constexpr std::array<Column, 8> kAccounts{{{"id"},
                                           {"login"},
                                           {"role"},
                                           {"learner_id", kText, true},
                                           {"pass_hash"},
                                           {"wrong_tries", kInteger},
                                           {"locked_until", kInteger},
                                           {"added_at"}}};
constexpr std::array<Column, 21> kAttempts{{{"id"},
                                            {"content_hash"},
                                            {"learner_id"},
                                            {"learner_key"},
                                            {"scenario"},
                                            {"scenario_hash"},
                                            {"rubric_hash"},
                                            {"mode"},
                                            {"seed"},
                                            {"devices"},
                                            {"aids_asked", kInteger},
                                            {"started_at"},
                                            {"steps", kInteger},
                                            {"finished", kInteger},
                                            {"verdict"},
                                            {"points", kReal},
                                            {"points_of", kReal},
                                            {"scoring_version", kInteger},
                                            {"program_version"},
                                            {"added_at"},
                                            {"content", ColumnType::bytes}}};
constexpr std::array<Column, 4> kHeadings{{{"attempt_id"}, {"heading"}, {"points", kReal}, {"points_of", kReal}}};
constexpr std::array<Column, 4> kSessions{{{"id"}, {"title"}, {"opened_at"}, {"opened_by"}}};
constexpr std::array<Column, 5> kSessionScenarios{
    {{"session_id"}, {"position", kInteger}, {"scenario"}, {"scenario_hash"}, {"seed"}}};
constexpr std::array<Column, 3> kSessionAttempts{{{"session_id"}, {"attempt_id"}, {"position", kInteger}}};
constexpr std::array<Column, 8> kRatings{{{"id"},
                                          {"attempt_id"},
                                          {"rater_id"},
                                          {"item"},
                                          {"point", kInteger, true},
                                          {"moment_s", kReal, true},
                                          {"comment"},
                                          {"rated_at"}}};
constexpr std::array<Column, 7> kPassMarks{{{"scenario"},
                                            {"version", kInteger},
                                            {"scenario_hash"},
                                            {"mark", kReal},
                                            {"reason"},
                                            {"decided_at"},
                                            {"decided_by"}}};
constexpr std::array<Column, 7> kClaims{
    {{"job"}, {"item"}, {"state"}, {"claimed_by"}, {"claimed_until", kInteger}, {"tries", kInteger}, {"result"}}};
constexpr std::array<Column, 4> kSentStatements{{{"lrs"}, {"statement_id"}, {"attempt_id"}, {"sent_at"}}};
constexpr std::array<Column, 5> kHandedIn{
    {{"content_hash"}, {"session_id"}, {"handed_in_at"}, {"handed_in_by"}, {"content", ColumnType::bytes}}};
constexpr std::array<Column, 9> kAudit{
    {{"seq", kInteger}, {"at"}, {"actor"}, {"role"}, {"deed"}, {"subject"}, {"detail"}, {"deed_id"}, {"hash"}}};
constexpr std::array<Column, 3> kAuditHead{{{"one", kInteger}, {"seq", kInteger}, {"hash"}}};

constexpr std::string_view kOfTheirAttempts = "attempt_id IN (SELECT id FROM attempts WHERE learner_id = $1)";
constexpr std::array<Table, 15> kTables{{
    {"learners", kLearners, 1, "id = $1"},
    {"learner_keys", kLearnerKeys, 1, "learner_id = $1"},
    {"accounts", kAccounts, 1, ""},
    {"attempts", kAttempts, 1, "learner_id = $1"},
    {"attempt_headings", kHeadings, 2, kOfTheirAttempts},
    {"sessions", kSessions, 1,
     "id IN (SELECT session_id FROM session_attempts WHERE attempt_id IN (SELECT id FROM attempts WHERE learner_id = "
     "$1))"},
    {"session_scenarios", kSessionScenarios, 2, ""},
    {"session_attempts", kSessionAttempts, 2, kOfTheirAttempts},
    {"ratings", kRatings, 1, kOfTheirAttempts},
    {"pass_marks", kPassMarks, 2, ""},
    {"claims", kClaims, 2, ""},
    {"sent_statements", kSentStatements, 2, kOfTheirAttempts},
    {"handed_in", kHandedIn, 1, ""},
    {"audit", kAudit, 1, ""},
    {"audit_head", kAuditHead, 1, ""},
}};

}  // namespace

std::span<const Migration> migrations() { return kMigrations; }
std::int64_t newest_schema() { return kMigrations.back().number; }
std::int64_t tables_since() { return 6; }
std::int64_t oldest_archive() { return 3; }
std::span<const Table> tables() { return kTables; }

std::int64_t schema_of(Database& database) {
    if (database.columns("schema_migrations").empty()) return 0;
    const Rows rows = database.run("SELECT max(number) FROM schema_migrations");
    return std::holds_alternative<std::monostate>(rows[0][0]) ? 0 : integer_of(rows[0][0], "schema_migrations.number");
}

std::int64_t migrate(Database& database, std::int64_t up_to, const std::string& applied_at) {
    const std::int64_t before = schema_of(database);
    if (before > newest_schema())
        throw RecordsError(Fault::newer_schema, database.name(), fmt::format("schema {}", before),
                           fmt::format("up to {}, which is what this program knows", newest_schema()));
    for (const Migration& migration : kMigrations) {
        if (migration.number <= before || migration.number > up_to) continue;
        database.begin(Access::write);
        try {
            database.lock_schema();
            database.run(
                database.in_dialect("CREATE TABLE IF NOT EXISTS schema_migrations (number BIGINT PRIMARY KEY, name "
                                    "{text} NOT NULL, applied_at {text} NOT NULL)"));
            // another program may have been first
            if (schema_of(database) < migration.number) {
                for (const std::string_view statement : migration.statements)
                    database.run(database.in_dialect(statement));
                database.run("INSERT INTO schema_migrations (number, name, applied_at) VALUES ($1, $2, $3)",
                             std::array<Value, 3>{migration.number, std::string(migration.name), applied_at});
            }
            database.commit();
        } catch (...) {
            database.rollback();
            throw;
        }
    }
    return before;
}

}  // namespace records
