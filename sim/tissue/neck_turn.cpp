#include "sim/tissue/neck_turn.hpp"

#include <algorithm>
#include <cmath>

#include "sim/anatomy/head.hpp"

namespace sim::fe {

Vec3 about_vertical(const Vec3& v, double rad) {
    const double c = std::cos(rad), s = std::sin(rad);
    return {c * v.x + s * v.z, v.y, c * v.z - s * v.x};
}

double TurningNeck::share(double y_m) const {
    const double t = std::clamp((top_m - y_m) / (top_m - bottom_m), 0.0, 1.0);
    return t * t * (3.0 - 2.0 * t);
}

TurningNeck turning_neck(const HeadTissue& tissue) {
    constexpr double kNeckM = 120.0 * kMm;  // chin to trunk; assumed
    const BonyPoints& bone = tissue.bony_points();
    const Vec3 between = 0.5 * (bone.side(Side::left).ear_canal_m + bone.side(Side::right).ear_canal_m);
    return {bone.menton_m.y, bone.menton_m.y - kNeckM, between};
}

}  // namespace sim::fe
