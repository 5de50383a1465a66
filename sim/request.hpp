#pragma once

#include <array>
#include <cstdint>

#include "sim/anatomy/anatomy.hpp"

/// Slow questions that a step asks of the tissue, answered outside the step by a pure function of the request.
///
/// Live, a worker answers ahead; headless, the session answers inline; a replay reads the recorded answer. A step that
/// is due an answer does not run before it has it, so when an answer arrives never changes what is computed.

namespace sim {

/// How the tissue around one place along a track gives way.
struct Request {
    std::uint64_t key = 0;       ///< sequence number within the attempt
    std::int64_t due_step = 0;   ///< the step that reads the answer
    int track = 0, station = 0;  ///< which station of which track asks
    double depth_m = 0.0;        ///< of the shaft's axis there
    std::array<double, kTissueLayers> bottom_m{};
    double shaft_radius_m = 0.0;
    friend bool operator==(const Request&, const Request&) = default;
};

/// Values are of single precision, so that the record of an attempt keeps them whole in few digits.
struct Answer {
    std::uint64_t key = 0;
    double normal_stiffness_pa = 0.0;     ///< lateral force per length of shaft per displacement, across the layers
    double tangent_stiffness_pa = 0.0;    ///< the same along the layers
    double tent_per_force_m_per_n = 0.0;  ///< rise of the skin right above for 1 N of outward force at this depth
    double tent_width_m = 0.0;            ///< full width of that rise at half its height
    friend bool operator==(const Answer&, const Answer&) = default;
};

/// The tissue's answer, in closed form until the finite-element tissue lands. Pure: same request, same bits.
///
/// @throws InputError when the request is not within the range in which the closed form is trusted
[[nodiscard]] Answer answer(const Request& request);

}  // namespace sim
