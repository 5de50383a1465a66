#pragma once

#include <string_view>

/// Linear elastic constants of one tissue. SI.

namespace sim::fe {

/// Isotropic and linear: trusted for strains of a few hundredths, used to about 0.3 (README.md says what that costs).
struct Elastic {
    double youngs_pa = 0.0;  ///< > 0
    double poisson = 0.45;   ///< > -1 and < 0.5

    [[nodiscard]] double shear_pa() const { return youngs_pa / (2.0 * (1.0 + poisson)); }
    [[nodiscard]] double lame_pa() const { return youngs_pa * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson)); }
    [[nodiscard]] double bulk_pa() const { return youngs_pa / (3.0 * (1.0 - 2.0 * poisson)); }

    friend bool operator==(const Elastic&, const Elastic&) = default;
};

/// @param place how to name the material in an error, "tissue.skin" for one
/// @throws InputError naming the constant outside its range
void validate(const Elastic& material, std::string_view place);

}  // namespace sim::fe
