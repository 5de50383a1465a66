#pragma once

#include "engine/session/performers_pass.hpp"

/// The visit around the passes as scripted performers do it. Internal to engine/session.

namespace session {

/// The whole consult. @return whether to treat
[[nodiscard]] bool consult(Player& p);
/// Pulses and landmarks of every planned side, and the vectors.
void mark(Player& p);
void prepare(Player& p);
/// Between passes: sitting up at rest and in movement, then back and clean again.
void look_upright(Player& p);
/// A bleb at the chosen entry, and the wait.
void numb_entry(Player& p);
/// Small amounts along the open track on the way out, each after drawing back, and the wait.
void numb_track(Player& p);
/// The tail of each thread that lies drawn lightly, the skin pressed down, one cut.
void bury_ends(Player& p);
/// Tails, views, sharps, record, advice, discharge and calls.
void finish_visit(Player& p);
/// An attempt that begins with a vessel that bleeds, or with the calls.
void play_opening(Player& p);

void begin_carelessly(ScriptWriter& w);
void finish_carelessly(ScriptWriter& w);

}  // namespace session
