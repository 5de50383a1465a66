#include "sim/anatomy/skin_mesher.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <glm/common.hpp>
#include <glm/geometric.hpp>
#include <glm/vec3.hpp>

#include "sim/core/errors.hpp"

namespace sim {
namespace {

using glm::ivec3;
using glm::vec3;

constexpr std::uint32_t kNoVertex = 0xffffffffU;
constexpr int kBlock = 8;            ///< cells a side of the blocks that are skipped when the surface is not near
constexpr float kFarValueMm = 1e3f;  ///< written where a block was skipped
constexpr float kSplitAbove =
    1.4f;  ///< times the wanted edge length: halves of sqrt(2) keep edges within a factor of 2
constexpr int kMostSplitPasses = 6;

std::size_t index3(const ivec3& p, const ivec3& size) {
    const auto at = [](int v) { return static_cast<std::size_t>(v); };
    return (at(p.z) * at(size.y) + at(p.y)) * at(size.x) + at(p.x);
}

/// Field values at grid nodes; nodes far from the surface hold only a sign.
struct NodeGrid {
    ivec3 size{};
    vec3 low{};
    float cell = 1.0f;
    std::vector<float> value;

    [[nodiscard]] std::size_t index(const ivec3& p) const { return index3(p, size); }
    [[nodiscard]] vec3 place(const ivec3& p) const { return low + cell * vec3(p); }
    [[nodiscard]] bool inside(const ivec3& p) const { return value[index(p)] < 0.0f; }
};

void fill_block(const FieldMm& field, const ivec3& block, NodeGrid& grid) {
    const ivec3 first = block * kBlock;
    const vec3 centre = grid.place(first) + 0.5f * grid.cell * static_cast<float>(kBlock);
    const float at_centre = field(centre);
    // half the block's diagonal, half as much again because the field is only about a distance
    const float reach = 1.5f * 0.87f * grid.cell * static_cast<float>(kBlock) + 2.0f;
    const bool near = std::fabs(at_centre) < reach;
    for (int z = first.z; z < first.z + kBlock; ++z) {
        for (int y = first.y; y < first.y + kBlock; ++y) {
            for (int x = first.x; x < first.x + kBlock; ++x) {
                const ivec3 p(x, y, z);
                grid.value[grid.index(p)] = near ? field(grid.place(p)) : std::copysign(kFarValueMm, at_centre);
            }
        }
    }
}

NodeGrid sample(const FieldMm& field, const MeshRequest& request, const ParallelFor& parallel) {
    NodeGrid grid;
    grid.cell = request.cell_mm;
    grid.low = request.low_mm;
    const ivec3 blocks(glm::ceil((request.high_mm - request.low_mm) / (request.cell_mm * static_cast<float>(kBlock))));
    grid.size = blocks * kBlock + 1;
    grid.value.assign(static_cast<std::size_t>(grid.size.x) * static_cast<std::size_t>(grid.size.y) *
                          static_cast<std::size_t>(grid.size.z),
                      kFarValueMm);
    parallel(blocks.z * blocks.y, [&](int row) {
        for (int x = 0; x < blocks.x; ++x) fill_block(field, {x, row % blocks.y, row / blocks.y}, grid);
    });
    return grid;
}

/// Mean of the crossings of a cell's edges, in cell units, if its corners differ in sign.
bool cell_vertex(const NodeGrid& grid, const ivec3& cell, vec3& out) {
    static constexpr std::array<std::array<int, 2>, 12> kEdges = {
        {{0, 1}, {2, 3}, {4, 5}, {6, 7}, {0, 2}, {1, 3}, {4, 6}, {5, 7}, {0, 4}, {1, 5}, {2, 6}, {3, 7}}};
    const auto corner = [](int k) { return ivec3(k & 1, (k >> 1) & 1, k >> 2); };
    std::array<float, 8> value{};
    int inside = 0;
    for (int k = 0; k < 8; ++k) {
        value[static_cast<std::size_t>(k)] = grid.value[grid.index(cell + corner(k))];
        inside += value[static_cast<std::size_t>(k)] < 0.0f ? 1 : 0;
    }
    if (inside == 0 || inside == 8) return false;
    vec3 sum(0.0f);
    float crossings = 0.0f;
    for (const auto& [i, j] : kEdges) {
        const float a = value[static_cast<std::size_t>(i)];
        const float b = value[static_cast<std::size_t>(j)];
        if ((a < 0.0f) == (b < 0.0f)) continue;
        sum += glm::mix(vec3(corner(i)), vec3(corner(j)), a / (a - b));
        crossings += 1.0f;
    }
    out = sum / crossings;
    return true;
}

class QuadWriter {
 public:
    explicit QuadWriter(TriangleMesh& mesh) : mesh_(mesh) {}

    /// Two triangles over the shorter diagonal.
    void add(std::array<std::uint32_t, 4> q, bool turn) {
        if (std::find(q.begin(), q.end(), kNoVertex) != q.end()) return;
        if (turn) std::swap(q[1], q[3]);
        const auto& p = mesh_.position_mm;
        const bool first = glm::distance(p[q[0]], p[q[2]]) < glm::distance(p[q[1]], p[q[3]]);
        for (const std::size_t k :
             first ? std::array<std::size_t, 6>{0, 1, 2, 0, 2, 3} : std::array<std::size_t, 6>{0, 1, 3, 1, 2, 3})
            mesh_.triangles.push_back(q[k]);
    }

 private:
    TriangleMesh& mesh_;
};

TriangleMesh surface_nets(const NodeGrid& grid) {
    TriangleMesh mesh;
    std::vector<std::uint32_t> vertex(grid.value.size(), kNoVertex);
    const ivec3 cells = grid.size - 1;
    for (int z = 0; z < cells.z; ++z) {
        for (int y = 0; y < cells.y; ++y) {
            for (int x = 0; x < cells.x; ++x) {
                vec3 within;
                if (!cell_vertex(grid, {x, y, z}, within)) continue;
                vertex[grid.index({x, y, z})] = static_cast<std::uint32_t>(mesh.position_mm.size());
                mesh.position_mm.push_back(grid.low + grid.cell * (vec3(x, y, z) + within));
            }
        }
    }
    QuadWriter quads(mesh);
    const auto at = [&](int x, int y, int z) { return vertex[grid.index({x, y, z})]; };
    for (int z = 1; z < cells.z; ++z) {
        for (int y = 1; y < cells.y; ++y) {
            for (int x = 1; x < cells.x; ++x) {
                const bool in = grid.inside({x, y, z});
                if (in != grid.inside({x + 1, y, z}))
                    quads.add({at(x, y - 1, z - 1), at(x, y, z - 1), at(x, y, z), at(x, y - 1, z)}, !in);
                if (in != grid.inside({x, y + 1, z}))
                    quads.add({at(x - 1, y, z - 1), at(x - 1, y, z), at(x, y, z), at(x, y, z - 1)}, !in);
                if (in != grid.inside({x, y, z + 1}))
                    quads.add({at(x - 1, y - 1, z), at(x, y - 1, z), at(x, y, z), at(x - 1, y, z)}, !in);
            }
        }
    }
    return mesh;
}

/// Moves, smooths and splits a mesh on one field.
class Refiner {
 public:
    Refiner(const FieldMm& field, const MeshRequest& request, const ParallelFor& parallel, TriangleMesh& mesh)
        : field_(field), request_(request), parallel_(parallel), mesh_(mesh) {}

    void project(int steps) {
        parallel_ranges(parallel_, mesh_.position_mm.size(), [&](std::size_t i) {
            vec3& p = mesh_.position_mm[i];
            const float edge = wanted(p);
            for (int k = 0; k < steps; ++k) p = stepped_onto(field_, p, 0.2f * edge, edge);
        });
    }

    /// Half way to the mean of the neighbours, then back onto the surface.
    void relax(int rounds) {
        for (int round = 0; round < rounds; ++round) {
            std::vector<vec3> sum(mesh_.position_mm.size(), vec3(0.0f));
            std::vector<float> count(mesh_.position_mm.size(), 0.0f);
            for (std::size_t t = 0; t < mesh_.triangles.size(); t += 3) {
                for (std::size_t k = 0; k < 3; ++k) {
                    const std::uint32_t a = mesh_.triangles[t + k];
                    const std::uint32_t b = mesh_.triangles[t + (k + 1) % 3];
                    sum[a] += mesh_.position_mm[b];
                    count[a] += 1.0f;
                }
            }
            for (std::size_t i = 0; i < sum.size(); ++i) {
                if (count[i] > 0.0f) mesh_.position_mm[i] = glm::mix(mesh_.position_mm[i], sum[i] / count[i], 0.5f);
            }
            project(1);
        }
    }

    /// Splits every edge that is too long. @return whether there was one
    bool split_long_edges() {
        collect_edges();
        parallel_ranges(parallel_, edges_.size(), [&](std::size_t i) {
            Edge& e = edges_[i];
            const vec3 a = mesh_.position_mm[e.a];
            const vec3 b = mesh_.position_mm[e.b];
            e.split = glm::distance(a, b) > kSplitAbove * request_.edge_mm(0.5f * (a + b));
        });
        bool any = false;
        for (Edge& e : edges_) {
            if (!e.split) continue;
            any = true;
            e.middle = static_cast<std::uint32_t>(mesh_.position_mm.size());
            mesh_.position_mm.push_back(0.5f * (mesh_.position_mm[e.a] + mesh_.position_mm[e.b]));
        }
        if (any) rebuild_triangles();
        return any;
    }

 private:
    struct Edge {
        std::uint32_t a = 0, b = 0;  ///< a < b
        std::uint32_t middle = kNoVertex;
        bool split = false;
        bool operator<(const Edge& other) const { return a != other.a ? a < other.a : b < other.b; }
        bool operator==(const Edge& other) const { return a == other.a && b == other.b; }
    };

    [[nodiscard]] float wanted(const vec3& p) const {
        return request_.edge_mm ? std::min(request_.cell_mm, request_.edge_mm(p)) : request_.cell_mm;
    }

    void collect_edges() {
        edges_.clear();
        for (std::size_t t = 0; t < mesh_.triangles.size(); t += 3) {
            for (std::size_t k = 0; k < 3; ++k) {
                const auto [a, b] = std::minmax(mesh_.triangles[t + k], mesh_.triangles[t + (k + 1) % 3]);
                edges_.push_back({a, b, kNoVertex, false});
            }
        }
        std::sort(edges_.begin(), edges_.end());
        edges_.erase(std::unique(edges_.begin(), edges_.end()), edges_.end());
    }

    [[nodiscard]] std::uint32_t middle_of(std::uint32_t a, std::uint32_t b) const {
        const auto [low, high] = std::minmax(a, b);
        return std::lower_bound(edges_.begin(), edges_.end(), Edge{low, high, kNoVertex, false})->middle;
    }

    void rebuild_triangles() {
        std::vector<std::uint32_t> out;
        out.reserve(mesh_.triangles.size() * 2);
        const auto add = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c) { out.insert(out.end(), {a, b, c}); };
        for (std::size_t t = 0; t < mesh_.triangles.size(); t += 3) {
            std::array<std::uint32_t, 3> v = {mesh_.triangles[t], mesh_.triangles[t + 1], mesh_.triangles[t + 2]};
            std::array<std::uint32_t, 3> m = {middle_of(v[0], v[1]), middle_of(v[1], v[2]), middle_of(v[2], v[0])};
            const auto split = std::count_if(m.begin(), m.end(), [](std::uint32_t i) { return i != kNoVertex; });
            // turn the triangle so that its one split, or its one whole, edge comes first
            const auto odd_one = [&](std::uint32_t i) { return split == 1 ? i != kNoVertex : i == kNoVertex; };
            for (int k = 0; k < 2 && (split == 1 || split == 2) && !odd_one(m[0]); ++k) {
                std::rotate(v.begin(), v.begin() + 1, v.end());
                std::rotate(m.begin(), m.begin() + 1, m.end());
            }
            if (split == 0) {
                add(v[0], v[1], v[2]);
            } else if (split == 1) {
                add(v[0], m[0], v[2]);
                add(m[0], v[1], v[2]);
            } else if (split == 3) {
                add(v[0], m[0], m[2]);
                add(m[0], v[1], m[1]);
                add(m[2], m[1], v[2]);
                add(m[0], m[1], m[2]);
            } else {
                add(v[2], m[2], m[1]);
                const auto& p = mesh_.position_mm;
                if (glm::distance(p[v[0]], p[m[1]]) < glm::distance(p[v[1]], p[m[2]])) {
                    add(v[0], v[1], m[1]);
                    add(v[0], m[1], m[2]);
                } else {
                    add(v[0], v[1], m[2]);
                    add(v[1], m[1], m[2]);
                }
            }
        }
        mesh_.triangles.swap(out);
    }

    const FieldMm& field_;
    const MeshRequest& request_;
    const ParallelFor& parallel_;
    TriangleMesh& mesh_;
    std::vector<Edge> edges_;
};

}  // namespace

void in_order(int n, const std::function<void(int)>& body) {
    for (int i = 0; i < n; ++i) body(i);
}

void parallel_ranges(const ParallelFor& parallel, std::size_t n, const std::function<void(std::size_t)>& body) {
    constexpr std::size_t kPiece = 512;
    parallel(static_cast<int>((n + kPiece - 1) / kPiece), [&](int piece) {
        const std::size_t first = static_cast<std::size_t>(piece) * kPiece;
        for (std::size_t i = first; i < std::min(n, first + kPiece); ++i) body(i);
    });
}

vec3 gradient_of(const FieldMm& field, const vec3& p, float step) {
    constexpr vec3 k0(1.0f, -1.0f, -1.0f), k1(-1.0f, -1.0f, 1.0f), k2(-1.0f, 1.0f, -1.0f), k3(1.0f, 1.0f, 1.0f);
    return (k0 * field(p + step * k0) + k1 * field(p + step * k1) + k2 * field(p + step * k2) +
            k3 * field(p + step * k3)) /
           (4.0f * step);
}

vec3 stepped_onto(const FieldMm& field, const vec3& p, float gradient_step_mm, float limit_mm) {
    constexpr float kLeastSlope2 = 1e-4f;  // where the field is flat there is no way to go
    const vec3 slope = gradient_of(field, p, gradient_step_mm);
    const float slope2 = glm::dot(slope, slope);
    if (slope2 < kLeastSlope2) return p;
    const vec3 step = -slope * (field(p) / slope2);
    const float length = glm::length(step);
    return p + (length > limit_mm ? step * (limit_mm / length) : step);
}

TriangleMesh mesh_surface(const FieldMm& field, const MeshRequest& request, const ParallelFor& parallel) {
    SIM_ASSERT(request.cell_mm > 0.0f);
    constexpr int kFirstRelaxation = 3;
    constexpr int kLaterRelaxation = 2;
    TriangleMesh mesh = surface_nets(sample(field, request, parallel));
    Refiner refiner(field, request, parallel, mesh);
    refiner.project(2);
    refiner.relax(kFirstRelaxation);
    if (!request.edge_mm) return mesh;
    for (int pass = 0; pass < kMostSplitPasses && refiner.split_long_edges(); ++pass) {
        refiner.project(1);
        refiner.relax(kLaterRelaxation);
    }
    return mesh;
}

}  // namespace sim
