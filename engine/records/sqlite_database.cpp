#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <filesystem>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/records/database.hpp"
#include "engine/records/records_error.hpp"

namespace records {

namespace {

namespace fs = std::filesystem;

constexpr int kApplicationId = 0x504b5231;              // "PKR1", in the file's own header
constexpr int kBusyMs = 10'000;                         // how long a statement waits for others, assumed
constexpr int kBackupTries = 1000, kBackupWaitMs = 10;  // assumed

Fault fault_of(int code) {
    switch (code & 0xff) {
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return Fault::busy;
        case SQLITE_CORRUPT:
            return Fault::damaged;
        case SQLITE_NOTADB:
            return Fault::not_a_store;
        case SQLITE_FULL:
        case SQLITE_IOERR:
        case SQLITE_READONLY:
            return Fault::cannot_write;
        case SQLITE_CANTOPEN:
        case SQLITE_PERM:
        case SQLITE_AUTH:
            return Fault::cannot_open;
        case SQLITE_CONSTRAINT:
            return Fault::conflict;
        default:
            return Fault::database;
    }
}

[[noreturn]] void refuse(sqlite3* handle, int code, const std::string& name) {
    std::string words = handle != nullptr ? sqlite3_errmsg(handle) : sqlite3_errstr(code);
    if (const int error = handle != nullptr ? sqlite3_system_errno(handle) : 0;
        error != 0 && ((code & 0xff) == SQLITE_IOERR || (code & 0xff) == SQLITE_CANTOPEN))
        words += " (" + files::words_of_errno(error) + ")";
    throw RecordsError(fault_of(code), name, words);
}

/// A prepared statement that finalises itself.
class Statement {
 public:
    Statement(sqlite3* handle, std::string_view sql, const std::string& name) : handle_(handle), name_(name) {
        const char* rest = nullptr;
        const int code = sqlite3_prepare_v2(handle, sql.data(), static_cast<int>(sql.size()), &statement_, &rest);
        if (code != SQLITE_OK) refuse(handle, code, name);
    }
    ~Statement() { sqlite3_finalize(statement_); }
    Statement(const Statement&) = delete;
    Statement& operator=(const Statement&) = delete;

    void bind(std::size_t number, const Value& value) {
        const int at = sqlite3_bind_parameter_index(statement_, fmt::format("${}", number).c_str());
        int code = SQLITE_OK;
        if (const auto* whole = std::get_if<std::int64_t>(&value))
            code = sqlite3_bind_int64(statement_, at, *whole);
        else if (const auto* real = std::get_if<double>(&value))
            code = sqlite3_bind_double(statement_, at, *real);
        else if (const auto* text = std::get_if<std::string>(&value))
            code = sqlite3_bind_text64(statement_, at, text->data(), text->size(), SQLITE_TRANSIENT, SQLITE_UTF8);
        else if (const auto* blob = std::get_if<Blob>(&value))
            code = sqlite3_bind_blob64(statement_, at, blob->bytes.data(), blob->bytes.size(), SQLITE_TRANSIENT);
        else
            code = sqlite3_bind_null(statement_, at);
        if (code != SQLITE_OK) refuse(handle_, code, name_);
    }

    [[nodiscard]] bool step() {
        const int code = sqlite3_step(statement_);
        if (code == SQLITE_ROW) return true;
        if (code != SQLITE_DONE) refuse(handle_, code, name_);
        return false;
    }

    [[nodiscard]] Row row() const {
        Row out;
        for (int i = 0; i < sqlite3_column_count(statement_); ++i) out.push_back(value(i));
        return out;
    }

 private:
    [[nodiscard]] Value value(int column) const {
        const auto bytes = [&] { return static_cast<std::size_t>(sqlite3_column_bytes(statement_, column)); };
        switch (sqlite3_column_type(statement_, column)) {
            case SQLITE_INTEGER:
                return static_cast<std::int64_t>(sqlite3_column_int64(statement_, column));
            case SQLITE_FLOAT:
                return sqlite3_column_double(statement_, column);
            case SQLITE_TEXT: {
                const auto* text = reinterpret_cast<const char*>(sqlite3_column_text(statement_, column));
                return std::string(text, bytes());
            }
            case SQLITE_BLOB: {
                const auto* start = static_cast<const char*>(sqlite3_column_blob(statement_, column));
                return Blob{start == nullptr ? std::string() : std::string(start, bytes())};
            }
            default:
                return std::monostate{};
        }
    }

    sqlite3* handle_;
    const std::string& name_;
    sqlite3_stmt* statement_ = nullptr;
};

struct Closer {
    void operator()(sqlite3* handle) const { sqlite3_close(handle); }
};
using Handle = std::unique_ptr<sqlite3, Closer>;

Handle open_handle(const std::string& path, const std::string& name, int flags) {
    sqlite3* raw = nullptr;
    const int code = sqlite3_open_v2(path.c_str(), &raw, flags | SQLITE_OPEN_EXRESCODE, nullptr);
    Handle handle(raw);
    if (code != SQLITE_OK) refuse(raw, code, name);
    sqlite3_busy_timeout(raw, kBusyMs);
    return handle;
}

class SqliteDatabase final : public Database {
 public:
    SqliteDatabase(Place place, bool create) : place_(std::move(place)) {
        if (create) make_file();
        connect();
        if (create) {
            run(fmt::format("PRAGMA application_id={}", kApplicationId), {});
        } else if (run("PRAGMA application_id", {}) != Rows{{std::int64_t{kApplicationId}}}) {
            throw RecordsError(Fault::not_a_store, name(), "a database of something else",
                               "a file that pk records init made");
        }
        run("PRAGMA journal_mode=WAL", {});
        run("PRAGMA synchronous=FULL", {});  // what was acknowledged outlives a power failure
        run("PRAGMA foreign_keys=ON", {});
        run("PRAGMA secure_delete=ON", {});  // an erased learner's bytes are overwritten
        run("PRAGMA trusted_schema=OFF", {});
    }

    using Database::run;
    Rows run(std::string_view sql, std::span<const Value> values) override {
        Statement statement(handle_.get(), sql, name());
        for (std::size_t i = 0; i < values.size(); ++i) statement.bind(i + 1, values[i]);
        Rows out;
        while (statement.step()) out.push_back(statement.row());
        return out;
    }

    [[nodiscard]] std::int64_t changed() const override { return sqlite3_changes64(handle_.get()); }

    void begin(Access access) override {
        if (hasty_ != (access == Access::hasty)) {
            hasty_ = !hasty_;
            run(hasty_ ? "PRAGMA synchronous=NORMAL" : "PRAGMA synchronous=FULL", {});
        }
        // a writer takes its lock at once: one that begins by reading could find at its end that another was first
        run(access == Access::snapshot ? "BEGIN" : "BEGIN IMMEDIATE", {});
        // a reader's moment is that of its first read
        if (access == Access::snapshot) run("SELECT count(*) FROM sqlite_master", {});
    }
    void commit() override { run("COMMIT", {}); }
    void rollback() noexcept override {
        if (sqlite3_get_autocommit(handle_.get()) == 0)
            sqlite3_exec(handle_.get(), "ROLLBACK", nullptr, nullptr, nullptr);
    }
    void reconnect() override {}
    void lock_schema() override {}  // the writing transaction is the only one

    [[nodiscard]] std::vector<std::string> columns(std::string_view table) override {
        std::vector<std::string> out;
        for (const Row& row :
             run("SELECT name FROM pragma_table_info($1) ORDER BY cid", std::array{Value{std::string(table)}}))
            out.push_back(text_of(row[0], "a column's name"));
        return out;
    }

    [[nodiscard]] std::vector<std::string> integrity_faults() override {
        std::vector<std::string> out;
        for (const Row& row : run("PRAGMA integrity_check", {}))
            if (const std::string& words = text_of(row[0], "integrity_check"); words != "ok") out.push_back(words);
        for (const Row& row : run("PRAGMA foreign_key_check", {}))
            out.push_back(
                fmt::format("a row of {} points at one that is not there", text_of(row[0], "foreign_key_check")));
        return out;
    }

    void forget_deleted() override { run("PRAGMA wal_checkpoint(TRUNCATE)", {}); }

    [[nodiscard]] Place::Kind kind() const override { return Place::Kind::sqlite; }
    [[nodiscard]] const std::string& name() const override { return place_.shown; }
    [[nodiscard]] std::string in_dialect(std::string_view sql) const override {
        return with_words(sql, {{"{text}", "TEXT"}, {"{blob}", "BLOB"}, {"{for_update}", ""}, {"{skip_locked}", ""}});
    }

 private:
    /// Made by us and by nobody else meanwhile, for its owner alone.
    void make_file() const {
        const files::Descriptor made(
            ::open(place_.address.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, S_IRUSR | S_IWUSR));
        if (made.open()) return;
        const int error = errno;
        throw RecordsError(error == EEXIST ? Fault::conflict : Fault::cannot_open, name(), files::words_of_errno(error),
                           "a new file in a folder that can be written");
    }

    void connect() {
        std::error_code ignored;
        if (fs::exists(place_.address, ignored) && !fs::is_regular_file(place_.address, ignored))
            throw RecordsError(Fault::not_a_store, name(), "no regular file", "a file that pk records init made");
        handle_ = open_handle(place_.address, name(), SQLITE_OPEN_READWRITE);
        run("SELECT count(*) FROM sqlite_master", {});  // the first read is where another kind of file is found out
    }

    Place place_;
    Handle handle_;
    bool hasty_ = false;  // the disk is not waited for
};

}  // namespace

std::unique_ptr<Database> open_sqlite(const Place& place, bool create) {
    return std::make_unique<SqliteDatabase>(place, create);
}

void copy_sqlite(const Place& from, const std::string& out) {
    std::error_code ignored;
    if (fs::exists(out, ignored)) throw RecordsError(Fault::conflict, out, "something is there already", "a new file");
    const std::string whole = out + "." + files::random_id();
    try {
        {
            const Handle source = open_handle(from.address, from.shown, SQLITE_OPEN_READONLY);
            const files::Descriptor made(
                ::open(whole.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, S_IRUSR | S_IWUSR));
            if (!made.open())
                throw RecordsError(Fault::cannot_write, out, files::words_of_errno(errno),
                                   "a folder that can be written");
            const Handle target = open_handle(whole, out, SQLITE_OPEN_READWRITE);
            sqlite3_backup* backup = sqlite3_backup_init(target.get(), "main", source.get(), "main");
            if (backup == nullptr) refuse(target.get(), sqlite3_errcode(target.get()), out);
            // whole in one step: it reads one moment of the write-ahead log and holds no writer up, while copying
            // piece by piece would begin anew with every write of another program
            int code = sqlite3_backup_step(backup, -1);
            for (int i = 0; (code == SQLITE_BUSY || code == SQLITE_LOCKED) && i < kBackupTries; ++i) {
                sqlite3_sleep(kBackupWaitMs);
                code = sqlite3_backup_step(backup, -1);
            }
            sqlite3_backup_finish(backup);
            if (code != SQLITE_DONE) refuse(target.get(), code, out);
            ::fsync(made.number());
        }
        fs::rename(whole, out);
    } catch (...) {
        fs::remove(whole, ignored);
        throw;
    }
}

}  // namespace records
