#include "sim/anatomy/landmarks.hpp"

#include <cmath>
#include <vector>

#include "sim/anatomy/head.hpp"

namespace sim {

namespace {

/// The notch is a bony point; its landmark is the skin that lies over it.
void move_to_bone(const HeadTissue& tissue, Landmark& landmark) {
    const Vec3 bone = tissue.bony_points().side(landmark.side).antegonial_notch_m;
    landmark.skin = tissue.nearest_skin(bone);
    landmark.bottom_m = tissue.layers_at(landmark.skin.position_m).bottom_m;
    landmark.depth_m = soft_tissue_depth_m(tissue, landmark.skin).value_or(landmark.bottom_m.back());
}

}  // namespace

std::vector<Landmark> place_landmarks(const HeadTissue& tissue) {
    std::vector<Landmark> out = depth_landmarks(tissue);
    // the tissue ends below the vertex: what lies outside it has no depth to tell
    constexpr double kOffSkinM = 1.0 * kMm;
    std::erase_if(out, [&](const Landmark& landmark) {
        return !(std::abs(tissue.depth_m(landmark.skin.position_m)) < kOffSkinM);
    });
    for (Landmark& landmark : out)
        if (landmark.name == "antegonial notch") move_to_bone(tissue, landmark);
    return out;
}

}  // namespace sim
