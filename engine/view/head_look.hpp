#pragma once

#include <functional>

#include "engine/view/scene.hpp"
#include "sim/anatomy/parameters.hpp"

namespace view {

/// Runs body(0) ... body(count - 1) on any threads and returns when all have ended.
using RunAll = std::function<void(int count, const std::function<void(int)>& body)>;

/// What is finer than any mesh, the same for all skin.
[[nodiscard]] std::shared_ptr<const Image> skin_detail_image();

/// Skin of a head with its paint, cap, drape and pillow, about 60 000 triangles of skin: seconds of work.
///
/// @param progress told the fraction done, 0 to 1; may be empty
[[nodiscard]] HeadLook build_head_look(const sim::HeadParameters& parameters, const RunAll& run_all,
                                       const std::function<void(double)>& progress);

}  // namespace view
