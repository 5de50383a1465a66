#include "engine/records/store.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <ctime>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <thread>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/records/schema.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr std::array<std::string_view, 3> kRoles{"learner", "instructor", "lead"};

std::unique_ptr<Database> open_database(const Place& place, bool create) {
    return place.kind == Place::Kind::sqlite ? open_sqlite(place, create) : open_postgres(place);
}

}  // namespace

std::string_view name_of(Role role) { return kRoles[static_cast<std::size_t>(role)]; }

Role role_named(std::string_view name) {
    const auto at = std::find(kRoles.begin(), kRoles.end(), name);
    if (at == kRoles.end())
        throw RecordsError(Fault::bad_input, "role", std::string(name), "learner, instructor or lead");
    return static_cast<Role>(at - kRoles.begin());
}

Actor desk_actor() { return {"desk", Role::lead, ""}; }

std::string moment_text(std::int64_t unix_s) {
    const auto seconds = static_cast<std::time_t>(unix_s);
    std::tm parts{};
    ::gmtime_r(&seconds, &parts);
    std::array<char, 32> text{};
    const std::size_t length = std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    return {text.data(), length};
}

std::string new_id() {
    std::string digits = files::random_id();
    digits[12] = '4';                                                                         // version 4
    digits[16] = "89ab"[(digits[16] >= 'a' ? digits[16] - 'a' + 10 : digits[16] - '0') & 3];  // variant 10
    return fmt::format("{}-{}-{}-{}-{}", digits.substr(0, 8), digits.substr(8, 4), digits.substr(12, 4),
                       digits.substr(16, 4), digits.substr(20));
}

std::string audit_hash(const std::string& previous, const AuditRow& row) {
    const auto hash = files::from_hex<32>(previous);
    if (!hash) return {};  // no link can hold
    const nlohmann::json fields{row.seq, row.at, row.actor, row.role, row.deed, row.subject, row.detail, row.deed_id};
    return files::hex(files::chained(*hash, fields.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)));
}

AuditRow audit_row_of(const Row& row) {
    AuditRow out;
    out.seq = integer_of(row[0], "audit.seq");
    std::array<std::string*, 8> texts{&out.at,      &out.actor,  &out.role,    &out.deed,
                                      &out.subject, &out.detail, &out.deed_id, &out.hash};
    for (std::size_t i = 0; i < texts.size(); ++i) *texts[i] = text_of(row[i + 1], "audit");
    return out;
}

void need_role(const Actor& actor, Role least, std::string_view deed) {
    if (actor.role >= least) return;
    throw RecordsError(Fault::denied, std::string(deed), fmt::format("asked by a {}", name_of(actor.role)),
                       least == Role::lead ? "a lead" : "an instructor or a lead");
}

void need_own(const Actor& actor, const std::string& learner_id, std::string_view deed) {
    if (actor.role != Role::learner || (!actor.learner_id.empty() && actor.learner_id == learner_id)) return;
    throw RecordsError(Fault::denied, std::string(deed), "a learner asked for what is not theirs", "their own results");
}

void need_text(std::string_view text, std::size_t most_bytes, const std::string& what) {
    const bool control =
        std::any_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
    if (!text.empty() && text.size() <= most_bytes && !control && files::first_bad_utf8(text) == std::string_view::npos)
        return;
    throw RecordsError(Fault::bad_input, what,
                       fmt::format("a text of {} bytes{}", text.size(), control ? " with control characters" : ""),
                       fmt::format("1 to {} bytes of UTF-8 without control characters", most_bytes));
}

StoreCore::StoreCore(std::unique_ptr<Database> database, StoreOptions options)
    : database_(std::move(database)), options_(std::move(options)) {}

std::int64_t StoreCore::now_s() const {
    return options_.now_s ? options_.now_s() : static_cast<std::int64_t>(std::time(nullptr));
}
std::string StoreCore::now() const { return moment_text(now_s()); }

Rows StoreCore::run(std::string_view sql, std::initializer_list<Value> values) {
    const std::span<const Value> list(values.begin(), values.size());
    if (sql.find('{') == std::string_view::npos) return database_->run(sql, list);
    return database_->run(database_->in_dialect(sql), list);
}

void StoreCore::with_retries(const std::function<void()>& body) {
    using Clock = std::chrono::steady_clock;
    const Clock::time_point began = Clock::now();
    double wait_s = options_.retry.first_wait_s;
    bool lost = false;
    while (true) {
        try {
            if (lost) database_->reconnect();
            lost = false;
            body();
            return;
        } catch (const RecordsError& error) {
            database_->rollback();
            if (!error.passing()) throw;
            lost = lost || error.fault() == Fault::connection_lost;
            const double passed_s = std::chrono::duration<double>(Clock::now() - began).count();
            if (!(passed_s + wait_s < options_.retry.longest_s)) throw;
        } catch (...) {
            database_->rollback();
            throw;
        }
        std::this_thread::sleep_for(std::chrono::duration<double>(wait_s));
        wait_s = std::min(wait_s * options_.retry.growth, options_.retry.longest_wait_s);
    }
}

void StoreCore::read(const std::function<void()>& body) {
    with_retries([&] {
        database_->begin(Access::snapshot);
        body();
        database_->commit();
    });
}

void StoreCore::write(const std::function<void()>& body) {
    deed_id_ = files::random_id();
    in_doubt_ = false;
    with_retries([&] { attempt_write(body, Trail::with); });
}

void StoreCore::write_beside(const std::function<void()>& body) {
    with_retries([&] { attempt_write(body, Trail::without); });
}

void StoreCore::attempt_write(const std::function<void()>& body, Trail trail) {
    database_->begin(trail == Trail::with ? Access::write : Access::hasty);
    if (trail == Trail::with) {
        take_head();
        if (in_doubt_ && was_done()) {
            database_->rollback();
            return;
        }
    }
    body();
    try {
        database_->commit();
    } catch (const RecordsError& error) {
        in_doubt_ = in_doubt_ || error.fault() == Fault::connection_lost;
        throw;
    }
}

void StoreCore::take_head() {
    // also what lets writers come one after the other on PostgreSQL
    const Rows head = run("SELECT seq, hash FROM audit_head WHERE one = 1{for_update}");
    if (head.size() != 1)
        throw RecordsError(Fault::damaged, database_->name(), "the audit trail has lost its head",
                           "one row of audit_head");
    head_seq_ = integer_of(head[0][0], "audit_head.seq");
    head_hash_ = text_of(head[0][1], "audit_head.hash");
}

bool StoreCore::was_done() { return !run("SELECT seq FROM audit WHERE deed_id = $1 LIMIT 1", {deed_id_}).empty(); }

void StoreCore::note(const Actor& actor, std::string_view deed, const std::string& subject, const std::string& detail) {
    AuditRow row{
        head_seq_ + 1, now(), actor.account_id, std::string(name_of(actor.role)), std::string(deed), subject, detail,
        deed_id_,      {}};
    row.hash = audit_hash(head_hash_, row);
    run("INSERT INTO audit (seq, at, actor, role, deed, subject, detail, deed_id, hash) "
        "VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
        {row.seq, row.at, row.actor, row.role, row.deed, row.subject, row.detail, row.deed_id, row.hash});
    run("UPDATE audit_head SET seq = $1, hash = $2 WHERE one = 1", {row.seq, row.hash});
    head_seq_ = row.seq;
    head_hash_ = row.hash;
}

Store::Store(std::unique_ptr<StoreCore> core) : core_(std::move(core)) {}
Store::Store(Store&&) noexcept = default;
Store& Store::operator=(Store&&) noexcept = default;
Store::~Store() = default;

Store Store::create(const std::string& place, StoreOptions options) {
    const Place where = place_of(place);
    auto core = std::make_unique<StoreCore>(open_database(where, true), std::move(options));
    if (schema_of(core->database()) != 0)
        throw RecordsError(Fault::conflict, where.shown, "a store is there already", "a new place");
    try {
        migrate(core->database(), newest_schema(), core->now());
        core->write([&] { core->note(desk_actor(), "store made", "", fmt::format("schema {}", newest_schema())); });
    } catch (...) {
        core.reset();
        // half a store is in the way of the next try; the file is ours, made a moment ago
        std::error_code ignored;
        if (where.kind == Place::Kind::sqlite)
            for (const char* ending : {"", "-wal", "-shm"}) std::filesystem::remove(where.address + ending, ignored);
        throw;
    }
    return Store(std::move(core));
}

Store Store::open(const std::string& place, StoreOptions options) {
    const Place where = place_of(place);
    auto core = std::make_unique<StoreCore>(open_database(where, false), std::move(options));
    if (schema_of(core->database()) == 0)
        throw RecordsError(Fault::not_a_store, where.shown, "no records here", "a place that pk records init made");
    const std::int64_t before = migrate(core->database(), newest_schema(), core->now());
    if (before < newest_schema())
        core->write(
            [&] { core->note(desk_actor(), "schema changed", "", fmt::format("{} to {}", before, newest_schema())); });
    return Store(std::move(core));
}

const std::string& Store::name() const { return core_->database().name(); }
Place::Kind Store::kind() const { return core_->database().kind(); }

}  // namespace records
