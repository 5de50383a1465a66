#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include <glm/vec3.hpp>

/// Triangle meshes of implicit surfaces, millimetres: for the skin and for the cloth around it.

namespace sim {

/// Runs body(0..n-1), in any order, on threads that the caller owns; sim starts none. Each call writes only what
/// belongs to its own index, so results do not depend on how many threads there are.
using ParallelFor = std::function<void(int n, const std::function<void(int)>& body)>;

/// The plain loop, for whoever has no threads to give.
void in_order(int n, const std::function<void(int)>& body);

/// Splits 0..n-1 into pieces of a few hundred and runs `body` on each index, pieces in parallel.
void parallel_ranges(const ParallelFor& parallel, std::size_t n, const std::function<void(std::size_t)>& body);

/// About a distance in mm, < 0 inside.
using FieldMm = std::function<float(const glm::vec3& p_mm)>;

/// A bare closed surface; triangles turn counter-clockwise seen from outside, three indices each.
struct TriangleMesh {
    std::vector<glm::vec3> position_mm;
    std::vector<std::uint32_t> triangles;
};

struct MeshRequest {
    glm::vec3 low_mm{}, high_mm{};  ///< must hold the whole surface
    float cell_mm = 2.2f;           ///< of the grid from which the mesh starts
    FieldMm edge_mm;                ///< wanted edge length at a place; empty: the cell everywhere
};

/// Naive surface nets on a regular grid (Gibson 1998, MICCAI), each vertex then moved onto the surface; every edge
/// longer than 1.4 times the wanted length is split, triangles becoming two, three or four, so that no crack can open.
[[nodiscard]] TriangleMesh mesh_surface(const FieldMm& field, const MeshRequest& request, const ParallelFor& parallel);

/// Tetrahedral central difference.
[[nodiscard]] glm::vec3 gradient_of(const FieldMm& field, const glm::vec3& p_mm, float step_mm);

/// One Newton step onto the surface, no longer than `limit_mm`.
[[nodiscard]] glm::vec3 stepped_onto(const FieldMm& field, const glm::vec3& p_mm, float gradient_step_mm,
                                     float limit_mm);

}  // namespace sim
