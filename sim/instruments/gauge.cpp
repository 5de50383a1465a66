#include "sim/instruments/gauge.hpp"

#include <array>

#include "sim/core/errors.hpp"
#include "sim/core/vec.hpp"

namespace sim {

double outer_diameter_m(int gauge) {
    // nominal outside diameters, 16 to 30 G, mm: general reference chart; within the limits of ISO 9626:2016 (from
    // memory)
    static constexpr std::array<double, 15> kOuterMm{1.651, 1.473, 1.270, 1.067, 0.908, 0.819, 0.718, 0.641,
                                                     0.565, 0.514, 0.464, 0.413, 0.362, 0.337, 0.311};
    SIM_ASSERT(gauge >= 16 && gauge <= 30);
    return kOuterMm[static_cast<std::size_t>(gauge - 16)] * kMm;
}

}  // namespace sim
