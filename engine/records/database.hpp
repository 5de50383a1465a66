#pragma once

#include <cstdint>
#include <initializer_list>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

/// The thin layer in which the two back ends differ: one connection, statements with $1, $2 ..., transactions. All SQL
/// above it is the same for both.

namespace records {

/// Bytes that are no text.
struct Blob {
    std::string bytes;
    friend bool operator==(const Blob&, const Blob&) = default;
};

using Value = std::variant<std::monostate, std::int64_t, double, std::string, Blob>;
using Row = std::vector<Value>;
using Rows = std::vector<Row>;

/// @throws RecordsError (damaged) for a value of another type: `what` names it
[[nodiscard]] std::int64_t integer_of(const Value& value, std::string_view what);
[[nodiscard]] double number_of(const Value& value, std::string_view what);  ///< an integer is a number too
[[nodiscard]] const std::string& text_of(const Value& value, std::string_view what);
[[nodiscard]] const std::string& bytes_of(const Value& value, std::string_view what);

/// How a transaction sees and keeps others.
enum class Access : std::uint8_t {
    snapshot,  ///< reads one moment, whatever others write
    write,
    hasty,  ///< writes without waiting for the disk: a power failure may take back the last of them, each whole
};

/// Where the records lie.
struct Place {
    enum class Kind : std::uint8_t { sqlite, postgres };
    Kind kind = Kind::sqlite;
    std::string address;  ///< a path, or the URL
    std::string shown;    ///< the same for people, without a pass word
};

/// A path, or `postgresql://...` or `postgres://...`.
/// @throws RecordsError (bad_input) for an empty text, or another scheme
[[nodiscard]] Place place_of(std::string_view text);

/// One connection. Not for two threads at once.
///
/// Every function throws RecordsError; a statement that failed leaves the transaction to be rolled back.
class Database {
 public:
    Database() = default;
    Database(const Database&) = delete;
    Database& operator=(const Database&) = delete;
    virtual ~Database() = default;

    /// Run one statement.
    /// @param values of $1, $2 ...; each is used at least once
    /// @return (R, C) what it selects or returns
    virtual Rows run(std::string_view sql, std::span<const Value> values) = 0;
    Rows run(std::string_view sql) { return run(sql, {}); }
    [[nodiscard]] virtual std::int64_t changed() const = 0;  ///< rows that the last run inserted, updated or deleted

    virtual void begin(Access access) = 0;
    virtual void commit() = 0;
    virtual void rollback() noexcept = 0;  ///< also when there is none to roll back
    virtual void reconnect() = 0;          ///< after connection_lost

    /// One program at a time changes the schema; to be called within a transaction.
    virtual void lock_schema() = 0;
    [[nodiscard]] virtual std::vector<std::string> columns(std::string_view table) = 0;  ///< in order; empty: no table
    [[nodiscard]] virtual std::vector<std::string> integrity_faults() = 0;  ///< what the database says of itself
    /// Overwrite what was deleted, where the back end would keep it.
    virtual void forget_deleted() = 0;

    [[nodiscard]] virtual Place::Kind kind() const = 0;
    [[nodiscard]] virtual const std::string& name() const = 0;  ///< for messages
    /// Words of the schema's and the statements' text that differ: {text}, {blob}, {for_update}, {skip_locked}.
    [[nodiscard]] virtual std::string in_dialect(std::string_view sql) const = 0;
};

/// Words of `sql` replaced, each wherever it stands.
[[nodiscard]] std::string with_words(std::string_view sql,
                                     std::initializer_list<std::pair<std::string_view, std::string_view>> words);

/// @param create SQLite: make a new file, refused where one is; else it must be there
[[nodiscard]] std::unique_ptr<Database> open_sqlite(const Place& place, bool create);
/// @throws RecordsError (no_postgres) when this program was built without libpqxx
[[nodiscard]] std::unique_ptr<Database> open_postgres(const Place& place);
[[nodiscard]] bool postgres_built_in();

/// Copy a SQLite store while others write to it (SQLite's online back-up).
/// @param out is written under another name first, then renamed; refused where something is
void copy_sqlite(const Place& from, const std::string& out);

}  // namespace records
