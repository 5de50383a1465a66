#pragma once

#include <cstdint>
#include <string>

#include "engine/records/store.hpp"

/// Archives: one file of JSON Lines that holds a whole store, or all of one learner, in an open form. The format is
/// told in engine/records/README.md.

namespace records {

inline constexpr std::int64_t kArchiveVersion = 1;

enum class ArchiveKind : std::uint8_t { full, learner };

struct ArchiveReport {
    ArchiveKind kind = ArchiveKind::full;
    std::int64_t schema = 0;
    std::int64_t rows = 0;      ///< lines between the first and the last
    std::int64_t attempts = 0;  ///< of them
    std::string sha256;         ///< of all lines before the last, hexadecimal
};

/// Write the whole store as it was at one moment, whatever others write meanwhile. Leads.
///
/// Two stores with the same rows give the same bytes, on either back end. The trail gets a line about it afterwards, so
/// that the archive itself does not hold it.
/// @param out a new file; written under another name first
/// @throws RecordsError (conflict) where something is; (cannot_write)
ArchiveReport write_archive(Store& store, const Actor& actor, const std::string& out);

/// Write all that is kept of one learner: themselves, their keys, attempts, sessions and ratings. Not their pass
/// phrase.
ArchiveReport write_learner_archive(Store& store, const Actor& actor, const std::string& learner_id,
                                    const std::string& out);

/// Read an archive from end to end: every line, every count, the hash at its end.
/// @throws RecordsError (bad_archive) naming the line; (newer_schema) for one of a later program
[[nodiscard]] ArchiveReport check_archive(const std::string& file);

/// Bring an archive in, whole or not at all; the archive is checked first. Leads.
///
/// A full one needs a store in which nothing was kept yet, whose trail it replaces. A learner's is added to what is
/// there: an attempt that is here already stays as it is.
/// @throws RecordsError (conflict) for a full one where something is kept, or a learner's key that is another's here
ArchiveReport import_archive(Store& store, const Actor& actor, const std::string& file);

/// Copy the store to a file while others write: SQLite by its online back-up, PostgreSQL as a full archive. Leads.
void back_up(Store& store, const Actor& actor, const std::string& place, const std::string& out);

/// Bring a back-up of either kind into an empty store.
ArchiveReport restore(Store& store, const Actor& actor, const std::string& backup);

}  // namespace records
