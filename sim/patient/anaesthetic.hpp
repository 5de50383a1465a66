#pragma once

#include <span>
#include <vector>

#include "sim/core/vec.hpp"
#include "sim/patient/visit_spec.hpp"

/// Local anaesthetic where it was put: how numb a place is, how much fluid lies there, how much was given.
///
/// A depot is a ball of fluid in tissue that takes up a third of its volume; it numbs what it reaches and a rim about
/// it. Onset: pooled mean 2.1 min (0.4 to 9), systematic review of 24 studies, BJS Open 2023, 7:zrad089. Duration
/// plain 60 to 90 min, with adrenaline 90 to 200 min (dermatology texts, second hand). Ball, rim and the course
/// between those times are assumed.

namespace sim {

struct Depot {
    Vec3 place_m{};
    double volume_ml = 0.0;
    double at_s = 0.0;  ///< patient's time
};

struct Anaesthetic {
    std::vector<Depot> depots;
    double given_ml = 0.0;
};

/// Put in fluid; close to the last depot, and soon after it, it becomes part of it.
void inject(Anaesthetic& anaesthetic, const Vec3& place_m, double volume_ml, double now_s);

/// Radius of the ball that a volume fills.
[[nodiscard]] double depot_radius_m(double volume_ml);

/// 0: feels all; 1: feels nothing.
[[nodiscard]] double numbness(const Anaesthetic& anaesthetic, const AnaestheticSpec& spec, const Vec3& place_m,
                              double now_s);

/// Share of the tissue's volume that is injected fluid at a place, 0 to a third; taken up by the body with a time
/// constant of 20 min (assumed).
[[nodiscard]] double fluid_share(const Anaesthetic& anaesthetic, const Vec3& place_m, double now_s);

}  // namespace sim
