#include "sim/anatomy/dressing.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include "sim/anatomy/skin_parts.hpp"

/// All figures drawn by eye (assumed).

namespace sim {
namespace {

using glm::vec2;
using glm::vec3;
using skin::bell;
using skin::bump;
using skin::meet;
using skin::ramp;

constexpr float kNoClothMm = 40.0f;  ///< written where a cloth cannot be

/// Height of a place above the lower edge of the cap, which rises over the ears.
float above_cap_edge(const vec3& p) {
    const float x = std::fabs(p.x);
    return p.y - (33.5f + 0.30f * p.z + 12.0f * bell(p.z + 19.0f, 17.0f) * ramp(40, 60, x) - 0.0012f * x * x);
}

/// Height of a place above the plane at which the drape is turned over.
float above_collar(const vec3& p) {
    const vec3 up = glm::normalize(vec3(0.0f, 1.0f, 0.42f));
    return glm::dot(p - vec3(0.0f, -141.0f - 0.0022f * p.x * p.x, -12.0f), up) + 1.1f * std::sin(0.11f * p.x + 0.6f);
}

/// Ridges of the drape: long tucks from the collar, and slack between the shoulders.
float drape_folds(const vec3& p) {
    const float x = std::fabs(p.x);
    const float from_neck = glm::length(vec2(p.x, p.z + 10.0f));
    const float turn = std::atan2(p.x, p.z + 40.0f);
    const auto ridge = [](float phase, float sharpness) { return std::pow(0.5f + 0.5f * std::sin(phase), sharpness); };
    const float tucks = ridge(turn * 9.0f + 0.024f * from_neck + 0.8f * std::sin(turn * 4.0f + 0.7f), 2.2f);
    const float slack = ridge(0.045f * (0.8f * p.y + 0.55f * x) + 1.2f * std::sin(0.013f * p.x + 0.5f), 3.0f);
    const float waves = 1.4f * std::sin(0.052f * p.y + 0.03f * p.x + std::sin(0.022f * p.x)) +
                        0.7f * std::sin(0.085f * p.x - 0.05f * p.y);
    return 4.6f * tucks * ramp(48.0f, 110.0f, from_neck) + 5.0f * slack + waves;
}

ClothMesh clothed(const FieldMm& field, const MeshRequest& request, const OcclusionGrid& scene,
                  const ParallelFor& parallel) {
    constexpr float kSlopeStepMm = 0.8f;
    TriangleMesh bare = mesh_surface(field, request, parallel);
    ClothMesh out;
    out.triangles = std::move(bare.triangles);
    out.vertices.resize(bare.position_mm.size());
    parallel_ranges(parallel, out.vertices.size(), [&](std::size_t i) {
        ClothVertex& v = out.vertices[i];
        v.position_mm = bare.position_mm[i];
        v.normal = glm::normalize(gradient_of(field, v.position_mm, kSlopeStepMm));
        v.ambient = visibility(scene, v.position_mm, v.normal).ambient;
    });
    return out;
}

float coarser(MeshDetail detail) { return detail == MeshDetail::lean ? 1.7f : 1.0f; }

ClothMesh cap_mesh(const Dressing& dressing, float scale, const OcclusionGrid& scene, const ParallelFor& parallel) {
    MeshRequest request{{-100, -20, -118}, {100, 152, 112}, 2.6f * scale, {}};
    request.edge_mm = [scale](const vec3& p) {
        return scale * 1.3f + 0.2f * std::max(0.0f, std::fabs(above_cap_edge(p) - 3.0f) - 5.0f);
    };
    return clothed([&](const vec3& p) { return dressing.cap_mm(p); }, request, scene, parallel);
}

ClothMesh drape_mesh(const Dressing& dressing, float scale, const OcclusionGrid& scene, const ParallelFor& parallel) {
    MeshRequest request{{-236, -430, -150}, {236, -96, 110}, 4.8f * scale, {}};
    request.edge_mm = [scale](const vec3& p) {
        return scale * 2.2f + 0.15f * std::max(0.0f, std::fabs(above_collar(p) + 6.0f) - 14.0f);
    };
    return clothed([&](const vec3& p) { return dressing.drape_mm(p); }, request, scene, parallel);
}

ClothMesh pillow_mesh(const Dressing& dressing, float scale, const OcclusionGrid& scene, const ParallelFor& parallel) {
    const MeshRequest request{{-190, -125, -172}, {190, 175, -52}, 6.0f * scale, {}};
    return clothed([&](const vec3& p) { return dressing.pillow_mm(p); }, request, scene, parallel);
}

}  // namespace

float Dressing::cap_mm(const vec3& p) const {
    const float outside = glm::length(p - vec3(0, 60, -8)) - 125.0f;
    if (outside > kNoClothMm) return outside;
    const float h = above_cap_edge(p);
    if (h < -25.0f) return -h;
    const float turn = std::atan2(p.x, p.z + 8.0f);
    const float from_axis = glm::length(vec2(p.x, p.z + 8.0f));
    const float puff = 2.0f + 8.5f * ramp(8, 52, h) * (0.75f + 0.25f * ramp(20, -50, p.z));
    const float gathers =
        0.75f * std::sin(turn * 30.0f + 1.3f * std::sin(turn * 7.0f)) * ramp(4, 12, h) * ramp(48, 14, h);
    const float creases = 0.9f *
                          (std::sin(turn * 11.0f + h * 0.055f) + 0.7f * std::sin(turn * 5.0f - h * 0.09f + 1.0f)) *
                          ramp(12, 40, h) * ramp(8, 40, from_axis);
    const float hem = 0.8f * bump(h - 1.6f, 1.5f) - 0.9f * bump(h - 8.5f, 1.5f);
    const float head = skin::base_head(skin_.form(), {std::fabs(p.x), p.y, p.z});
    return 0.9f * meet(head - puff - gathers - creases - hem, -h, 3.0f);
}

float Dressing::drape_mm(const vec3& p) const {
    constexpr float kTopMm = -98.0f;
    if (p.y > kTopMm) return std::max(18.0f, p.y - kTopMm + 18.0f);
    constexpr float kClearOfSkinMm = 6.5f;
    const vec3 q(std::fabs(p.x), p.y, p.z);
    float body = skin::ellipsoid(q, {0, -330, -22}, {178, 185, 92});
    body = skin::join(body, skin::capsule(q, {40, -196, -44}, {168, -250, -46}, 40, 56), 60);
    if (p.y > SkinField::kBustBaseMm - 40.0f) body = skin::join(body, skin_.value_mm(p) - kClearOfSkinMm, 34);
    const float collar = above_collar(p);
    body -= drape_folds(p) * ramp(-6, -60, collar);
    body -= 1.9f * bump(collar + 3.0f, 2.8f) - 0.8f * bump(collar + 9.5f, 2.0f);  // rolled edge with its seam
    return 0.85f * meet(body, collar, 3.0f);
}

float Dressing::pillow_mm(const vec3& p) const {
    constexpr float kRoundMm = 24.0f;
    const vec3 outside = glm::abs(p - vec3(0, 14, -113)) - (vec3(158, 112, 28) - kRoundMm);
    float d = glm::length(glm::max(outside, vec3(0.0f))) + std::min(std::max({outside.x, outside.y, outside.z}), 0.0f) -
              kRoundMm;
    const float from_head = glm::length(vec2(p.x * 0.85f, p.y - 30.0f));
    d -= 9.0f * bell(from_head - 100.0f, 32.0f) -
         9.0f * bell(from_head, 46.0f);  // gives under the head, rises around it
    d -= 0.9f * std::sin(std::atan2(p.x, p.y - 30.0f) * 14.0f + 0.05f * from_head) * bell(from_head - 88.0f, 18.0f);
    return 0.9f * d;
}

float Dressing::scene_mm(const vec3& p) const {
    return std::min({skin_.value_mm(p), cap_mm(p), drape_mm(p), pillow_mm(p)});
}

OcclusionGrid scene_grid(const Dressing& dressing, const ParallelFor& parallel) {
    return {[&](const vec3& p) { return dressing.scene_mm(p); }, dressing.low_mm(), dressing.high_mm(), kSceneCellMm,
            parallel};
}

PatientMeshes build_patient_meshes(const Dressing& dressing, const SkinTemplate& from, const OcclusionGrid& scene,
                                   const Progress& progress, const ParallelFor& parallel) {
    constexpr double kSkinShare = 0.6, kCapShare = 0.18, kDrapeShare = 0.17;
    const auto report = [&](double fraction) {
        if (progress) progress(fraction);
    };
    const float scale = coarser(from.detail);
    PatientMeshes out;
    out.skin = build_skin_mesh(
        dressing.skin(), from, scene, [&](double f) { report(kSkinShare * f); }, parallel);
    out.cap = cap_mesh(dressing, scale, scene, parallel);
    report(kSkinShare + kCapShare);
    out.drape = drape_mesh(dressing, scale, scene, parallel);
    report(kSkinShare + kCapShare + kDrapeShare);
    out.pillow = pillow_mesh(dressing, scale, scene, parallel);
    report(1.0);
    return out;
}

namespace {

/// Leaves out the triangles that lie wholly in one of the other solids.
template <typename Mesh>
void drop_buried_from(Mesh& mesh, const FieldMm& others, const ParallelFor& parallel) {
    std::vector<char> buried(mesh.vertices.size());
    parallel_ranges(parallel, buried.size(),
                    [&](std::size_t i) { buried[i] = others(mesh.vertices[i].position_mm) < -kBuriedMm; });
    std::vector<std::uint32_t> seen;
    seen.reserve(mesh.triangles.size());
    for (std::size_t t = 0; t + 2 < mesh.triangles.size(); t += 3) {
        const auto corners = std::span(mesh.triangles).subspan(t, 3);
        if (std::all_of(corners.begin(), corners.end(), [&](std::uint32_t i) { return buried[i] != 0; })) continue;
        seen.insert(seen.end(), corners.begin(), corners.end());
    }
    mesh.triangles = std::move(seen);
}

}  // namespace

void drop_buried(PatientMeshes& meshes, const Dressing& d, const ParallelFor& parallel) {
    const auto skin = [&d](const vec3& p) { return d.skin().value_mm(p); };
    drop_buried_from(
        meshes.skin,
        [&](const vec3& p) {
            return std::min({d.cap_mm(p), d.drape_mm(p), d.pillow_mm(p)});
        },
        parallel);
    drop_buried_from(
        meshes.cap, [&](const vec3& p) { return std::min(skin(p), d.pillow_mm(p)); }, parallel);
    drop_buried_from(
        meshes.drape, [&](const vec3& p) { return std::min(skin(p), d.pillow_mm(p)); }, parallel);
    drop_buried_from(
        meshes.pillow,
        [&](const vec3& p) {
            return std::min({skin(p), d.cap_mm(p), d.drape_mm(p)});
        },
        parallel);
}

}  // namespace sim
