#pragma once

#include <map>
#include <string>

#include "engine/records/store.hpp"

/// Records as tables for other programs (RFC 4180, UTF-8, one header line).

namespace records {

/// File names to their text: attempts.csv (one row an attempt, its points by heading in columns of their own),
/// learners.csv, ratings.csv; of one learner also account.csv and audit.csv, what the trail holds about them.
///
/// A text that people typed and that a spreadsheet would take for a formula (it begins with = + - @) gets an apostrophe
/// before it.
/// @param filter which attempts; a learner_id gives one learner's tables, and an actor in the role of learner their own
[[nodiscard]] std::map<std::string, std::string> csv_tables(Store& store, const Actor& actor,
                                                            const AttemptFilter& filter);

}  // namespace records
