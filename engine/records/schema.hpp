#pragma once

#include <cstdint>
#include <span>
#include <string_view>

#include "engine/records/database.hpp"

/// The tables, once for both back ends: numbered migrations in portable SQL, and a list of tables and columns that
/// archives follow (a test compares it with what the migrations make).

namespace records {

struct Migration {
    std::int64_t number;
    std::string_view name;
    std::span<const std::string_view> statements;  ///< with the words of Database::in_dialect
};
[[nodiscard]] std::span<const Migration> migrations();  ///< numbers 1, 2, 3 ... in order
[[nodiscard]] std::int64_t newest_schema();
/// Schema since which tables and columns are those of tables(): what came later are indices. It is what archives name.
[[nodiscard]] std::int64_t tables_since();
/// Schema of the oldest archives that can be brought in: since then tables were added and none was changed.
[[nodiscard]] std::int64_t oldest_archive();

/// Bring the store to `up_to`, each migration in a transaction of its own.
/// @param applied_at "2026-03-01T10:15:00Z"
/// @return the schema it had before; 0: none
/// @throws RecordsError (newer_schema) when it has a migration that this program does not know: nothing is changed
std::int64_t migrate(Database& database, std::int64_t up_to, const std::string& applied_at);

/// Schema that the store has; 0: none.
[[nodiscard]] std::int64_t schema_of(Database& database);

enum class ColumnType : std::uint8_t { text, integer, real, bytes };
struct Column {
    std::string_view name;
    ColumnType type = ColumnType::text;
    bool nullable = false;
};
struct Table {
    std::string_view name;
    std::span<const Column> columns;  ///< the first `keys` of them are its primary key
    std::size_t keys = 1;
    std::string_view learner_rows;  ///< condition that picks one learner's rows, their id being $1; empty: of nobody
};
/// In an order in which rows can be put in: what is pointed at comes first.
[[nodiscard]] std::span<const Table> tables();

}  // namespace records
