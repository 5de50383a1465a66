#include "sim/tissue/material.hpp"

#include <limits>
#include <string>

#include "sim/core/errors.hpp"

namespace sim::fe {

void validate(const Elastic& material, std::string_view place) {
    // the upper bound refuses infinity: a rigid body is no tissue
    if (!(material.youngs_pa > 0.0 && material.youngs_pa <= std::numeric_limits<double>::max()))
        throw InputError(std::string(place) + ".youngs_pa", material.youngs_pa, "> 0");
    if (!(material.poisson > -1.0 && material.poisson < 0.5))
        throw InputError(std::string(place) + ".poisson", material.poisson, "> -1 and < 0.5");
}

}  // namespace sim::fe
