#include "sim/tissue/closed_form.hpp"

#include <cmath>

#include "sim/core/errors.hpp"

namespace sim {

double kelvin_along(double load_n, double shear_pa, double poisson, double along_m, double across_m) {
    const double r = std::hypot(along_m, across_m);
    SIM_ASSERT(r > 0.0);
    return load_n / (16.0 * kPi * shear_pa * (1.0 - poisson) * r) * (3.0 - 4.0 * poisson + along_m * along_m / (r * r));
}

double kelvin_across(double load_n, double shear_pa, double poisson, double along_m, double across_m) {
    const double r = std::hypot(along_m, across_m);
    SIM_ASSERT(r > 0.0);
    return load_n / (16.0 * kPi * shear_pa * (1.0 - poisson) * r) * (along_m * across_m / (r * r));
}

double boussinesq_normal(double load_n, double shear_pa, double poisson, double depth_m, double radius_m) {
    const double r = std::hypot(depth_m, radius_m);
    SIM_ASSERT(r > 0.0);
    return load_n / (4.0 * kPi * shear_pa * r) * (2.0 * (1.0 - poisson) + depth_m * depth_m / (r * r));
}

double mindlin_normal(double load_n, double shear_pa, double poisson, double load_depth_m, double depth_m,
                      double radius_m) {
    const double c = load_depth_m;
    const double z = depth_m;
    const double r1 = std::hypot(radius_m, z - c);  // to the load
    const double r2 = std::hypot(radius_m, z + c);  // to its mirror image above the surface
    SIM_ASSERT(r1 > 0.0 && r2 > 0.0);
    const double k = 3.0 - 4.0 * poisson;
    const double far = 8.0 * (1.0 - poisson) * (1.0 - poisson) - k;
    const double sum = k / r1 + far / r2 + (z - c) * (z - c) / (r1 * r1 * r1) +
                       (k * (z + c) * (z + c) - 2.0 * c * z) / (r2 * r2 * r2) +
                       6.0 * c * z * (z + c) * (z + c) / (r2 * r2 * r2 * r2 * r2);
    return load_n / (16.0 * kPi * shear_pa * (1.0 - poisson)) * sum;
}

double tent_width_m(double poisson, double load_depth_m) {
    SIM_ASSERT(load_depth_m > 0.0);
    const auto rise = [poisson](double rho) {  // at radius rho depths
        const double r = std::hypot(1.0, rho);
        return 2.0 * (1.0 - poisson) / r + 1.0 / (r * r * r);
    };
    const double half = 0.5 * rise(0.0);
    double low = 0.0;
    double high = 4.0;  // rise(4) is below a quarter of rise(0) for any nu in [0, 0.5]
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        (rise(middle) > half ? low : high) = middle;
    }
    return (low + high) * load_depth_m;
}

}  // namespace sim
