#include "sim/anatomy/skin_parts.hpp"

/// The outer ear, in its own frame: u backwards along it, v up its long axis, w outwards. Figures drawn by eye
/// (assumed).

namespace sim::skin {
namespace {

constexpr glm::vec3 kRootMm{63.5f, 2.0f, -4.0f};
constexpr float kTiltRad = 0.22f;   ///< of the long axis, backwards
constexpr float kFlareRad = 0.42f;  ///< of the plate, away from the head

// Beyond this sphere the ear is replaced by the sphere's own distance, a lower bound that keeps far queries cheap.
constexpr glm::vec3 kBoundCentreMm{73.0f, 4.0f, -17.0f};
constexpr float kBoundRadiusMm = 38.0f;
constexpr float kBoundMarginMm = 34.0f;  ///< wider than any reach of shading or blending
constexpr float kOutOfReachMm = 8.0f;    ///< an ear this much farther than the rest of the head does not change it

const Tube kHelix{{{6, 2, 1},
                   {3.5f, 8, 2.5f},
                   {2.5f, 16, 3},
                   {5, 24, 3},
                   {11, 29.5f, 3},
                   {18.5f, 30, 3},
                   {25, 25.5f, 3},
                   {28.5f, 17, 3},
                   {28.5f, 7, 2.4f},
                   {26, -3, 1.4f},
                   {21.5f, -12, 0.6f},
                   {15.5f, -19, 0.2f}},
                  // nowhere thinner than a cell and a half of the coarsest mesh: a thinner rim comes out ragged
                  {1.9f, 2.2f, 2.4f, 2.5f, 2.6f, 2.6f, 2.6f, 2.6f, 2.6f, 2.7f, 2.8f, 2.9f}};
const Tube kAntihelix{
    {{11, 20, 0.8f}, {16, 14, 1.6f}, {19.5f, 7, 2}, {20, -1, 2}, {17, -8.5f, 1.8f}, {12, -13, 1.8f}, {8.5f, -13.5f, 2}},
    {2.0f, 2.3f, 2.5f, 2.4f, 2.2f, 2.2f, 2.2f}};
const Tube kUpperCrus{{{20, 23, 0.6f}, {18, 15, 1.4f}}, {1.8f, 2.2f}};

struct EarFrame {
    glm::vec3 u, v, w;
};

EarFrame ear_frame() {
    EarFrame f;
    f.v = glm::normalize(glm::vec3(0.10f, std::cos(kTiltRad), -std::sin(kTiltRad)));
    const glm::vec3 back(0.0f, -std::sin(kTiltRad), -std::cos(kTiltRad));
    f.u = back * std::cos(kFlareRad) + glm::vec3(1, 0, 0) * std::sin(kFlareRad);
    f.u = glm::normalize(f.u - f.v * glm::dot(f.u, f.v));
    f.w = glm::cross(f.v, f.u);
    if (f.w.x < 0.0f) f.w = -f.w;
    return f;
}

const EarFrame kFrame = ear_frame();

}  // namespace

float with_ear(float d, const glm::vec3& q) {
    const float outside_bound = glm::length(q - kBoundCentreMm) - kBoundRadiusMm;
    if (outside_bound > kBoundMarginMm) return std::min(d, outside_bound);
    if (outside_bound > d + kOutOfReachMm) return d;
    const glm::vec3 from_root = q - kRootMm;
    const glm::vec3 e(glm::dot(from_root, kFrame.u), glm::dot(from_root, kFrame.v), glm::dot(from_root, kFrame.w));
    float ear = ellipsoid(e, {14.5f, 6, -0.8f}, {16.5f, 27, 3.4f});
    ear = join(ear, kHelix.distance(e), 2.5f);
    ear = join(ear, kAntihelix.distance(e), 3);
    ear = join(ear, kUpperCrus.distance(e), 3);
    ear = join(ear, ellipsoid(e, {9.5f, -21.5f, 0.2f}, {7.4f, 8, 4.0f}), 5);   // lobule
    ear = carve(ear, ellipsoid(e, {9.5f, -1.5f, 3}, {7.8f, 11, 7.6f}), 2.5f);  // concha
    ear = join(ear, ellipsoid(e, {12.5f, 2, -5.2f}, {15, 24, 2.4f}), 2);       // its back wall
    ear = join(ear, ellipsoid(e, {1, -3, 1.6f}, {3, 5, 2}), 4);                // tragus
    d = join(d, ear, 4);
    d = join(d, ellipsoid(e, {9, 2, -6}, {8, 20, 6}), 5);         // where it stands on the head
    return join(d, ellipsoid(e, {6, -18, -4}, {6, 8, 4.5f}), 4);  // where the lobule hangs on it: no slit behind it
}

}  // namespace sim::skin
