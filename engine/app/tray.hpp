#pragma once

#include "engine/app/ui.hpp"
#include "sim/scenario.hpp"

namespace app {

/// An instrument drawn as the object it is, from its hub at the left. Lengths to scale among themselves.
/// @param room width that the longest instrument of the tray may take
void draw_instrument(Ui& ui, const sim::InstrumentSpec& instrument, float x, float y, float room, double longest_m);

/// "21 G x 70 mm" with a proper multiplication sign.
[[nodiscard]] std::string size_of(const sim::InstrumentSpec& instrument);

}  // namespace app
