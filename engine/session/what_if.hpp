#pragma once

#include <string>
#include <vector>

#include "sim/model.hpp"
#include "sim/scoring/rubric.hpp"

/// The same path a little deeper or shallower, measured with the same code.
///
/// Every millimetre of every track is moved along the way in, by a share that grows from nothing at the entry to the
/// whole at the end of the ramp: a deeper path still begins at the skin. Its layers are asked of the anatomy anew. What
/// a millimetre remembers (the worst of depth and clearance while its track was open) changes by what the move changes
/// at its place, so that a move of nothing gives back the very same figures. Barbs are seated anew in the layers met.
///
/// Nobody pushes through the tissue again: force, ligaments, plunges and what happened at walls stay as recorded.

namespace session {

struct WhatIf {
    double shift_m = 0.0;      ///< deeper is positive
    sim::Recording recording;  ///< with moved tracks
    sim::Score score;
};

/// @param shift_m within +-5 mm
/// @throws sim::InputError for a shift that is not
[[nodiscard]] WhatIf what_if(const sim::Model& model, const sim::Recording& recording, const sim::Rubric& rubric,
                             double shift_m);

/// Does this measure come from where the track lay, and so from the moved one? False: it stays as recorded.
[[nodiscard]] bool is_recomputed(const std::string& measure);

/// What is not recomputed, in words for whoever reads the figures.
[[nodiscard]] std::string what_if_limits();

}  // namespace session
