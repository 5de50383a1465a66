#pragma once

#include <cstdint>

#include "sim/command.hpp"

namespace files {

/// A command and the step that obeys it. Several may share a step; their order in a list is theirs in the step.
struct TimedCommand {
    std::int64_t step = 0;
    sim::Command command;
    friend bool operator==(const TimedCommand&, const TimedCommand&) = default;
};

}  // namespace files
