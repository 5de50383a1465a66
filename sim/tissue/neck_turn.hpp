#pragma once

#include "sim/core/vec.hpp"

/// How the neck goes round when the head turns, told in the head's frame: the head stays, and what lies below the chin
/// turns the other way about a vertical axis, from nothing there to the whole angle where the trunk begins.

namespace sim {
struct HeadTissue;
}

namespace sim::fe {

/// About the vertical through the origin, from the front (z) towards the patient's left (x).
[[nodiscard]] Vec3 about_vertical(const Vec3& v, double rad);

/// How far along the way from head (0) to trunk (1) a height is.
struct TurningNeck {
    double top_m = 0.0, bottom_m = 0.0;  ///< heights (y) where turning begins and is whole
    Vec3 axis_m{};                       ///< a point of the vertical axis
    [[nodiscard]] double share(double y_m) const;
};
/// From the chin's lowest point to 120 mm below it, about an axis between the ear canals; lengths assumed.
[[nodiscard]] TurningNeck turning_neck(const HeadTissue& tissue);

/// All of space gone round, each height by its share. Heights stay.
struct NeckTurn {
    TurningNeck neck;
    double turn_rad = 0.0;  ///< of the head, > 0 to the patient's left

    [[nodiscard]] double angle_rad(double y_m) const { return turn_rad == 0.0 ? 0.0 : -turn_rad * neck.share(y_m); }
    /// How far what lies there at rest goes.
    [[nodiscard]] Vec3 moved_m(const Vec3& rest_m) const { return round_m(rest_m, angle_rad(rest_m.y)) - rest_m; }
    /// Where what is there now lay.
    [[nodiscard]] Vec3 rest_of(const Vec3& now_m) const { return round_m(now_m, -angle_rad(now_m.y)); }
    /// A direction at that height, gone round.
    [[nodiscard]] Vec3 turned(const Vec3& v, double y_m) const { return about_vertical(v, angle_rad(y_m)); }
    /// What goes round with the trunk, whatever its height: the cushion under the head.
    [[nodiscard]] Vec3 with_trunk_m(const Vec3& rest_m) const { return round_m(rest_m, -turn_rad) - rest_m; }

 private:
    [[nodiscard]] Vec3 round_m(const Vec3& p_m, double rad) const {
        return rad == 0.0 ? p_m : neck.axis_m + about_vertical(p_m - neck.axis_m, rad);
    }
};

}  // namespace sim::fe
