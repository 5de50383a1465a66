#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/tissue/posture.hpp"

/// Displacements at the places that publications name, and the threads that a standard lift of the lower cheek takes.

namespace sim::fe {

struct PlaceMoved {
    std::string place;
    Side side = Side::midline;
    Vec3 at_m{}, moved_m{};
    [[nodiscard]] double lateral_m() const { return at_m.x < 0.0 ? -moved_m.x : moved_m.x; }
};

/// Commissure, gonion, jowl and each superficial compartment, both sides, and the mean and most of the lower third.
[[nodiscard]] std::vector<PlaceMoved> posture_read_outs(const Head& head, const TetheredBody& body,
                                                        const Settled& settled);

/// `count` parallel threads 12 mm apart from the jowl to before the ear, in the superficial fat.
/// @param count 1 to 8
[[nodiscard]] std::vector<ThreadPath> lifting_paths(const Head& head, const HexMesh& mesh, Side side, int count,
                                                    double pull_n);

/// Skin over the middle of a compartment or region: "jowl", "nasolabial compartment" ...
/// @pre the name is one that posture_read_outs() tells of
[[nodiscard]] Vec3 compartment_m(const Head& head, std::string_view name, Side side);

struct LiftMoved {
    double peak_m = 0.0;        ///< most that any place of the skin moved
    double jowl_along_m = 0.0;  ///< at the far end of the middle of the threads, along them
};
[[nodiscard]] LiftMoved lift_read_out(const TetheredBody& body, const Settled& settled,
                                      const std::vector<ThreadPath>& paths);

}  // namespace sim::fe
