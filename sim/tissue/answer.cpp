#include <algorithm>

#include "sim/core/errors.hpp"
#include "sim/request.hpp"

namespace sim {

Answer answer(const Request& request) {
    if (!(request.depth_m > -1.0 && request.depth_m < 1.0))
        throw InputError("request.depth_m", request.depth_m, "-1 to 1");
    // Subgrade reaction of a long beam in an elastic body, Vesic 1961: about 0.65 E / (1 - nu^2), E of the fat around
    // it
    constexpr double kFatPa = 3000.0;  // from memory, range 1 to 5 kPa
    constexpr double kPoisson = 0.45;
    Answer out;
    out.key = request.key;
    out.normal_stiffness_pa = 0.65 * kFatPa / (1.0 - kPoisson * kPoisson);
    out.tangent_stiffness_pa = out.normal_stiffness_pa;
    out.tent_width_m = 2.0 * std::max(request.depth_m, 1e-3);
    out.tent_per_force_m_per_n = (1.0 - kPoisson * kPoisson) / (kPi * 15'000.0 * out.tent_width_m);
    return out;
}

}  // namespace sim
