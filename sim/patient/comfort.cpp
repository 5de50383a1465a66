#include "sim/patient/comfort.hpp"

#include <algorithm>
#include <array>

namespace sim {

double jab_pain(double outer_m) {
    constexpr double kFineM = 0.31 * kMm, kThickM = 1.27 * kMm;  // 30 and 18 G
    const double share = std::clamp((outer_m - kFineM) / (kThickM - kFineM), 0.0, 1.5);
    return 2.0 + 4.0 * share;
}

double travel_pain_per_m(Layer layer) {
    // at 5 mm/s, felt whole: 3 in fat, 6 in fascia, 10 at the floor
    static constexpr std::array<double, 7> kPerM{0.0, 300.0, 150.0, 300.0, 150.0, 250.0, 500.0};
    return kPerM[static_cast<std::size_t>(layer)];
}

}  // namespace sim
