#include "sim/anatomy/distance_grid.hpp"

#include <array>
#include <limits>

#include <glm/geometric.hpp>

namespace sim {

namespace {

constexpr int kBlock = 4;                   // cells along the side of a block that is sampled or skipped as a whole
constexpr double kSlack = 1.5;              // a blended field may read this much more than the distance
constexpr double kDifferenceM = 0.3 * kMm;  // half step of the gradient: below the finest fold, above rounding
constexpr float kFar = 1.0f;                // stands for "one metre off" in nodes that were not sampled

Vec3 gradient_of(const Field& field, const Vec3& p) {
    Vec3 g{};
    for (int k = 0; k < 3; ++k) {
        Vec3 step{};
        step[k] = kDifferenceM;
        g[k] = (field(p + step) - field(p - step)) / (2.0 * kDifferenceM);
    }
    return g;
}

}  // namespace

void DistanceTransform::sample(const Field& field, const ParallelFor& parallel) {
    const glm::ivec3 n = box_.nodes;
    const glm::ivec3 blocks = (n - 1 + kBlock - 1) / kBlock;
    const double half_diagonal_m = 0.5 * std::sqrt(3.0) * kBlock * box_.cell_m;
    const double near_m = kSlack * (half_diagonal_m + box_.cell_m);
    std::vector<float> value(box_.size(), kFar);

    // a node shared by blocks is written by the block that it is the low side of, or by the last block along the axis
    parallel(blocks.z, [&](int bz) {
        for (int by = 0; by < blocks.y; ++by)
            for (int bx = 0; bx < blocks.x; ++bx) {
                const glm::ivec3 first = kBlock * glm::ivec3(bx, by, bz);
                const double centre = field(box_.low_m + box_.cell_m * (Vec3(first) + 0.5 * kBlock));
                const bool near = std::abs(centre) < near_m;
                const glm::ivec3 end(bx + 1 == blocks.x ? n.x : first.x + kBlock,
                                     by + 1 == blocks.y ? n.y : first.y + kBlock,
                                     bz + 1 == blocks.z ? n.z : first.z + kBlock);
                for (int z = first.z; z < end.z; ++z)
                    for (int y = first.y; y < end.y; ++y)
                        for (int x = first.x; x < end.x; ++x)
                            value[box_.index(x, y, z)] = near ? static_cast<float>(field(box_.position_m(x, y, z)))
                                                         : centre < 0.0 ? -kFar
                                                                        : kFar;
            }
    });

    std::vector<std::vector<SurfacePoint>> found(static_cast<std::size_t>(n.z));
    const std::array<std::size_t, 3> stride{1, box_.stride_y(), box_.stride_z()};
    parallel(n.z - 1, [&](int z) {
        for (int y = 0; y + 1 < n.y; ++y)
            for (int x = 0; x + 1 < n.x; ++x)
                for (std::size_t axis = 0; axis < 3; ++axis) {
                    const std::size_t i = box_.index(x, y, z);
                    const float a = value[i];
                    const float b = value[i + stride[axis]];
                    if ((a < 0.0f) == (b < 0.0f) || std::abs(a) == kFar || std::abs(b) == kFar) continue;
                    Vec3 p = box_.position_m(x, y, z);
                    p[static_cast<int>(axis)] += box_.cell_m * static_cast<double>(a / (a - b));
                    Vec3 g = gradient_of(field, p);
                    p -= g * (field(p) / std::max(glm::dot(g, g), 0.05));
                    g = gradient_of(field, p);
                    const double length = glm::length(g);
                    if (!(length > 1e-6)) continue;  // a crease: its neighbours carry the surface
                    found[static_cast<std::size_t>(z)].push_back({glm::vec3(p), glm::vec3(g / length)});
                }
    });

    surface_.clear();
    for (const auto& slice : found) surface_.insert(surface_.end(), slice.begin(), slice.end());
    inside_.resize(box_.size());
    for (std::size_t i = 0; i < value.size(); ++i) inside_[i] = value[i] < 0.0f;
}

void DistanceTransform::offer(std::size_t node, const glm::vec3& at, int surface_point) {
    const glm::vec3 off = at - surface_[static_cast<std::size_t>(surface_point)].position_m;
    const float d2 = glm::dot(off, off);
    if (d2 < nearest2_m2_[node]) {
        nearest2_m2_[node] = d2;
        nearest_[node] = surface_point;
    }
}

void DistanceTransform::sweep() {
    const glm::ivec3 n = box_.nodes;
    const glm::vec3 low(box_.low_m);
    const float cell = static_cast<float>(box_.cell_m);
    const auto at = [&](int x, int y, int z) { return low + cell * glm::vec3(glm::ivec3(x, y, z)); };
    nearest_.assign(box_.size(), -1);
    nearest2_m2_.assign(box_.size(), static_cast<float>(reach_m_ * reach_m_));

    for (std::size_t s = 0; s < surface_.size(); ++s) {
        const glm::ivec3 c(glm::floor((surface_[s].position_m - low) / cell));
        for (int k = 0; k < 8; ++k) {
            const glm::ivec3 q = c + glm::ivec3(k & 1, (k >> 1) & 1, k >> 2);
            if (q.x < 0 || q.y < 0 || q.z < 0 || q.x >= n.x || q.y >= n.y || q.z >= n.z) continue;
            offer(box_.index(q.x, q.y, q.z), at(q.x, q.y, q.z), static_cast<int>(s));
        }
    }

    for (int octant = 0; octant < 8; ++octant) {
        const glm::ivec3 step(octant & 1 ? 1 : -1, octant & 2 ? 1 : -1, octant & 4 ? 1 : -1);
        const auto nth = [](int k, int s, int count) { return s > 0 ? k : count - 1 - k; };
        for (int kz = 0; kz < n.z; ++kz)
            for (int ky = 0; ky < n.y; ++ky)
                for (int kx = 0; kx < n.x; ++kx) {
                    const int x = nth(kx, step.x, n.x);
                    const int y = nth(ky, step.y, n.y);
                    const int z = nth(kz, step.z, n.z);
                    const std::size_t i = box_.index(x, y, z);
                    const glm::vec3 p = at(x, y, z);
                    const auto hand_on = [&](bool dx, bool dy, bool dz) {
                        const std::size_t from =
                            box_.index(x - (dx ? step.x : 0), y - (dy ? step.y : 0), z - (dz ? step.z : 0));
                        const int s = nearest_[from];
                        if (s >= 0 && s != nearest_[i]) offer(i, p, s);
                    };
                    if (kx > 0) hand_on(true, false, false);
                    if (ky > 0) hand_on(false, true, false);
                    if (kz > 0) hand_on(false, false, true);
                    if (kx > 0 && ky > 0 && kz > 0) hand_on(true, true, true);
                }
    }
}

std::vector<float> DistanceTransform::distances_m(const ParallelFor& parallel) const {
    // within this distance to the side of its seed, a node measures to the tangent plane alone
    const float beside_m = static_cast<float>(0.8 * box_.cell_m);
    std::vector<float> distance(box_.size());
    parallel(box_.nodes.z, [&](int z) {
        for (int y = 0; y < box_.nodes.y; ++y)
            for (int x = 0; x < box_.nodes.x; ++x) {
                const std::size_t i = box_.index(x, y, z);
                float d = static_cast<float>(reach_m_);
                if (nearest_[i] >= 0) {
                    const SurfacePoint& s = surface_[static_cast<std::size_t>(nearest_[i])];
                    const glm::vec3 off = glm::vec3(box_.position_m(x, y, z)) - s.position_m;
                    const float across = glm::dot(off, s.normal);
                    const float along = std::sqrt(std::max(0.0f, glm::dot(off, off) - across * across));
                    const float beyond = std::max(0.0f, along - beside_m);
                    d = std::min(d, std::sqrt(across * across + beyond * beyond));
                }
                distance[i] = inside_[i] ? -d : d;
            }
    });
    return distance;
}

std::vector<float> blurred(const GridBox& box, const std::vector<float>& values, int passes,
                           const ParallelFor& parallel) {
    const std::array<std::size_t, 3> stride{1, box.stride_y(), box.stride_z()};
    std::vector<float> from = values;
    std::vector<float> to(values.size());
    for (int pass = 0; pass < passes; ++pass)
        for (int axis = 0; axis < 3; ++axis) {
            parallel(box.nodes.z, [&](int z) {
                for (int y = 0; y < box.nodes.y; ++y)
                    for (int x = 0; x < box.nodes.x; ++x) {
                        const std::size_t i = box.index(x, y, z);
                        const std::size_t s = stride[static_cast<std::size_t>(axis)];
                        const int c = axis == 0 ? x : axis == 1 ? y : z;
                        const std::size_t before = c > 0 ? i - s : i;
                        const std::size_t after = c + 1 < box.nodes[axis] ? i + s : i;
                        to[i] = 0.5f * from[i] + 0.25f * (from[before] + from[after]);
                    }
            });
            std::swap(from, to);
        }
    return from;
}

}  // namespace sim
