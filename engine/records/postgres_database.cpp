#ifdef PK_WITH_POSTGRES

#include <fmt/format.h>

#include <array>
#include <optional>
#include <pqxx/pqxx>

#include "engine/records/database.hpp"
#include "engine/records/records_error.hpp"

namespace records {

namespace {

// all tables lie in a schema of our own, so that a school's other tables in the same database are left alone
constexpr const char* kSettings =
    "SET search_path TO planekeeper; SET bytea_output TO hex; SET client_min_messages TO warning; "
    "SET TimeZone TO 'UTC'; SET synchronous_commit TO on; SET standard_conforming_strings TO on";
constexpr std::int64_t kSchemaLock = 0x504b5231;  // pg_advisory_xact_lock; any number that is ours

// object ids of built-in types, which never change (catalog/pg_type.dat of PostgreSQL)
constexpr pqxx::oid kBytea = 17, kInt8 = 20, kInt4 = 23, kFloat8 = 701;

Fault fault_of(const std::string& state) {
    const std::string group = state.substr(0, 2);
    if (state == "40001" || state == "40P01" || state == "55P03") return Fault::busy;
    if (group == "08" || state == "57P01" || state == "57P02" || state == "57P03") return Fault::connection_lost;
    if (group == "23") return Fault::conflict;
    if (state == "42501" || group == "28") return Fault::denied;
    if (group == "53" || state == "25006" || group == "58") return Fault::cannot_write;
    if (state == "XX001" || state == "XX002") return Fault::damaged;
    return Fault::database;
}

/// One line of what the server says.
std::string first_line(std::string text) {
    text.erase(std::min(text.find('\n'), text.size()));
    return text;
}

char digit(unsigned value) { return "0123456789abcdef"[value & 15U]; }

std::string hex_text(const std::string& bytes) {
    std::string out = "\\x";
    out.reserve(2 + 2 * bytes.size());
    for (const char c : bytes) {
        const auto byte = static_cast<unsigned char>(c);
        out.push_back(digit(byte >> 4U));
        out.push_back(digit(byte));
    }
    return out;
}

std::string bytes_of_hex(std::string_view text, const std::string& name) {
    const auto value = [&](char c) -> unsigned {
        if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
        if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a' + 10);
        throw RecordsError(Fault::database, name, "bytes that are not hexadecimal");
    };
    if (text.size() < 2 || text.size() % 2 != 0 || !text.starts_with("\\x"))
        throw RecordsError(Fault::database, name, "bytes that are not hexadecimal");
    std::string out;
    out.reserve(text.size() / 2 - 1);
    for (std::size_t i = 2; i < text.size(); i += 2)
        out.push_back(static_cast<char>((value(text[i]) << 4U) | value(text[i + 1])));
    return out;
}

/// A parameter in PostgreSQL's text form; nothing for NULL.
std::optional<std::string> text_form(const Value& value, const std::string& name) {
    if (const auto* whole = std::get_if<std::int64_t>(&value)) return std::to_string(*whole);
    if (const auto* real = std::get_if<double>(&value)) return fmt::format("{}", *real);  // shortest that reads back
    if (const auto* blob = std::get_if<Blob>(&value)) return hex_text(blob->bytes);
    if (const auto* text = std::get_if<std::string>(&value)) {
        if (text->find('\0') != std::string::npos)
            throw RecordsError(Fault::bad_input, name, "a text with a zero byte", "a text without");
        return *text;
    }
    return std::nullopt;
}

/// Of itself libpqxx 6 would go on with a new connection in the middle of what was begun on the old one. Version 7 does
/// no such thing and has no such switch.
void stay_disconnected([[maybe_unused]] pqxx::connection& connection) {
#if PQXX_VERSION_MAJOR < 7
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wdeprecated-declarations"
    connection.inhibit_reactivation(true);
#pragma GCC diagnostic pop
#endif
}

class PostgresDatabase final : public Database {
 public:
    explicit PostgresDatabase(Place place) : place_(std::move(place)) { reconnect(); }

    using Database::run;
    Rows run(std::string_view sql, std::span<const Value> values) override {
        std::vector<std::optional<std::string>> texts;
        for (const Value& value : values) texts.push_back(text_form(value, name()));
        std::vector<const char*> pointers;
        for (const auto& text : texts) pointers.push_back(text ? text->c_str() : nullptr);
        return guarded([&] {
            const pqxx::result result =
                values.empty() ? work().exec(std::string(sql))
                               : work().exec_params(std::string(sql), pqxx::prepare::make_dynamic_params(pointers));
            changed_ = static_cast<std::int64_t>(result.affected_rows());
            return rows_of(result);
        });
    }

    [[nodiscard]] std::int64_t changed() const override { return changed_; }

    void begin(Access access) override {
        run(access == Access::snapshot ? "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY" : "BEGIN", {});
        open_ = true;
        if (access == Access::hasty) run("SET LOCAL synchronous_commit TO off", {});
    }
    void commit() override {
        open_ = false;
        // COMMIT of a transaction in which a statement failed answers ROLLBACK and no error
        guarded([&] { return work().exec("COMMIT"); });
    }
    void rollback() noexcept override {
        if (!open_) return;
        open_ = false;
        try {
            work().exec("ROLLBACK");
        } catch (...) {
            work_.reset();  // the server rolls back what it loses the connection of
            connection_.reset();
        }
    }

    void reconnect() override {
        work_.reset();
        connection_.reset();
        open_ = false;
        guarded([&] {
            connection_ = std::make_unique<pqxx::connection>(place_.address);
            stay_disconnected(*connection_);
            work_ = std::make_unique<pqxx::nontransaction>(*connection_);
            return work_->exec(kSettings);
        });
        was_open_ = true;
    }

    void lock_schema() override {
        run("SELECT pg_advisory_xact_lock($1)", std::array<Value, 1>{kSchemaLock});
        // looked for first: a role that may only use the tables has no right to ask for it
        if (run("SELECT nspname FROM pg_namespace WHERE nspname = 'planekeeper'", {}).empty())
            run("CREATE SCHEMA planekeeper", {});
    }

    [[nodiscard]] std::vector<std::string> columns(std::string_view table) override {
        std::vector<std::string> out;
        for (const Row& row : run("SELECT column_name::text FROM information_schema.columns WHERE table_schema = "
                                  "'planekeeper' AND table_name = $1 ORDER BY ordinal_position",
                                  std::array<Value, 1>{std::string(table)}))
            out.push_back(text_of(row[0], "a column's name"));
        return out;
    }

    [[nodiscard]] std::vector<std::string> integrity_faults() override {
        return {};
    }  // its own checks run as it writes
    void forget_deleted() override {
        run("VACUUM learners, learner_keys, accounts, attempts, attempt_headings, ratings", {});
    }

    [[nodiscard]] Place::Kind kind() const override { return Place::Kind::postgres; }
    [[nodiscard]] const std::string& name() const override { return place_.shown; }
    [[nodiscard]] std::string in_dialect(std::string_view sql) const override {
        // sorted by bytes, as SQLite does, whatever the database's language is
        return with_words(sql, {{"{text}", "TEXT COLLATE \"C\""},
                                {"{blob}", "BYTEA"},
                                {"{for_update}", " FOR UPDATE"},
                                {"{skip_locked}", " FOR UPDATE SKIP LOCKED"}});
    }

 private:
    [[nodiscard]] pqxx::nontransaction& work() {
        if (!work_) throw RecordsError(Fault::connection_lost, name(), "there is no connection");
        return *work_;
    }

    [[nodiscard]] Rows rows_of(const pqxx::result& result) const {
        Rows out;
        out.reserve(result.size());
        for (const auto& line : result) {
            Row row;
            row.reserve(line.size());
            for (const auto& field : line) row.push_back(value_of(field));
            out.push_back(std::move(row));
        }
        return out;
    }

    [[nodiscard]] Value value_of(const pqxx::field& field) const {
        if (field.is_null()) return std::monostate{};
        const std::string_view text(field.c_str(), field.size());
        switch (field.type()) {
            case kInt4:
            case kInt8:
                return field.as<std::int64_t>();
            case kFloat8:
                return std::stod(std::string(text));
            case kBytea:
                return Blob{bytes_of_hex(text, name())};
            default:
                return std::string(text);
        }
    }

    /// libpqxx's errors as ours.
    template <typename Act>
    auto guarded(const Act& act) -> decltype(act()) {
        try {
            return act();
        } catch (const pqxx::broken_connection& error) {
            throw RecordsError(connection_fault(error.what()), name(), first_line(error.what()));
        } catch (const pqxx::in_doubt_error& error) {
            throw RecordsError(Fault::connection_lost, name(), first_line(error.what()));
        } catch (const pqxx::sql_error& error) {
            // a connection that broke while the server was killed may come without a state
            const std::string state = error.sqlstate();
            const bool lost = connection_ && !connection_->is_open();
            throw RecordsError(lost ? Fault::connection_lost : fault_of(state), name(), first_line(error.what()));
        } catch (const pqxx::failure& error) {
            throw RecordsError(connection_ && !connection_->is_open() ? Fault::connection_lost : Fault::database,
                               name(), first_line(error.what()));
        } catch (const pqxx::argument_error& error) {
            throw RecordsError(Fault::bad_input, name(), first_line(error.what()));
        } catch (const pqxx::usage_error& error) {
            throw RecordsError(Fault::connection_lost, name(), first_line(error.what()));
        }
    }

    /// A connection that could not be made. One that was there once may come back, whatever the reason sounds like: a
    /// server that restarts has many words for it.
    [[nodiscard]] Fault connection_fault(const std::string& words) const {
        if (was_open_) return Fault::connection_lost;
        for (const char* passing : {"starting up", "shutting down", "in recovery", "not yet accepting",
                                    "too many clients", "remaining connection slots"})
            if (words.find(passing) != std::string::npos) return Fault::connection_lost;
        return Fault::cannot_open;
    }

    Place place_;
    std::unique_ptr<pqxx::connection> connection_;
    std::unique_ptr<pqxx::nontransaction> work_;  // BEGIN and COMMIT are ours
    std::int64_t changed_ = 0;
    bool open_ = false;      // a transaction is
    bool was_open_ = false;  // the connection, once
};

}  // namespace

bool postgres_built_in() { return true; }

std::unique_ptr<Database> open_postgres(const Place& place) { return std::make_unique<PostgresDatabase>(place); }

}  // namespace records

#endif
