#pragma once

#include "engine/app/input.hpp"
#include "engine/app/settings.hpp"
#include "engine/view/camera.hpp"

/// What a hand on the mouse does to the camera: the same while practising and when looking back.

namespace app {

/// Share of a pixel's motion that the settings make of it.
[[nodiscard]] double gain_of(const Settings& settings);

/// The wheel zooms, the right button orbits, the middle one moves the picture.
/// @param view where the patient is shown  @param left_orbits the left button orbits too
void move_camera(view::Camera& camera, const Input& input, const Rect& view, const Settings& settings,
                 bool left_orbits);

/// Go to a place: gliding, or at once under reduced motion.
void look_from(view::Camera& camera, const view::CameraPose& pose, const Settings& settings);

}  // namespace app
