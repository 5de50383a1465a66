#pragma once

#include "engine/files/json_reader.hpp"
#include "sim/patient/visit_spec.hpp"

namespace files {

/// A scenario's "visit": the patient's history, weight, anaesthetic, what they bear.
/// @throws FileError
[[nodiscard]] sim::VisitSpec read_visit(const JsonValue& value);

}  // namespace files
