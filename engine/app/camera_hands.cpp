#include "engine/app/camera_hands.hpp"

#include <cmath>

namespace app {

namespace {

constexpr double kOrbitRadPerPixel = 0.006;
constexpr double kZoomPerNotch = 1.12;

}  // namespace

double gain_of(const Settings& settings) { return 0.01 * settings.sensitivity_percent; }

void move_camera(view::Camera& camera, const Input& input, const Rect& view, const Settings& settings,
                 bool left_orbits) {
    if (input.wheel != 0.0f) camera.zoom(std::pow(kZoomPerNotch, static_cast<double>(input.wheel)));
    const double dx = static_cast<double>(input.drag.x), dy = static_cast<double>(input.drag.y);
    if (dx == 0.0 && dy == 0.0) return;
    if (input.right_held || (left_orbits && input.left_held)) {
        const double turn = gain_of(settings) * kOrbitRadPerPixel;
        camera.orbit(-dx * turn, dy * turn * (settings.invert ? -1.0 : 1.0));
    } else if (input.middle_held) {
        camera.pan(dx / static_cast<double>(view.h), -dy / static_cast<double>(view.h));
    }
}

void look_from(view::Camera& camera, const view::CameraPose& pose, const Settings& settings) {
    if (settings.reduced_motion)
        camera.place(pose);
    else
        camera.glide_to(pose);
}

}  // namespace app
