#include "sim/anatomy/skin_mesh.hpp"

#include <algorithm>
#include <cmath>

#include <glm/geometric.hpp>

#include "sim/anatomy/skin_parts.hpp"

namespace sim {
namespace {

using glm::vec3;

constexpr float kFullCellMm = 2.2f;
constexpr float kLeanCellMm = 3.2f;
constexpr float kLeanCoarser = 1.7f;  ///< edges of the lean mesh against those of the full one
constexpr int kCarrySteps = 6;
constexpr float kLongestCarryMm = 1.5f;  ///< of a vertex in one Newton step, so that none jumps across a fold
constexpr float kOcclusionCellMm = 4.0f;

struct FineRegion {
    float edge_mm;
    vec3 centre, half_size;
};
constexpr FineRegion kFineRegions[] = {
    {0.62f, {31, 11, 78}, {17, 6.5f, 10}},   // lids
    {0.68f, {13, -47, 86}, {14, 9.5f, 10}},  // lips
    {0.70f, {8, -21, 96}, {9, 6, 10}},       // nostrils, wings of the nose
    {1.20f, {24, -38, 80}, {16, 34, 22}},    // folds
    {1.25f, {76, 4, -18}, {12, 33, 20}},     // ear
    {1.90f, {0, -20, 50}, {66, 62, 50}},     // face
};
constexpr float kCoarsestMm = 3.2f;
constexpr float kGrading = 0.11f;  ///< growth of the edge per mm of distance from a region

float outside_box(const vec3& p, const vec3& centre, const vec3& half_size) {
    return glm::length(glm::max(glm::abs(p - centre) - half_size, vec3(0.0f)));
}

/// The head that is meshed: between the sexes, so that none has far to be carried.
HeadParameters template_head() {
    HeadParameters head;
    head.male = 0.5;
    head.asymmetry = 0.0;
    return head;
}

/// Parameters a fraction of the way from the template's, evenly in the rest frame.
HeadParameters part_way(const HeadParameters& to, double fraction) {
    HeadParameters out = to;
    const HeadParameters from = template_head();
    for (const HeadParameterField& f : head_parameter_fields()) {
        out.*f.member = from.*f.member + fraction * (to.*f.member - from.*f.member);
    }
    return out;
}

/// Carries template vertices to a patient in the rest frame, where only sex, age and fullness move the skin.
std::vector<vec3> carried(const SkinTemplate& from, const HeadParameters& to, const std::function<void(double)>& done,
                          const ParallelFor& parallel) {
    std::vector<vec3> position = from.mesh.position_mm;
    for (int step = 1; step <= kCarrySteps; ++step) {
        const bool last = step == kCarrySteps;
        const skin::Form form(last ? to : part_way(to, static_cast<double>(step) / kCarrySteps));
        const FieldMm field = [&form](const vec3& p) { return skin::value_at_rest(form, p); };
        parallel_ranges(parallel, position.size(), [&](std::size_t i) {
            for (int k = 0; k < (last ? 3 : 1); ++k)
                position[i] = stepped_onto(field, position[i], 0.3f, kLongestCarryMm);
        });
        done(static_cast<double>(step) / kCarrySteps);
    }
    return position;
}

/// What creases finer than the occlusion grid take away of the light.
float crease_shade(const SkinField& field, const vec3& p, const vec3& normal) {
    float shade = 0.0f;
    for (const float reach : {1.5f, 4.0f}) {
        shade += 0.5f * std::clamp(1.0f - field.value_mm(p + normal * reach) / reach, 0.0f, 1.0f);
    }
    return shade;
}

float curvature(const SkinField& field, const vec3& p) {
    constexpr float kReachMm = 2.5f;
    float laplacian = -6.0f * field.value_mm(p);
    for (int axis = 0; axis < 3; ++axis) {
        vec3 step(0.0f);
        step[axis] = kReachMm;
        laplacian += field.value_mm(p + step) + field.value_mm(p - step);
    }
    return laplacian / (kReachMm * kReachMm);
}

SkinVertex baked(const SkinField& field, const OcclusionGrid& scene, const vec3& p) {
    constexpr float kCreaseWeight = 0.45f;
    SkinVertex v;
    v.position_mm = p;
    v.rest_mm = field.rest_mm(p);
    v.normal = glm::normalize(field.gradient(p, 0.4f * std::min(2.0f, skin_edge_mm(v.rest_mm))));
    const Visibility seen = visibility(scene, p, v.normal);
    v.ambient = seen.ambient * (1.0f - kCreaseWeight * crease_shade(field, p, v.normal));
    v.open_direction = seen.open_direction;
    v.curvature_per_mm = curvature(field, p);
    v.paint = field.paint(p);
    return v;
}

/// Triangles that face against the surface they lie on.
std::size_t flipped_triangles(const SkinMesh& mesh) {
    std::size_t flipped = 0;
    for (std::size_t t = 0; t < mesh.triangles.size(); t += 3) {
        const SkinVertex& a = mesh.vertices[mesh.triangles[t]];
        const SkinVertex& b = mesh.vertices[mesh.triangles[t + 1]];
        const SkinVertex& c = mesh.vertices[mesh.triangles[t + 2]];
        const vec3 facing = glm::cross(b.position_mm - a.position_mm, c.position_mm - a.position_mm);
        if (glm::dot(facing, a.normal + b.normal + c.normal) <= 0.0f) ++flipped;
    }
    return flipped;
}

}  // namespace

float skin_edge_mm(const vec3& rest_mm) {
    const vec3 q(std::fabs(rest_mm.x), rest_mm.y, rest_mm.z);
    float edge = kCoarsestMm;
    for (const FineRegion& r : kFineRegions) {
        edge = std::min(edge, r.edge_mm + kGrading * std::max(0.0f, outside_box(q, r.centre, r.half_size) - 1.0f));
    }
    return edge;
}

SkinTemplate build_skin_template(MeshDetail detail, const ParallelFor& parallel) {
    const float coarser = detail == MeshDetail::lean ? kLeanCoarser : 1.0f;
    const SkinField head(template_head());
    MeshRequest request;
    request.low_mm = head.low_mm();
    request.high_mm = head.high_mm();
    request.cell_mm = detail == MeshDetail::lean ? kLeanCellMm : kFullCellMm;
    request.edge_mm = [coarser](const vec3& p) { return coarser * skin_edge_mm(p); };
    const skin::Form& form = head.form();
    return {mesh_surface([&form](const vec3& p) { return skin::value_at_rest(form, p); }, request, parallel), detail};
}

SkinMesh build_skin_mesh(const SkinField& field, const SkinTemplate& from, const OcclusionGrid& scene,
                         const Progress& progress, const ParallelFor& parallel) {
    constexpr double kCarryShare = 0.5;
    const auto report = [&](double fraction) {
        if (progress) progress(fraction);
    };
    const std::vector<vec3> rest = carried(
        from, field.parameters(), [&](double done) { report(kCarryShare * done); }, parallel);
    SkinMesh out;
    out.triangles = from.mesh.triangles;
    out.vertices.resize(rest.size());
    parallel_ranges(parallel, rest.size(),
                    [&](std::size_t i) { out.vertices[i] = baked(field, scene, field.from_rest_mm(rest[i])); });
    out.flipped = flipped_triangles(out);
    report(1.0);
    return out;
}

SkinMesh build_skin_mesh(const SkinField& field, MeshDetail detail, const Progress& progress,
                         const ParallelFor& parallel) {
    constexpr double kTemplateShare = 0.4;
    const SkinTemplate from = build_skin_template(detail, parallel);
    const OcclusionGrid scene([&field](const vec3& p) { return field.value_mm(p); }, field.low_mm(), field.high_mm(),
                              kOcclusionCellMm, parallel);
    if (progress) progress(kTemplateShare);
    const Progress rest = [&](double f) {
        if (progress) progress(kTemplateShare + (1.0 - kTemplateShare) * f);
    };
    return build_skin_mesh(field, from, scene, rest, parallel);
}

}  // namespace sim
