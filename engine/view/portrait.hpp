#pragma once

#include "engine/view/camera.hpp"
#include "engine/view/draw_list.hpp"
#include "engine/view/scene.hpp"

/// A patient's outside alone, as it lies on the pillow: for looking at skin and cloth, and for planning on it.

namespace view {

/// From the front and a little above. @param azimuth_rad towards the patient's left
[[nodiscard]] CameraPose portrait_pose(double azimuth_rad, double distance_m);

[[nodiscard]] DrawList portrait(const HeadLook& look, const Camera& camera, double aspect);

/// A place on the skin of a head, with the outward normal there.
struct SkinSpot {
    Vec3 position_m{};
    Vec3 normal{0, 0, 1};
};

/// Where a ray first meets skin; nothing where it passes by.
[[nodiscard]] std::optional<SkinSpot> skin_hit(const HeadLook& look, const Ray& ray);

/// The skin straight inwards or outwards of a place near it, towards the middle of head and neck.
[[nodiscard]] std::optional<SkinSpot> skin_near(const HeadLook& look, const Vec3& place_m);

/// A way on the skin from one place to another: places a few millimetres apart. Empty where there is no skin.
[[nodiscard]] std::vector<SkinSpot> way_on_skin(const HeadLook& look, const Vec3& from_m, const Vec3& to_m);

/// Length of such a way.
[[nodiscard]] double length_m(const std::vector<SkinSpot>& way);

}  // namespace view
