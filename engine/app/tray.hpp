#pragma once

#include "engine/app/ui.hpp"
#include "engine/view/instrument_models.hpp"
#include "sim/scenario.hpp"

namespace app {

/// An instrument drawn as the object it is, its hub at the left; true to scale in all its parts.
/// @param y middle of the shaft
void draw_instrument(Ui& ui, const sim::InstrumentSpec& instrument, const view::SidePicture& picture, float x, float y,
                     float px_per_mm);

/// "21 G x 70 mm" with a proper multiplication sign.
[[nodiscard]] std::string size_of(const sim::InstrumentSpec& instrument);

}  // namespace app
