#pragma once

#include "sim/barbed_thread/held_thread.hpp"

/// A thread that its cannula leaves behind while it is still in the skin: drawn back and turned into another way.

namespace sim {

/// Keep the thread of the way so far, if the barbs that the cannula has bared by now hold it; otherwise it goes back
/// with the cannula, and nothing changes. While the cannula is still over it, a pull at its tail is answered as if the
/// cannula were out.
/// @param record of that way, whole but for its barbs, which it has when the thread stays  @return whether it stays
[[nodiscard]] bool leave_behind(const StepContext& context, TrackRecord& record);

}  // namespace sim
