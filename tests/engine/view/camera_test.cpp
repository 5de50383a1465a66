#include "engine/view/camera.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>

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

TEST_CASE("under an eye that stays by the trunk the head turns", "[view]") {
    Camera camera(oblique());
    const sim::Vec3 target = camera.pose().target_m, eye = camera.eye_m() - target;
    const double turn_rad = 0.4;
    camera.turn_under(turn_rad);
    CHECK(camera.pose().target_m == target);
    // a head that turns to its left (from z to x) sees the eye go the other way round
    const sim::Vec3 seen = camera.eye_m() - target;
    CHECK_THAT(seen.y, WithinAbs(eye.y, 1e-12));
    CHECK_THAT(std::atan2(eye.x, eye.z) - std::atan2(seen.x, seen.z), WithinAbs(turn_rad, 1e-12));
    // what goes round with the trunk about the middle of the picture stays where it was in it
    const sim::Vec3 trunk(0.03, -0.05, 0.02);
    const sim::Vec3 gone(std::cos(turn_rad) * trunk.x - std::sin(turn_rad) * trunk.z, trunk.y,
                         std::cos(turn_rad) * trunk.z + std::sin(turn_rad) * trunk.x);
    const auto before = Camera(oblique()).project(target + trunk, kAspect),
               now = camera.project(target + gone, kAspect);
    REQUIRE((before && now));
    CHECK_THAT(now->x, WithinAbs(before->x, 1e-9));
    CHECK_THAT(now->y, WithinAbs(before->y, 1e-9));
}

TEST_CASE("a glide to a pose with other directions begins with the picture that is seen", "[view]") {
    Camera camera(oblique());
    camera.turn_under(0.6);
    const sim::Vec3 p_m{0.03, 0.01, 0.02};
    const auto before = camera.project(p_m, kAspect);
    camera.glide_to(oblique());
    camera.tick(0.0);
    const auto begun = camera.project(p_m, kAspect);
    REQUIRE((before && begun));
    CHECK_THAT(begun->x, WithinAbs(before->x, 1e-9));
    CHECK_THAT(begun->y, WithinAbs(before->y, 1e-9));
    camera.tick(Camera::kMoveS);
    const auto there = camera.project(p_m, kAspect), wanted = Camera(oblique()).project(p_m, kAspect);
    REQUIRE((there && wanted));
    CHECK_THAT(there->x, WithinAbs(wanted->x, 1e-9));
    CHECK_THAT(there->y, WithinAbs(wanted->y, 1e-9));
}
