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

std::string_view name_of(Laxity laxity) {
    constexpr std::string_view kNames[] = {"young", "middle", "lax"};
    return kNames[static_cast<std::size_t>(laxity)];
}

TissueParameters parameters_for(Laxity laxity) {
    TissueParameters p;
    switch (laxity) {
        case Laxity::young:
            p.deep_fat_pa = 1.2e3;
            p.glide_pa_per_m = 20e3;
            p.held_pa_per_m = 200e3;
            p.edge_share = 0.1;
            p.slack_radius_m = 0.5 * kMm;
            p.septum_n_per_m = 500.0;
            break;
        case Laxity::middle:
            p.held_above_arch_m = 8.0 * kMm;
            p.held_behind_canal_m = 10.0 * kMm;
            p.slack_radius_m = 2.0 * kMm;
            break;
        case Laxity::lax:
            p.deep_fat_pa = 0.8e3;
            p.glide_pa_per_m = 0.5e3;
            p.held_pa_per_m = 10e3;
            p.held_above_arch_m = 15.0 * kMm;
            p.held_behind_canal_m = 20.0 * kMm;
            p.slack_radius_m = 5.0 * kMm;
            p.septum_n_per_m = 200.0;
            break;
    }
    return p;
}

Laxity laxity_class(double laxity) {
    if (laxity < 0.3) return Laxity::young;
    return laxity < 0.5 ? Laxity::middle : Laxity::lax;
}

void validate(const TissueParameters& p) {
    struct Field {
        const char* name;
        double value, low, high;
    };
    const double huge = std::numeric_limits<double>::max();
    const Field positive[] = {{"skin_pa", p.skin_pa, 0, huge},
                              {"fat_pa", p.fat_pa, 0, huge},
                              {"smas_pa", p.smas_pa, 0, huge},
                              {"deep_fat_pa", p.deep_fat_pa, 0, huge},
                              {"muscle_pa", p.muscle_pa, 0, huge},
                              {"glide_pa_per_m", p.glide_pa_per_m, 0, huge},
                              {"held_pa_per_m", p.held_pa_per_m, 0, huge},
                              {"septum_n_per_m", p.septum_n_per_m, 0, huge},
                              {"ligament_n_per_m", p.ligament_n_per_m, 0, huge},
                              {"string_spacing_m", p.string_spacing_m, 5e-3, 50e-3}};
    for (const Field& f : positive)
        if (!(f.value > f.low && f.value <= f.high)) throw InputError(std::string("tissue.") + f.name, f.value, "> 0");
    for (const Field& f : {Field{"poisson", p.poisson, 0.0, 0.4999},
                           {"glide_poisson", p.glide_poisson, 0.0, 0.4999},
                           {"skin_tension_pa", p.skin_tension_pa, 0.0, 200e3},
                           {"edge_share", p.edge_share, 0.0, 1e4},
                           {"slack_radius_m", p.slack_radius_m, 0.0, 30e-3},
                           {"slack_cv", p.slack_cv, 0.0, 2.0},
                           {"string_tension_n", p.string_tension_n, 0.0, 1.0}})
        if (!(f.value >= f.low && f.value <= f.high))
            throw InputError(std::string("tissue.") + f.name, f.value, "in its range, see material.hpp");
}

}  // namespace sim::fe
