#pragma once

/// What this machine is doing, for whoever prints a measurement beside it.

namespace session {

/// Memory that this process holds, from the kernel's own account; 0 when it does not tell.
[[nodiscard]] double resident_mb();

/// Processes that want a processor, mean of the last minute; -1 when it is not told.
[[nodiscard]] double load_average();

}  // namespace session
