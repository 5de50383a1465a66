#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>

#include <glm/common.hpp>
#include <glm/vec3.hpp>

#include "sim/core/errors.hpp"
#include "sim/core/vec.hpp"

/// A regular grid of nodes in space and trilinear look-up in it.

namespace sim {

/// Where the nodes lie. Node (x, y, z) has index (z * nodes.y + y) * nodes.x + x.
struct GridBox {
    Vec3 low_m{};
    double cell_m = 0.0;
    glm::ivec3 nodes{0};  ///< at least 2 along each axis

    [[nodiscard]] std::size_t size() const {
        return static_cast<std::size_t>(nodes.x) * static_cast<std::size_t>(nodes.y) *
               static_cast<std::size_t>(nodes.z);
    }
    [[nodiscard]] std::size_t index(int x, int y, int z) const {
        return (static_cast<std::size_t>(z) * static_cast<std::size_t>(nodes.y) + static_cast<std::size_t>(y)) *
                   static_cast<std::size_t>(nodes.x) +
               static_cast<std::size_t>(x);
    }
    [[nodiscard]] std::size_t stride_y() const { return static_cast<std::size_t>(nodes.x); }
    [[nodiscard]] std::size_t stride_z() const { return stride_y() * static_cast<std::size_t>(nodes.y); }
    [[nodiscard]] Vec3 position_m(int x, int y, int z) const { return low_m + cell_m * Vec3(x, y, z); }
    [[nodiscard]] bool contains(const Vec3& p_m) const {
        const Vec3 high_m = low_m + cell_m * Vec3(nodes - 1);
        return p_m.x >= low_m.x && p_m.y >= low_m.y && p_m.z >= low_m.z && p_m.x <= high_m.x && p_m.y <= high_m.y &&
               p_m.z <= high_m.z;
    }

    /// The smallest grid with that cell which covers low .. high.
    [[nodiscard]] static GridBox covering(const Vec3& low_m, const Vec3& high_m, double cell_m) {
        SIM_ASSERT(cell_m > 0.0);
        return {low_m, cell_m, glm::max(glm::ivec3(glm::ceil((high_m - low_m) / cell_m)) + 1, glm::ivec3(2))};
    }
};

/// The cell that a point lies in, points outside moved to the nearest place of the box, and the point's place in it.
struct GridCell {
    std::size_t index = 0;  ///< of the cell's lowest node
    Vec3 t{};               ///< 0 .. 1 along each axis

    GridCell(const GridBox& box, const Vec3& p_m) {
        const Vec3 scaled = (p_m - box.low_m) * (1.0 / box.cell_m);
        // written so that NaN ends at the low corner and never indexes outside
        const auto place = [](double v, int nodes, double& fraction) {
            const double last = static_cast<double>(nodes - 1);
            const double inside = v > 0.0 ? (v < last ? v : last) : 0.0;
            const int cell = std::min(static_cast<int>(inside), nodes - 2);
            fraction = inside - static_cast<double>(cell);
            return cell;
        };
        const int x = place(scaled.x, box.nodes.x, t.x);
        const int y = place(scaled.y, box.nodes.y, t.y);
        const int z = place(scaled.z, box.nodes.z, t.z);
        index = box.index(x, y, z);
    }
};

/// Trilinear value of what `node(index)` gives at the corners of a cell.
template <class Node>
[[nodiscard]] double trilinear(const GridBox& box, const GridCell& cell, const Node& node) {
    const std::size_t i = cell.index;
    const std::size_t sy = box.stride_y();
    const std::size_t sz = box.stride_z();
    const auto pair = [&](std::size_t k) { return node(k) + (node(k + 1) - node(k)) * cell.t.x; };
    const double low = pair(i) + (pair(i + sy) - pair(i)) * cell.t.y;
    const double high = pair(i + sz) + (pair(i + sz + sy) - pair(i + sz)) * cell.t.y;
    return low + (high - low) * cell.t.z;
}

/// Gradient of that value, per metre.
template <class Node>
[[nodiscard]] Vec3 trilinear_gradient(const GridBox& box, const GridCell& cell, const Node& node) {
    const std::size_t i = cell.index;
    const std::size_t sy = box.stride_y();
    const std::size_t sz = box.stride_z();
    const auto mix = [](double a, double b, double t) { return a + (b - a) * t; };
    const auto pair = [&](std::size_t k) { return mix(node(k), node(k + 1), cell.t.x); };
    const auto slope = [&](std::size_t k) { return node(k + 1) - node(k); };
    const double gx =
        mix(mix(slope(i), slope(i + sy), cell.t.y), mix(slope(i + sz), slope(i + sz + sy), cell.t.y), cell.t.z);
    const double gy = mix(pair(i + sy) - pair(i), pair(i + sz + sy) - pair(i + sz), cell.t.z);
    const double gz = mix(pair(i + sz), pair(i + sz + sy), cell.t.y) - mix(pair(i), pair(i + sy), cell.t.y);
    return Vec3(gx, gy, gz) * (1.0 / box.cell_m);
}

}  // namespace sim
