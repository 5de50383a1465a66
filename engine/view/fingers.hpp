#pragma once

#include <vector>

#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"
#include "sim/trace.hpp"

/// Gloved fingertips on the skin: where the hand without an instrument lies, and which way it acts.

namespace view {

/// One fingertip.
struct Finger {
    sim::SkinPoint at;   ///< under its pad, as the skin lies now
    sim::Vec3 from{};    ///< unit: towards the hand that it belongs to
    double off_m = 0.0;  ///< of the pad above the skin: a hand that does nothing hovers
};

/// How the fingers of a grip stand. @param pads skin under each finger @param along unit, of the grip in the skin
[[nodiscard]] std::vector<Finger> fingers_of(sim::Grip grip, const std::vector<sim::SkinPoint>& pads,
                                             const sim::Vec3& along, bool acts);

void append_finger(ObjectMesh& mesh, const Finger& finger);

}  // namespace view
