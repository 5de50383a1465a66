#pragma once

#include <span>
#include <vector>

#include "sim/anatomy/skin_shapes.hpp"

/// Two bodies that make a jaw, beside the rounded ones of skin_shapes. Millimetres, single precision, negative inside.

namespace sim::skeleton {

/// Distance to the quadrant in which both a and b are negative: joins two faces at a square corner.
[[nodiscard]] inline float corner(float a, float b) {
    const float oa = std::max(a, 0.0f);
    const float ob = std::max(b, 0.0f);
    return std::sqrt(oa * oa + ob * ob) + std::min(std::max(a, b), 0.0f);
}

/// A wall that stands on a curve in the horizontal plane: a tooth arch or the body of the mandible. Every node has its
/// own top, bottom, half thickness and lean; the section is a rounded rectangle. Capsules in its place give no jaw.
class Wall {
 public:
    struct Node {
        float x, z;         ///< of the curve, front to back on the left
        float top, bottom;  ///< y
        float half;         ///< half thickness
        float lean;         ///< how far the top stands to the side of the curve, positive outwards; the bottom opposite
    };
    Wall(std::span<const Node> nodes, float rounding);

    /// @param grow thickens the wall on every side: the closed vestibule and its lining
    [[nodiscard]] float distance(const glm::vec3& p, float grow = 0.0f) const;

 private:
    std::vector<Node> nodes_;  ///< resampled by Catmull and Rom's spline
    float rounding_;
};

/// Distance to a closed polygon in a plane, negative inside.
[[nodiscard]] float polygon(const glm::vec2& p, std::span<const glm::vec2> corners);

}  // namespace sim::skeleton
