#pragma once

#include <sodium.h>

#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <string>

#include "engine/files/bytes.hpp"
#include "engine/records/archive.hpp"
#include "engine/records/schema.hpp"

/// Lines of an archive, one at a time. Of this library alone.

namespace records {

/// SHA-256 of what comes piece by piece.
class RunningHash {
 public:
    RunningHash() { crypto_hash_sha256_init(&state_); }
    void add(std::string_view bytes);
    [[nodiscard]] std::string hex() const;  ///< of all so far

 private:
    crypto_hash_sha256_state state_;
};

/// Writes a file under another name, and gives it its own when it is whole.
class ArchiveWriter {
 public:
    ArchiveWriter(std::string out, ArchiveKind kind, const std::map<std::string, std::int64_t>& counts);
    ~ArchiveWriter();
    ArchiveWriter(const ArchiveWriter&) = delete;
    ArchiveWriter& operator=(const ArchiveWriter&) = delete;

    void row(const Table& table, const Row& row);
    [[nodiscard]] ArchiveReport finish();

 private:
    void line(const std::string& text);

    std::string out_, whole_;
    files::Descriptor file_;
    RunningHash hash_;
    ArchiveReport report_;
};

/// Rows of an archive in its order.
/// @param each (table, row in the table's order of columns)
/// @throws RecordsError (bad_archive) naming the line
ArchiveReport read_archive(const std::string& file, const std::function<void(const Table&, const Row&)>& each);

}  // namespace records
