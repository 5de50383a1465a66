#include "engine/view/camera.hpp"

#include <array>
#include <catch2/catch.hpp>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using view::Camera;
using view::CameraPose;

namespace {

constexpr double kAspect = 1.6;

CameraPose oblique() {
    CameraPose pose;
    pose.target_m = {0.01, -0.02, 0.03};
    pose.azimuth_rad = 0.7;
    pose.elevation_rad = -0.3;
    pose.roll_rad = 0.2;
    return pose;
}

}  // namespace

TEST_CASE("a ray through a place in the picture meets what is drawn there", "[view]") {
    const Camera camera(oblique());
    const sim::Vec3 p_m{0.03, 0.01, 0.02};
    const auto at = camera.project(p_m, kAspect);
    REQUIRE(at);
    const view::Ray ray = camera.ray(at->x, at->y, kAspect);
    const sim::Vec3 off = glm::cross(p_m - ray.origin_m, ray.direction);
    CHECK_THAT(glm::length(off), WithinAbs(0.0, 1e-12));

    // and the matrix that draws agrees with both
    const glm::dvec4 clip = camera.view_projection_mm(kAspect) * glm::dvec4(p_m * 1000.0, 1.0);
    CHECK_THAT(clip.x / clip.w, WithinAbs(at->x, 1e-9));
    CHECK_THAT(clip.y / clip.w, WithinAbs(at->y, 1e-9));
}

TEST_CASE("nothing behind the eye is projected", "[view]") {
    const Camera camera(oblique());
    CHECK_FALSE(camera.project(camera.eye_m() * 2.0 - camera.pose().target_m, kAspect));
}

TEST_CASE("framing shows every point", "[view]") {
    const std::array<sim::Vec3, 4> points{{{0, 0, 0}, {0.06, 0, 0}, {0, 0.03, 0.01}, {-0.05, -0.02, 0.02}}};
    const Camera camera(view::framing(oblique(), points, kAspect));
    for (const sim::Vec3& p : points) {
        const auto at = camera.project(p, kAspect);
        REQUIRE(at);
        CHECK(std::abs(at->x) < 1.0);
        CHECK(std::abs(at->y) < 1.0);
    }
}

TEST_CASE("a glide takes its time and a hand interrupts it", "[view]") {
    Camera camera(oblique());
    CameraPose far = oblique();
    far.distance_m = 1.2;
    camera.glide_to(far);
    CHECK(camera.tick(0.5 * Camera::kMoveS));
    // half the time is half the way, by symmetry of the easing
    CHECK_THAT(camera.pose().distance_m, WithinRel(0.9, 1e-12));
    camera.zoom(1.0);
    CHECK_FALSE(camera.tick(Camera::kMoveS));
    CHECK_THAT(camera.pose().distance_m, WithinRel(0.9, 1e-12));

    camera.glide_to(far);
    camera.tick(Camera::kMoveS);
    CHECK_THAT(camera.pose().distance_m, WithinRel(1.2, 1e-12));
    CHECK_FALSE(camera.tick(0.01));
}
