#include <algorithm>
#include <array>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/request.hpp"
#include "sim/tissue/closed_form.hpp"

namespace sim {

namespace {

/// Shear moduli of skin, superficial fat, SMAS or platysma, deep fat, muscle. Small strain, from memory and wide:
/// skin 10 to 100 kPa, fat 0.5 to 1.5, SMAS 10 to 40, muscle 2 to 7.
constexpr std::array<double, kTissueLayers> kShearPa{30e3, 1.0e3, 15e3, 1.0e3, 4e3};
constexpr double kLeastDepthM = 0.5 * kMm;

/// Shear modulus that a line load at this depth feels: along the way to the floor each ring of tissue gives in
/// proportion to ln(outer / inner) / G, so that the rings act like springs in series.
double ring_average_pa(double depth_m, double radius_m, const std::array<double, kTissueLayers>& bottom_m) {
    double give = 0.0;
    double inner_m = radius_m;
    for (std::size_t i = 0; i < bottom_m.size(); ++i) {
        const double outer_m = bottom_m[i] - depth_m;
        if (outer_m <= inner_m) continue;
        give += std::log(outer_m / inner_m) / kShearPa[i];
        inner_m = outer_m;
    }
    if (give <= 0.0) return kShearPa.back();  // at the floor
    return std::log(inner_m / radius_m) / give;
}

}  // namespace

Answer answer(const Request& request) {
    if (!(request.depth_m > -0.05 && request.depth_m < 0.2))
        throw InputError("request.depth_m", request.depth_m, "-0.05 to 0.2");
    if (!(request.shaft_radius_m > 0.0 && request.shaft_radius_m < 2.0 * kMm))
        throw InputError("request.shaft_radius_m", request.shaft_radius_m, "> 0 and < 0.002");
    const double depth_m = std::max(request.depth_m, kLeastDepthM);
    const double radius_m = request.shaft_radius_m;
    const double shear_pa = ring_average_pa(depth_m, radius_m, request.bottom_m);

    // Kelvin's line load: u = q / (8 pi G (1 - nu)) (3 - 4 nu) ln(far / near), held at the floor or as far below it as
    // the shaft lies under the skin, whichever is nearer
    const double far_m = std::max(request.bottom_m.back() - depth_m, 2.0 * radius_m);
    const double line_pa =
        8.0 * kPi * shear_pa * (1.0 - kLumpedPoisson) / ((3.0 - 4.0 * kLumpedPoisson) * std::log(far_m / radius_m));

    // of single precision, as the record of an attempt keeps it
    const auto single = [](double value) { return static_cast<double>(static_cast<float>(value)); };
    Answer out;
    out.key = request.key;
    out.normal_stiffness_pa = single(line_pa);
    // along the layers the glide of fat on fascia lets the shaft go about as easily; the line load is isotropic
    out.tangent_stiffness_pa = single(line_pa);

    // Mindlin's rise of the surface over a load at this depth, in the face's soft tissue taken as one body
    const double cover_m = std::max(depth_m, kCouplingM);
    out.tent_per_force_m_per_n = single(mindlin_normal(1.0, kLumpedShearPa, kLumpedPoisson, cover_m, 0.0, 0.0));
    out.tent_width_m = single(tent_width_m(kLumpedPoisson, cover_m));
    return out;
}

}  // namespace sim
