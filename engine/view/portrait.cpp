#include "engine/view/portrait.hpp"

#include <cmath>
#include <glm/geometric.hpp>
#include <limits>

namespace view {

namespace {

constexpr double kReclineRad = 40.0 * sim::kPi / 180.0;
constexpr double kOutsideM = 0.2;  // from where a ray towards the middle starts
constexpr int kPieces = 24;        // of a way
constexpr float kFlat = 1e-12f;

/// Distance along a ray to a triangle, in units of its direction; nothing where it passes by.
std::optional<float> meets(const glm::vec3& origin, const glm::vec3& direction, const glm::vec3& a, const glm::vec3& b,
                           const glm::vec3& c) {
    const glm::vec3 ab = b - a, ac = c - a, p = glm::cross(direction, ac);
    const float det = glm::dot(ab, p);
    if (std::fabs(det) < kFlat) return std::nullopt;
    const glm::vec3 from = origin - a;
    const float u = glm::dot(from, p) / det;
    if (u < 0.0f || u > 1.0f) return std::nullopt;
    const glm::vec3 q = glm::cross(from, ab);
    const float v = glm::dot(direction, q) / det;
    if (v < 0.0f || u + v > 1.0f) return std::nullopt;
    const float t = glm::dot(ac, q) / det;
    return t > 0.0f ? std::optional(t) : std::nullopt;
}

/// The middle of head or neck at the height of a place: what inwards means there.
Vec3 middle_at(const Vec3& place_m) { return {0.0, place_m.y, place_m.y < -0.07 ? -0.03 : -0.01}; }

}  // namespace

CameraPose portrait_pose(double azimuth_rad, double distance_m) {
    CameraPose pose;
    pose.up = {0, std::cos(kReclineRad), std::sin(kReclineRad)};
    pose.front = {0, -std::sin(kReclineRad), std::cos(kReclineRad)};
    pose.azimuth_rad = azimuth_rad;
    pose.elevation_rad = 0.1;
    pose.target_m = {0, -0.02, 0.03};
    pose.distance_m = distance_m;
    return pose;
}

DrawList portrait(const HeadLook& look, const Camera& camera, double aspect) {
    DrawList list;
    list.view_projection = glm::mat4(camera.view_projection_mm(aspect));
    list.eye_mm = glm::vec3(camera.eye_m() * 1000.0);
    list.tone = look.tone;
    list.images = look.images;
    list.surfaces = look.surfaces;
    list.hairs = look.hairs;
    return list;
}

std::optional<SkinSpot> skin_hit(const HeadLook& look, const Ray& ray) {
    const glm::vec3 origin(ray.origin_m * 1000.0), direction(ray.direction);
    float nearest = std::numeric_limits<float>::infinity();
    SkinSpot spot;
    for (const auto& surface : look.surfaces) {
        if (surface->kind != SurfaceKind::skin) continue;
        const auto& triangles = surface->triangles;
        for (std::size_t i = 0; i + 2 < triangles.size(); i += 3) {
            const SurfaceVertex &a = surface->vertices[triangles[i]], &b = surface->vertices[triangles[i + 1]],
                                &c = surface->vertices[triangles[i + 2]];
            const auto t = meets(origin, direction, a.position_mm, b.position_mm, c.position_mm);
            if (!t || *t >= nearest) continue;
            nearest = *t;
            spot.position_m = Vec3(origin + *t * direction) / 1000.0;
            spot.normal = glm::normalize(Vec3(a.normal + b.normal + c.normal));
        }
    }
    return std::isfinite(nearest) ? std::optional(spot) : std::nullopt;
}

std::optional<SkinSpot> skin_near(const HeadLook& look, const Vec3& place_m) {
    const Vec3 out = place_m - middle_at(place_m);
    if (glm::length(out) < 1e-4) return std::nullopt;
    const Vec3 direction = glm::normalize(out);
    return skin_hit(look, {middle_at(place_m) + kOutsideM * direction, -direction});
}

std::vector<SkinSpot> way_on_skin(const HeadLook& look, const Vec3& from_m, const Vec3& to_m) {
    std::vector<SkinSpot> out;
    for (int i = 0; i <= kPieces; ++i)
        if (const auto spot = skin_near(look, glm::mix(from_m, to_m, static_cast<double>(i) / kPieces)))
            out.push_back(*spot);
    return out;
}

double length_m(const std::vector<SkinSpot>& way) {
    double out = 0.0;
    for (std::size_t i = 1; i < way.size(); ++i) out += glm::distance(way[i - 1].position_m, way[i].position_m);
    return out;
}

}  // namespace view
