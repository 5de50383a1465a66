#pragma once

#include "engine/view/draw_list.hpp"
#include "engine/view/ultrasound_map.hpp"

namespace view {

/// A linear probe as it stands on the skin: a flat footprint in a broad head, a waist, a handle, the beginning of its
/// cable, and a mark at the side that is the picture's left.
/// @param pose where it is shown  @param width_m of the footprint
void append_probe(ObjectMesh& mesh, const ProbePose& pose, double width_m);

}  // namespace view
