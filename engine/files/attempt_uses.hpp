#pragma once

#include <array>
#include <span>

#include "engine/files/aids.hpp"
#include "sim/trace.hpp"

/// What an attempt's events tell of how it was made.

namespace files {

struct AttemptUses {
    std::array<bool, sim::kDevices> devices{};  ///< what the hands were moved with
    int aids_asked = 0;                         ///< times that an aid was asked for
};

/// @param events (N) of one recording, in any order
[[nodiscard]] inline AttemptUses uses_of(std::span<const sim::Event> events) {
    AttemptUses out;
    for (const sim::Event& event : events) {
        if (event.kind == sim::EventKind::device_changed && event.subject >= 0 && event.subject < sim::kDevices)
            out.devices[static_cast<std::size_t>(event.subject)] = true;
        // asked for: not what the attempt began with, and not the probe, which is no aid
        if (event.kind == sim::EventKind::aid_used && event.value[0] > 0.0 && event.subject < kProbe) ++out.aids_asked;
    }
    return out;
}

}  // namespace files
