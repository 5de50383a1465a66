#include "sim/tissue/material.hpp"

#include <algorithm>
#include <iterator>
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
            p.deep_fat_pa = 250.0;
            p.held_deep_pa = 1000.0;
            p.glide_pa_per_m = 5e3;
            p.held_pa_per_m = 20e3;
            p.slack_radius_m = 1.0 * kMm;
            p.septum_n_per_m = 400.0;
            break;
        case Laxity::middle:
            p.deep_fat_pa = 130.0;
            p.held_deep_pa = 320.0;
            p.glide_pa_per_m = 2e3;
            p.held_pa_per_m = 8e3;
            p.slack_radius_m = 3.0 * kMm;
            p.septum_n_per_m = 300.0;
            break;
        case Laxity::lax:
            p.deep_fat_pa = 100.0;
            p.held_deep_pa = 220.0;
            p.glide_pa_per_m = 0.5e3;
            p.held_pa_per_m = 5e3;
            p.slack_radius_m = 8.0 * kMm;
            p.septum_n_per_m = 200.0;
            break;
    }
    return p;
}

Laxity laxity_class(double laxity) {
    if (laxity < 0.3) return Laxity::young;
    return laxity < 0.5 ? Laxity::middle : Laxity::lax;
}

std::string TissueField::accepted() const { return range_text(low, high); }

std::span<const TissueField> tissue_fields() {
    using P = TissueParameters;
    constexpr double kLeastPa = 10.0, kMostPa = 1e8;       // softer than any gel, stiffer than tendon
    constexpr double kLeastGlide = 1.0, kMostGlide = 1e9;  // Pa/m
    constexpr double kLeastDensity = 100.0, kMostDensity = 3000.0;
    static constexpr TissueField kFields[] = {{"poisson", &P::poisson, 0.0, 0.4999},
                                              {"skin_pa", &P::skin_pa, kLeastPa, kMostPa},
                                              {"skin_tension_pa", &P::skin_tension_pa, 0.0, 200e3},
                                              {"fat_pa", &P::fat_pa, kLeastPa, kMostPa},
                                              {"smas_pa", &P::smas_pa, kLeastPa, kMostPa},
                                              {"deep_fat_pa", &P::deep_fat_pa, kLeastPa, kMostPa},
                                              {"muscle_pa", &P::muscle_pa, kLeastPa, kMostPa},
                                              {"skin_kg_per_m3", &P::skin_kg_per_m3, kLeastDensity, kMostDensity},
                                              {"fat_kg_per_m3", &P::fat_kg_per_m3, kLeastDensity, kMostDensity},
                                              {"muscle_kg_per_m3", &P::muscle_kg_per_m3, kLeastDensity, kMostDensity},
                                              {"glide_pa_per_m", &P::glide_pa_per_m, kLeastGlide, kMostGlide},
                                              {"held_pa_per_m", &P::held_pa_per_m, kLeastGlide, kMostGlide},
                                              {"glide_bulk_pa", &P::glide_bulk_pa, 100.0, 1e8},
                                              {"held_deep_pa", &P::held_deep_pa, kLeastPa, kMostPa},
                                              {"edge_share", &P::edge_share, 0.0, 1e4},
                                              {"slack_radius_m", &P::slack_radius_m, 0.0, 30e-3},
                                              {"slack_cv", &P::slack_cv, 0.0, 2.0},
                                              {"ligament_slack_share", &P::ligament_slack_share, 0.0, 5.0},
                                              {"upper_slack_share", &P::upper_slack_share, 0.0, 5.0},
                                              {"septum_n_per_m", &P::septum_n_per_m, 1e-3, 1e6},
                                              {"ligament_n_per_m", &P::ligament_n_per_m, 1e-3, 1e6},
                                              {"string_tension_n", &P::string_tension_n, 0.0, 1.0},
                                              {"string_spacing_m", &P::string_spacing_m, 5e-3, 50e-3}};
    return kFields;
}

std::optional<TissueParameters> varied(const TissueParameters& parameters, const TissueField& field, double factor) {
    TissueParameters out = parameters;
    double& value = out.*field.member;
    if (field.member == &TissueParameters::poisson)
        value = 0.5 - 0.5 * factor * (1.0 - 2.0 * value);
    else
        value *= factor;
    if (value == parameters.*field.member || !field.accepts(value)) return std::nullopt;
    return out;
}

bool only_in_strings(const TissueField& field) {
    using P = TissueParameters;
    constexpr double P::*kMembers[] = {&P::slack_radius_m,    &P::slack_cv,       &P::ligament_slack_share,
                                       &P::upper_slack_share, &P::septum_n_per_m, &P::ligament_n_per_m,
                                       &P::string_tension_n};
    return std::find(std::begin(kMembers), std::end(kMembers), field.member) != std::end(kMembers);
}

void validate(const TissueParameters& p) {
    // written as "not accepted", so that what is not a number is refused too
    for (const TissueField& field : tissue_fields())
        if (!field.accepts(p.*field.member))
            throw InputError("tissue." + std::string(field.name), p.*field.member, field.accepted());
}

}  // namespace sim::fe
