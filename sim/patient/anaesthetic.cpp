#include "sim/patient/anaesthetic.hpp"

#include <algorithm>
#include <cmath>

namespace sim {

namespace {

constexpr double kM3PerMl = 1e-6;
constexpr double kTakesUp = 1.0 / 3.0;     // of its volume, tissue takes up as fluid; assumed
constexpr double kRimM = 5.0 * kMm;        // beyond the ball, over which numbness fades; assumed
constexpr double kSameDepotM = 1.5 * kMm;  // a needle that moved less goes on filling the same ball
constexpr double kSameDepotS = 10.0;
constexpr double kOnsetS = 2.1 * 60.0;      // BJS Open 2023, 7:zrad089: pooled mean
constexpr double kAbsorbedS = 20.0 * 60.0;  // assumed

double onset(double age_s) {
    if (!(age_s > 0.0)) return 0.0;
    // nine tenths at the pooled mean; assumed
    const double x = age_s / kOnsetS;
    return 1.0 - std::exp(-std::log(10.0) * x * x);
}

double still(double age_s, bool adrenaline) {
    const double from_s = (adrenaline ? 90.0 : 60.0) * 60.0, to_s = (adrenaline ? 200.0 : 90.0) * 60.0;
    return std::clamp((to_s - age_s) / (to_s - from_s), 0.0, 1.0);
}

}  // namespace

void inject(Anaesthetic& anaesthetic, const Vec3& place_m, double volume_ml, double now_s) {
    anaesthetic.given_ml += volume_ml;
    if (!anaesthetic.depots.empty()) {
        Depot& last = anaesthetic.depots.back();
        if (glm::length(last.place_m - place_m) < kSameDepotM && now_s - last.at_s < kSameDepotS) {
            last.volume_ml += volume_ml;
            return;
        }
    }
    anaesthetic.depots.push_back({place_m, volume_ml, now_s});
}

double depot_radius_m(double volume_ml) { return std::cbrt(3.0 * volume_ml * kM3PerMl / (4.0 * kPi * kTakesUp)); }

double numbness(const Anaesthetic& anaesthetic, const AnaestheticSpec& spec, const Vec3& place_m, double now_s) {
    double feels = 1.0;
    for (const Depot& depot : anaesthetic.depots) {
        const double beyond_m = glm::length(place_m - depot.place_m) - depot_radius_m(depot.volume_ml);
        const double reached = std::clamp(1.0 - beyond_m / kRimM, 0.0, 1.0);
        const double age_s = now_s - depot.at_s;
        feels *= 1.0 - reached * onset(age_s) * still(age_s, spec.adrenaline);
    }
    return 1.0 - feels;
}

double fluid_share(const Anaesthetic& anaesthetic, const Vec3& place_m, double now_s) {
    double share = 0.0;
    for (const Depot& depot : anaesthetic.depots) {
        if (glm::length(place_m - depot.place_m) > depot_radius_m(depot.volume_ml)) continue;
        share += kTakesUp * std::exp(-std::max(0.0, now_s - depot.at_s) / kAbsorbedS);
    }
    return std::min(kTakesUp, share);  // where depots overlap they spread further, and tissue holds no more
}

}  // namespace sim
