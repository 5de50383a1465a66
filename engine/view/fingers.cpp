#define GLM_ENABLE_EXPERIMENTAL  // glm/gtx/spline
#include "engine/view/fingers.hpp"

#include <algorithm>
#include <array>
#include <glm/gtx/spline.hpp>

#include "engine/view/shapes.hpp"

namespace view {

namespace {

// of an adult's index finger in a glove; assumed
constexpr double kTipRadiusM = 6.0 * sim::kMm;
constexpr std::array<double, 4> kRadiusM{kTipRadiusM, 7.0 * sim::kMm, 7.8 * sim::kMm, 9.0 * sim::kMm};
constexpr std::array<double, 3> kPartM{22.0 * sim::kMm, 24.0 * sim::kMm, 40.0 * sim::kMm};
constexpr double kBend = 0.45;
constexpr double kPadSinksM = 1.5 * sim::kMm;  // a pad that acts is pressed flat
constexpr double kHoverM = 5.0 * sim::kMm;
constexpr double kSteep = 0.5;  // of the finger's first part against the skin
constexpr int kSteps = 6, kSides = 24;
const Finish kGlove{linear(0x7d9db3), 0.08f};

}  // namespace

std::vector<Finger> fingers_of(sim::Grip grip, const std::vector<sim::SkinPoint>& pads, const sim::Vec3& along,
                               bool acts) {
    std::vector<Finger> out;
    const sim::Vec3 up(0, 1, 0);
    for (std::size_t i = 0; i < pads.size(); ++i) {
        const sim::Vec3& n = pads[i].normal;
        // a pushing finger trails behind its way, two fingers stand away from each other, one comes from above
        sim::Vec3 side = grip == sim::Grip::push ? -along
                         : pads.size() == 2      ? pads[i].position_m - pads[1 - i].position_m
                                                 : up;
        side -= n * glm::dot(side, n);
        side = glm::length(side) > 1e-6 ? glm::normalize(side) : glm::normalize(glm::cross(n, sim::Vec3(1, 0, 0)));
        out.push_back({pads[i], glm::normalize(kSteep * n + (1.0 - kSteep) * side), acts ? 0.0 : kHoverM});
    }
    return out;
}

void append_finger(ObjectMesh& mesh, const Finger& finger) {
    const sim::Vec3 n = finger.at.normal;
    const double pad_m = finger.off_m > 0.0 ? finger.off_m : -kPadSinksM;
    // three parts, each steeper than the one before: a finger bends towards its pad
    std::array<sim::Vec3, 4> joint{};
    joint[0] = finger.at.position_m + n * (kTipRadiusM + pad_m);
    for (std::size_t i = 1; i < joint.size(); ++i)
        joint[i] = joint[i - 1] + kPartM[i - 1] * glm::normalize(finger.from + kBend * static_cast<double>(i - 1) * n);
    std::vector<sim::Vec3> line;
    std::vector<double> radius;
    for (std::size_t i = 0; i + 1 < joint.size(); ++i)
        for (int k = 0; k < kSteps; ++k) {
            const double t = static_cast<double>(k) / kSteps;
            const sim::Vec3 &before = joint[i > 0 ? i - 1 : 0], &after = joint[std::min(i + 2, joint.size() - 1)];
            line.push_back(glm::catmullRom(before, joint[i], joint[i + 1], after, t));
            radius.push_back(glm::mix(kRadiusM[i], kRadiusM[i + 1], t));
        }
    line.push_back(joint.back());
    radius.push_back(kRadiusM.back());
    append_tube(mesh, line, radius, kGlove, kSides);
}

}  // namespace view
