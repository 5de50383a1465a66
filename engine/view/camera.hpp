#pragma once

#include <glm/mat4x4.hpp>
#include <optional>
#include <span>

#include "sim/core/vec.hpp"

/// A camera that orbits a point. Lengths in metres; matrices in millimetres, the unit of everything that is drawn.

namespace view {

using sim::Vec3;

/// Where the eye stands and how it looks. All of it, so that moves between two poses are interpolation.
struct CameraPose {
    Vec3 target_m{};
    Vec3 up{0, 1, 0};            ///< unit: upright on the screen when elevation is 0
    Vec3 front{0, 0, 1};         ///< unit, square to up: azimuth 0 looks against it
    double azimuth_rad = 0.0;    ///< about up, positive to the viewer's right
    double elevation_rad = 0.0;  ///< within +-85 degrees
    double roll_rad = 0.0;       ///< about the line of sight
    double distance_m = 0.6;
};

struct Ray {
    Vec3 origin_m{};
    Vec3 direction{};  ///< unit
};

class Camera {
 public:
    explicit Camera(const CameraPose& pose = {}) : pose_(pose) {}

    [[nodiscard]] const CameraPose& pose() const { return pose_; }
    void place(const CameraPose& pose);  ///< at once; ends a move

    /// Glide to a pose in kMoveS. Any of the motions below interrupts it where it is.
    void glide_to(const CameraPose& pose);
    /// @return true while a glide goes on: the picture changes
    bool tick(double elapsed_s);

    /// The head turns under an eye that stays where it is by the trunk: told in the head's frame, the eye goes the
    /// other way about the vertical (y). What it looks at stays in the middle. A glide goes on, turned.
    void turn_under(double turn_rad);
    void orbit(double azimuth_rad, double elevation_rad);
    void zoom(double factor);                       ///< > 1 comes nearer
    void pan(double right_share, double up_share);  ///< in shares of the picture's height

    [[nodiscard]] Vec3 eye_m() const;
    [[nodiscard]] Vec3 right() const;
    [[nodiscard]] Vec3 above() const;  ///< unit: up on the screen
    [[nodiscard]] glm::dmat4 view_projection_mm(double aspect) const;

    /// Through a place in the picture. @param x, y in [-1, 1], right and up
    [[nodiscard]] Ray ray(double x, double y, double aspect) const;
    /// Where a point falls in the picture, in [-1, 1]; nothing behind the eye.
    [[nodiscard]] std::optional<glm::dvec2> project(const Vec3& p_m, double aspect) const;
    /// Size of a picture's height at the target.
    [[nodiscard]] double height_at_target_m() const;

    static constexpr double kMoveS = 0.25;
    static constexpr double kFieldOfViewRad = 0.30;  ///< vertical; narrow, as a portrait lens, to keep proportions

 private:
    [[nodiscard]] CameraPose seen_from(const CameraPose& other) const;

    CameraPose pose_, from_, to_;
    double move_s_ = -1.0;  ///< time into the glide, < 0: none
};

/// The pose with its directions turned about the vertical (y), from the front towards the patient's left.
[[nodiscard]] CameraPose turned(CameraPose pose, double rad);

/// The pose that shows all the points with some air around them, looking as `like` does.
[[nodiscard]] CameraPose framing(const CameraPose& like, std::span<const Vec3> points_m, double aspect,
                                 double air = 1.25);

}  // namespace view
