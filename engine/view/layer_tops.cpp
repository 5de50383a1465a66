#include "engine/view/layer_tops.hpp"

#include <algorithm>
#include <glm/geometric.hpp>

#include "engine/view/shapes.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr float kPartMm = 0.02f;  // between layers of no thickness, so that they do not fight for the same depth

/// As tissue looks, sRGB: superficial fat, SMAS, deep fat, muscle, then the floor by what it is made of. Assumed.
constexpr unsigned kColours[sim::kTissueLayers] = {0xECD489, 0xC9B3AC, 0xDDB45A, 0x9E453D, 0};
constexpr unsigned kBone = 0xE8E1CC, kLining = 0xC98A8C, kFascia = 0xB9B7B4;

glm::vec3 colour_of(std::size_t top, sim::FloorKind floor) {
    if (top + 1 < sim::kTissueLayers) return linear(kColours[top]);
    return linear(floor == sim::FloorKind::bone ? kBone : floor == sim::FloorKind::lining ? kLining : kFascia);
}

/// From the skin inwards, a stop at each layer's top: the bottoms are asked again on the way, since they change with
/// the direction in.
std::array<Vec3, sim::kTissueLayers> stops_under(const sim::Anatomy& anatomy, const Vec3& skin_m,
                                                 sim::FloorKind& floor) {
    std::array<Vec3, sim::kTissueLayers> stops{};
    Vec3 p = skin_m;
    for (std::size_t top = 0; top < stops.size(); ++top) {
        constexpr int kCorrections = 4;
        for (int i = 0; i < kCorrections; ++i) {
            const sim::LayerPoint at = anatomy.layers_at(p);
            const double missing_m = at.bottom_m[top] - at.depth_m;
            // the first steps stop half way, so that a curved way in is followed
            p += anatomy.inward_at(p) * (i + 1 < kCorrections && missing_m > sim::kMm ? 0.6 * missing_m : missing_m);
            floor = at.floor;
        }
        stops[top] = p;
    }
    return stops;
}

void work_out_normals(ObjectMesh& mesh) {
    for (std::size_t i = 0; i + 2 < mesh.triangles.size(); i += 3) {
        ObjectVertex* corner[3];
        for (std::size_t k = 0; k < 3; ++k) corner[k] = &mesh.vertices[mesh.triangles[i + k]];
        const glm::vec3 across = glm::cross(corner[1]->position_mm - corner[0]->position_mm,
                                            corner[2]->position_mm - corner[0]->position_mm);
        for (ObjectVertex* one : corner) one->normal += across;
    }
    for (ObjectVertex& vertex : mesh.vertices)
        vertex.normal = glm::length(vertex.normal) > 1e-9f ? glm::normalize(vertex.normal) : glm::vec3(0, 0, 1);
}

}  // namespace

LayerTops build_layer_tops(const sim::Anatomy& anatomy, std::span<const std::shared_ptr<const Surface>> surfaces,
                           const std::function<void(double)>& progress) {
    std::array<std::shared_ptr<ObjectMesh>, sim::kTissueLayers> meshes;
    for (auto& mesh : meshes) mesh = std::make_shared<ObjectMesh>();
    std::size_t all = 0, done = 0;
    for (const auto& surface : surfaces)
        if (surface->kind == SurfaceKind::skin) all += surface->vertices.size();
    for (const auto& surface : surfaces) {
        if (surface->kind != SurfaceKind::skin) continue;
        const auto first = static_cast<std::uint32_t>(meshes[0]->vertices.size());
        for (const SurfaceVertex& vertex : surface->vertices) {
            sim::FloorKind floor{};
            const auto stops = stops_under(anatomy, Vec3(vertex.position_mm / kMmPerM), floor);
            for (std::size_t top = 0; top < stops.size(); ++top)
                meshes[top]->vertices.push_back(
                    {glm::vec3(stops[top]) * kMmPerM - vertex.normal * (kPartMm * static_cast<float>(top + 1)),
                     {},
                     colour_of(top, floor),
                     0.04f});
            constexpr std::size_t kTold = 1024;
            if (++done % kTold == 0 && progress) progress(static_cast<double>(done) / static_cast<double>(all));
        }
        for (const auto& mesh : meshes)
            for (const std::uint32_t i : surface->triangles) mesh->triangles.push_back(first + i);
    }
    LayerTops out;
    for (std::size_t top = 0; top < out.size(); ++top) {
        work_out_normals(*meshes[top]);
        out[top] = meshes[top];
    }
    return out;
}

}  // namespace view
