#pragma once

#include <vector>

#include "sim/anatomy/anatomy.hpp"

/// Retaining ligaments of one side: where they stand, how wide they are, which layers they cross, how strong they are.

namespace sim {

struct SideWork;

/// Zygomatic, masseteric upper and lower, mandibular, platysma-auricular and temporal adhesion, seen as though on the
/// left side; the caller sets the side.
/// @param mandibular_reaches_skin whether the mandibular ligament has a part between platysma and skin
[[nodiscard]] std::vector<Ligament> place_ligaments(const SideWork& work, bool mandibular_reaches_skin);

/// Length along the skin of the horizontal section through a skin point, from the midline to the point.
[[nodiscard]] double arc_from_midline_m(const SideWork& work, const Vec3& skin_m);

}  // namespace sim
