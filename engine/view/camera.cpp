#include "engine/view/camera.hpp"

#include <algorithm>
#include <cmath>
#include <glm/gtc/matrix_transform.hpp>

namespace view {

namespace {

constexpr double kMaxElevationRad = 85.0 * sim::kPi / 180.0;
constexpr double kNearestM = 0.05, kFarthestM = 3.0;  // of the eye from its target
constexpr double kMmPerM = 1000.0;

Vec3 sight(const CameraPose& pose) {
    const Vec3 right = glm::cross(pose.up, pose.front);
    return std::cos(pose.elevation_rad) *
               (std::sin(pose.azimuth_rad) * right + std::cos(pose.azimuth_rad) * pose.front) +
           std::sin(pose.elevation_rad) * pose.up;
}

double smooth(double t) { return t * t * (3.0 - 2.0 * t); }

/// The short way round.
double turn_between(double from_rad, double to_rad, double t) {
    const double turn = std::remainder(to_rad - from_rad, 2.0 * sim::kPi);
    return from_rad + t * turn;
}

CameraPose between(const CameraPose& a, const CameraPose& b, double t) {
    CameraPose out = b;  // up and front are the same
    out.target_m = glm::mix(a.target_m, b.target_m, t);
    out.azimuth_rad = turn_between(a.azimuth_rad, b.azimuth_rad, t);
    out.elevation_rad = glm::mix(a.elevation_rad, b.elevation_rad, t);
    out.roll_rad = turn_between(a.roll_rad, b.roll_rad, t);
    out.distance_m = glm::mix(a.distance_m, b.distance_m, t);
    return out;
}

}  // namespace

void Camera::place(const CameraPose& pose) {
    pose_ = pose;
    move_s_ = -1.0;
}

void Camera::glide_to(const CameraPose& pose) {
    from_ = seen_from(pose);
    to_ = pose;
    move_s_ = 0.0;
}

/// The same picture, its angles told by the directions of another pose.
CameraPose Camera::seen_from(const CameraPose& other) const {
    CameraPose out = pose_;
    out.up = other.up;
    out.front = other.front;
    const Vec3 to_eye = sight(pose_), level = glm::normalize(glm::cross(out.up, to_eye));
    out.elevation_rad = std::asin(std::clamp(glm::dot(to_eye, out.up), -1.0, 1.0));
    out.azimuth_rad = std::atan2(glm::dot(to_eye, glm::cross(out.up, out.front)), glm::dot(to_eye, out.front));
    out.roll_rad = std::atan2(-glm::dot(right(), glm::cross(to_eye, level)), glm::dot(right(), level));
    return out;
}

bool Camera::tick(double elapsed_s) {
    if (move_s_ < 0.0) return false;
    move_s_ += elapsed_s;
    const double t = std::min(1.0, move_s_ / kMoveS);
    pose_ = between(from_, to_, smooth(t));
    if (t >= 1.0) move_s_ = -1.0;
    return true;
}

CameraPose turned(CameraPose pose, double rad) {
    const double c = std::cos(rad), s = std::sin(rad);
    for (Vec3* v : {&pose.up, &pose.front}) *v = {c * v->x + s * v->z, v->y, c * v->z - s * v->x};
    return pose;
}

void Camera::turn_under(double turn_rad) {
    for (CameraPose* pose : {&pose_, &from_, &to_}) *pose = turned(*pose, -turn_rad);
}

void Camera::orbit(double azimuth_rad, double elevation_rad) {
    move_s_ = -1.0;
    // what is dragged follows the hand also when the picture is rolled
    const double c = std::cos(pose_.roll_rad), s = std::sin(pose_.roll_rad);
    pose_.azimuth_rad += c * azimuth_rad - s * elevation_rad;
    pose_.elevation_rad =
        std::clamp(pose_.elevation_rad + s * azimuth_rad + c * elevation_rad, -kMaxElevationRad, kMaxElevationRad);
}

void Camera::zoom(double factor) {
    move_s_ = -1.0;
    pose_.distance_m = std::clamp(pose_.distance_m / factor, kNearestM, kFarthestM);
}

void Camera::pan(double right_share, double up_share) {
    move_s_ = -1.0;
    const double height_m = height_at_target_m();
    pose_.target_m -= height_m * (right_share * right() + up_share * above());
}

Vec3 Camera::eye_m() const { return pose_.target_m + pose_.distance_m * sight(pose_); }

Vec3 Camera::right() const {
    const Vec3 level = glm::normalize(glm::cross(pose_.up, sight(pose_)));
    const Vec3 upright = glm::cross(sight(pose_), level);
    return std::cos(pose_.roll_rad) * level - std::sin(pose_.roll_rad) * upright;
}

Vec3 Camera::above() const { return glm::cross(sight(pose_), right()); }

double Camera::height_at_target_m() const { return 2.0 * pose_.distance_m * std::tan(0.5 * kFieldOfViewRad); }

glm::dmat4 Camera::view_projection_mm(double aspect) const {
    const double distance_mm = pose_.distance_m * kMmPerM;
    return glm::perspective(kFieldOfViewRad, aspect, std::max(5.0, distance_mm - 500.0), distance_mm + 900.0) *
           glm::lookAt(eye_m() * kMmPerM, pose_.target_m * kMmPerM, above());
}

Ray Camera::ray(double x, double y, double aspect) const {
    const double half = std::tan(0.5 * kFieldOfViewRad);
    return {eye_m(), glm::normalize(-sight(pose_) + half * (aspect * x * right() + y * above()))};
}

std::optional<glm::dvec2> Camera::project(const Vec3& p_m, double aspect) const {
    const Vec3 from_eye = p_m - eye_m();
    const double away = -glm::dot(from_eye, sight(pose_));
    if (!(away > 1e-3)) return std::nullopt;
    const double half = away * std::tan(0.5 * kFieldOfViewRad);
    return glm::dvec2(glm::dot(from_eye, right()) / (half * aspect), glm::dot(from_eye, above()) / half);
}

CameraPose framing(const CameraPose& like, std::span<const Vec3> points_m, double aspect, double air) {
    CameraPose out = like;
    if (points_m.empty()) return out;
    const Camera camera(like);
    glm::dvec2 low(1e9), high(-1e9);
    for (const Vec3& p : points_m) {
        const glm::dvec2 flat(glm::dot(p, camera.right()), glm::dot(p, camera.above()));
        low = glm::min(low, flat);
        high = glm::max(high, flat);
    }
    Vec3 centre{};
    for (const Vec3& p : points_m) centre += p / static_cast<double>(points_m.size());
    const glm::dvec2 middle = 0.5 * (low + high);
    out.target_m = centre + camera.right() * (middle.x - glm::dot(centre, camera.right())) +
                   camera.above() * (middle.y - glm::dot(centre, camera.above()));
    const double height_m = air * std::max(high.y - low.y, (high.x - low.x) / aspect);
    out.distance_m =
        std::clamp(height_m / (2.0 * std::tan(0.5 * Camera::kFieldOfViewRad)), kNearestM * 2.0, kFarthestM);
    return out;
}

}  // namespace view
