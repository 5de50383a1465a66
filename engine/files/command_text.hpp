#pragma once

#include <span>
#include <string>
#include <vector>

#include "engine/files/json_reader.hpp"
#include "engine/files/timed_command.hpp"

/// The commands of one line of an attempt, as few bytes as a steady hand needs, and back. The forms: ATTEMPT.md.

namespace files {

/// @param commands in the order of their steps, at most kWindowSteps steps apart
void append_commands(std::string& out, std::span<const TimedCommand> commands);

/// @throws FileError naming the entry that is not one of a verb's, or leads outside its range
[[nodiscard]] std::vector<TimedCommand> read_commands(const JsonValue& list);

}  // namespace files
