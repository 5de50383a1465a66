#pragma once

#include "sim/instruments/force_parameters.hpp"
#include "sim/instruments/tip_force.hpp"
#include "sim/stages.hpp"

/// What resists a tip at a place, part by part.

namespace sim {

struct Resistance {
    double tip_n = 0.0;       ///< layer, fascia, wall, floor
    double friction_n = 0.0;  ///< of the inserted length, sliding inwards
    double ligament_n = 0.0;
    bool wall_breached = false, lining_breached = false, ligament_parted = false;
    int wall = -1;  ///< structure pressed on, -1 for none
    double wall_n = 0.0, floor_n = 0.0, ligament_work_j = 0.0;
    LayerPoint at;

    [[nodiscard]] double inwards_n() const { return tip_n + friction_n + ligament_n; }
};

inline constexpr ForceParameters kForceParameters{};

[[nodiscard]] ShaftKind shaft_kind(const InstrumentSpec& instrument);

/// Resistance against going `ahead_m` farther along the heading than the tip is now.
[[nodiscard]] Resistance resistance(const StepContext& context, double ahead_m);

/// Sliding friction of the whole inserted length, inwards. From the layers along the way.
[[nodiscard]] double friction_along(const StepContext& context);

}  // namespace sim
