#pragma once

#include <string>

#include "engine/files/attempt.hpp"
#include "engine/files/json_reader.hpp"

/// The first line of an attempt. Used by the writer and the reader only.

namespace files {

[[nodiscard]] std::string header_text(const AttemptHeader& header);  ///< a JSON object

/// @throws FileError for a header of another schema version, or one whose documents are not those it names by hash
[[nodiscard]] AttemptHeader read_header(const JsonValue& value);

/// "2026-03-01T10:15:00Z", now.
[[nodiscard]] std::string time_text();

}  // namespace files
