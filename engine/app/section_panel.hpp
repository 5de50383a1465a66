#pragma once

#include <optional>

#include "engine/app/ui.hpp"
#include "engine/view/slice.hpp"
#include "sim/scenario.hpp"
#include "sim/state.hpp"

namespace app {

/// The section along the shaft on the screen; asked anew only when the shaft has moved.
class SectionPanel {
 public:
    /// @param instrument in hand, null for none  @param closes with a button that closes it
    /// @return closed
    bool draw(Ui& ui, const Rect& rect, const sim::Anatomy& anatomy, const sim::Bands& bands, const sim::State& state,
              const sim::InstrumentSpec* instrument, bool closes);

 private:
    std::optional<view::Slice> slice_;
    sim::Vec3 tip_m_{}, heading_{};
    double inserted_m_ = -1.0;
    view::SliceWindow window_{};
};

}  // namespace app
