#pragma once

#include <functional>
#include <vector>

#include "sim/core/grid.hpp"
#include "sim/core/parallel.hpp"

/// True distance to the surface of an implicit field, on a grid.
///
/// A smooth-blended field is no distance at depth (off by 2.6 mm at 14 mm), so layers are never cut from the field
/// itself. Points where grid edges cross the surface, moved onto it by Newton's step and given their normals, are
/// handed from node to node in eight sweeps (vector distance transform, Danielsson 1980, Comput Graph Image Process
/// 14:227). Near a seed the distance to its tangent plane is better than that to the point, so the two are joined.

namespace sim {

/// Signed field in metres, negative inside; only its zero and its slope there count.
using Field = std::function<double(const Vec3& p_m)>;

class DistanceTransform {
 public:
    /// @param reach_m distances are cut off here
    DistanceTransform(const GridBox& box, double reach_m) : box_(box), reach_m_(reach_m) {}

    /// First stage: sample the field near its surface and gather the surface points.
    void sample(const Field& field, const ParallelFor& parallel);
    /// Second stage, on one thread: hand the nearest surface point from node to node. Different grids may run at once.
    void sweep();
    /// Last stage: the signed distance at every node, negative inside.
    [[nodiscard]] std::vector<float> distances_m(const ParallelFor& parallel) const;

 private:
    struct SurfacePoint {
        glm::vec3 position_m{}, normal{};
    };
    void offer(std::size_t node, const glm::vec3& at, int surface_point);

    GridBox box_;
    double reach_m_;
    std::vector<signed char> inside_;
    std::vector<SurfacePoint> surface_;
    std::vector<int> nearest_;  ///< index into surface_, -1: none yet
    std::vector<float> nearest2_m2_;
};

/// A copy of the values after `passes` rounds of the kernel (1 2 1)/4 along each axis.
[[nodiscard]] std::vector<float> blurred(const GridBox& box, const std::vector<float>& values, int passes,
                                         const ParallelFor& parallel);

}  // namespace sim
