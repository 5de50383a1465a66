#pragma once

#include "engine/app/guide.hpp"

/// What is said of threads that lie in the tissue while their tails are pulled and the tissue is stroked along them.

namespace app {

/// A thread has been pulled at its tail, and the tissue drawn over both of its halves towards its centre.
[[nodiscard]] bool anchored(const sim::Recording& recording);

/// The thread that was worked at last, or that still wants to be. @param told false: no figures and no warnings
[[nodiscard]] Sentence about_threads(const sim::State& state, const sim::Recording& recording, bool told);

/// Towards where lift is meant on a thread's side: from the vector's end to its entry. Zero without a plan.
[[nodiscard]] sim::Vec3 lift_direction(const sim::Recording& recording, int vector);

}  // namespace app
