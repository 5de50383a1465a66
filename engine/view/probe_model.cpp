#include "engine/view/probe_model.hpp"

#include <array>
#include <cmath>
#include <glm/glm.hpp>

#include "engine/view/shapes.hpp"

namespace view {

namespace {

constexpr int kSides = 36;

/// A rounded rectangle across the probe: half its length and breadth, how far out, mm. Sizes assumed, of a small probe.
struct Station {
    double out, length, breadth;
};

constexpr std::array<Station, 11> kStations{{{0.0, -0.2, 3.0},
                                             {0.4, 1.4, 4.6},
                                             {2.0, 2.4, 5.4},
                                             {14.0, 3.0, 6.5},
                                             {22.0, 1.0, 7.5},
                                             {32.0, -2.5, 8.6},
                                             {46.0, -3.5, 9.4},
                                             {70.0, -3.5, 9.4},
                                             {88.0, -5.0, 8.2},
                                             {94.0, -7.5, 5.6},
                                             {96.0, -9.5, 3.0}}};  // length over half the footprint

/// A corner of a super-ellipse, between a box and an ellipse.
double corner(double c) { return std::copysign(std::pow(std::fabs(c), 0.45), c); }

}  // namespace

void append_probe(ObjectMesh& mesh, const ProbePose& pose, double width_m) {
    using sim::kMm;
    const Vec3 out = -pose.inward, side = pose.across();
    const Finish shell{linear(0xd9dcd8), 0.25f}, face{linear(0x5c6670), 0.15f}, mark{linear(0x1f9e73), 0.2f};
    const Vec3 base = pose.at_m - out * pose.press_m;
    const auto place = [&](const Station& s, double angle, double grown_mm) {
        const double a = (500.0 * width_m + s.length + grown_mm) * kMm, b = (s.breadth + grown_mm) * kMm;
        return base + out * s.out * kMm + pose.along * a * corner(std::cos(angle)) + side * b * corner(std::sin(angle));
    };
    const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
    for (std::size_t i = 0; i < kStations.size(); ++i)
        for (int k = 0; k < kSides; ++k) {
            const double angle = 2.0 * sim::kPi * k / kSides;
            const Station &before = kStations[i > 0 ? i - 1 : 0],
                          &after = kStations[std::min(i + 1, kStations.size() - 1)];
            const Vec3 up = place(after, angle, 0.0) - place(before, angle, 0.0);
            const Vec3 round = place(kStations[i], angle + 0.1, 0.0) - place(kStations[i], angle - 0.1, 0.0);
            Vec3 normal = glm::cross(up, round);
            const Vec3 outwards = place(kStations[i], angle, 1.0) - place(kStations[i], angle, 0.0);
            normal = glm::length(normal) > 1e-12 ? glm::normalize(normal) : glm::normalize(outwards);
            if (glm::dot(normal, outwards) < 0.0) normal = -normal;
            const Finish& finish = i < 2 ? face : shell;
            mesh.vertices.push_back(
                {glm::vec3(place(kStations[i], angle, 0.0) / kMm), glm::vec3(normal), finish.colour, finish.gloss});
        }
    const auto ring = [&](std::size_t i, int k) {
        return first + static_cast<std::uint32_t>(i) * kSides + static_cast<std::uint32_t>(k % kSides);
    };
    // seen from outside corners run against the clock
    const bool turned = glm::dot(glm::cross(pose.along, side), out) > 0.0;
    for (std::size_t i = 0; i + 1 < kStations.size(); ++i)
        for (int k = 0; k < kSides; ++k) {
            const std::uint32_t a = ring(i, k), b = ring(i, k + 1), c = ring(i + 1, k), d = ring(i + 1, k + 1);
            for (const std::uint32_t corner_at : turned ? std::array{a, b, d, a, d, c} : std::array{a, d, b, a, c, d})
                mesh.triangles.push_back(corner_at);
        }
    // the cable, and the mark at the left
    const std::array<Vec3, 4> cable{base + out * 94.0 * kMm, base + out * 106.0 * kMm,
                                    base + out * 116.0 * kMm + side * 3.0 * kMm,
                                    base + out * 124.0 * kMm + side * 9.0 * kMm};
    append_tube(mesh, cable, std::array{4.0 * kMm, 3.2 * kMm, 2.6 * kMm, 2.4 * kMm}, {linear(0x3b4148), 0.1f});
    const Vec3 dot = place(kStations[3], sim::kPi, 0.2);
    append_tube(mesh, std::array{dot - out * 4.0 * kMm, dot + out * 4.0 * kMm}, std::array{1.1 * kMm, 1.1 * kMm}, mark);
}

}  // namespace view
