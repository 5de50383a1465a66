#pragma once

#include <functional>
#include <string_view>

/// How sim/ borrows threads and says how far it is, without owning either.

namespace sim {

/// Runs body(0) ... body(count - 1), in any order and on any threads, and returns when all have ended. Bodies write
/// only what is theirs, so that the result never hangs on the order.
using ParallelFor = std::function<void(int count, const std::function<void(int)>& body)>;

/// Told how far a long build is, from 0 to 1, and what it does now. May be empty.
using Progress = std::function<void(double fraction, std::string_view what)>;

/// A ParallelFor that uses the caller's thread alone.
inline void serial_for(int count, const std::function<void(int)>& body) {
    for (int i = 0; i < count; ++i) body(i);
}

}  // namespace sim
