#pragma once

#include "engine/session/script_writer.hpp"

/// The visit around the passes as scripted performers do it. Internal to engine/session.

namespace session {

/// The thickest needle of a tray; the thinnest. -1: there is none.
[[nodiscard]] int pilot_number(const sim::Scenario& scenario);
[[nodiscard]] int fine_needle_number(const sim::Scenario& scenario);

/// The whole consult. @return whether to treat
[[nodiscard]] bool consult_well(ScriptWriter& w);
/// Pulses and landmarks of every planned side.
void mark_well(ScriptWriter& w);
void prepare_well(ScriptWriter& w);
/// A bleb at the chosen entry, and the wait.
void numb_entry(ScriptWriter& w);
/// Small amounts along the open track on the way out, each after drawing back, and the wait.
void numb_track(ScriptWriter& w);
/// Tail, views, sharps, record, advice, discharge and calls.
void finish_well(ScriptWriter& w);

void begin_carelessly(ScriptWriter& w);
void finish_carelessly(ScriptWriter& w);

}  // namespace session
