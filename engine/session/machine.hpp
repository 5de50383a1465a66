#pragma once

/// What this machine is doing, for whoever prints a measurement beside it; and how this process uses its memory.

namespace session {

/// Memory that this process holds, from the kernel's own account; 0 when it does not tell.
[[nodiscard]] double resident_mb();

/// Processes that want a processor, mean of the last minute; -1 when it is not told.
[[nodiscard]] double load_average();

/// To be called first in main(): memory that was given back is kept for what is asked for next. Every frame and every
/// solve takes arrays of some hundred kilobytes and gives them back; the C library would hand each to the kernel and
/// fetch it again page by page, 635 page faults in a frame of the practice screen.
void keep_freed_memory();

}  // namespace session
