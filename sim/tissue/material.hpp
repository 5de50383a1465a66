#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "sim/core/vec.hpp"

/// Linear elastic constants of one tissue, and the set of them that makes a face firm or lax. SI.

namespace sim::fe {

/// Isotropic and linear: trusted for strains of a few hundredths, used to about 0.3 (README.md says what that costs).
struct Elastic {
    double youngs_pa = 0.0;  ///< > 0
    double poisson = 0.45;   ///< > -1 and < 0.5

    [[nodiscard]] double shear_pa() const { return youngs_pa / (2.0 * (1.0 + poisson)); }
    [[nodiscard]] double lame_pa() const { return youngs_pa * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson)); }
    [[nodiscard]] double bulk_pa() const { return youngs_pa / (3.0 * (1.0 - 2.0 * poisson)); }

    /// The material of these two moduli, both > 0.
    [[nodiscard]] static Elastic of_shear_and_bulk(double shear_pa, double bulk_pa) {
        const double both = 3.0 * bulk_pa + shear_pa;
        return {9.0 * bulk_pa * shear_pa / both, 0.5 - 1.5 * shear_pa / both};
    }

    friend bool operator==(const Elastic&, const Elastic&) = default;
};

/// @param place how to name the material in an error, "tissue.skin" for one
/// @throws InputError naming the constant outside its range
void validate(const Elastic& material, std::string_view place);

/// Everything that the mechanics of one face hangs on. Defaults are those common to all laxities.
///
/// The three sets of parameters_for() were found together, posture and lift at once; README.md has what they reach.
struct TissueParameters {
    double poisson = 0.45;          ///< of all layers but the glide space; from memory, 0.45 to 0.49
    double skin_pa = 150e3;         ///< small strain; from memory, 50 to 500 kPa
    double skin_tension_pa = 29e3;  ///< Flynn, Taberner, Fels, Nielsen 2018: 7 kPa (lip) to 53 kPa (cheek)
    double fat_pa = 3e3;            ///< from memory, 1 to 5 kPa
    double smas_pa = 1e6;  ///< assumed: from memory 30 to 100 kPa at small strain, 2 to 10 MPa in tension tests
    double deep_fat_pa =
        1e3;  ///< fat: 1.6 +- 0.8 kPa, Alkhouli 2013; 0.12 kPa in vivo, Hendriks 2003; both from memory
    double muscle_pa = 10.67e3;        ///< masseter, Olchowy 2021, Int J Environ Res Public Health 18:9371
    double skin_kg_per_m3 = 1110.0;    ///< 1090 to 1150
    double fat_kg_per_m3 = 930.0;      ///< 901 to 950; Martin 1994
    double muscle_kg_per_m3 = 1048.0;  ///< 1047 to 1050; SMAS is given the same (assumed)

    double glide_pa_per_m = 2e3;   ///< shear stiffness of the glide space per thickness where it glides; assumed
    double held_pa_per_m = 30e3;   ///< the same where SMAS is bound: cheekbone, ear, parotid; assumed
    double glide_bulk_pa = 100e3;  ///< it shears, and is not squeezed out, however little it shears; assumed
    double held_deep_pa = 10e3;    ///< what lies there in place of deep fat: fascia, gland, ligament; assumed

    double edge_share = 0.05;      ///< of the stiffness of an endless sheet, at the mesh's rim; assumed
    double slack_radius_m = 2e-3;  ///< of the circle about its anchor on which SMAS hangs; laxity itself; assumed
    double slack_cv = 0.35;        ///< spread of that radius from string to string; assumed
    double ligament_slack_share = 0.6,
           upper_slack_share = 0.4;                            ///< of that radius: ligaments, above the mouth; assumed
    double septum_n_per_m = 300.0, ligament_n_per_m = 1000.0;  ///< stiffness of one string; assumed
    double string_tension_n = 0.0;                             ///< of each string upright; assumed
    double string_spacing_m = 14e-3;                           ///< of septa; assumed
    std::uint64_t seed = 1;                                    ///< of the strings' spread
};

enum class Laxity : std::uint8_t { young, middle, lax };
[[nodiscard]] std::string_view name_of(Laxity laxity);
[[nodiscard]] TissueParameters parameters_for(Laxity laxity);

/// Of a patient whose laxity (0 firm to 1 very lax, HeadParameters) is that: under 0.3 young, under 0.5 middle.
[[nodiscard]] Laxity laxity_class(double laxity);

/// One field of TissueParameters with what is accepted there, so that checks, commands and tests need no second list.
struct TissueField {
    std::string_view name;  ///< the member's name
    double TissueParameters::*member;
    double low, high;  ///< accepted, both ends included

    [[nodiscard]] bool accepts(double value) const { return value >= low && value <= high; }
    [[nodiscard]] std::string accepted() const;  ///< "10 to 1e+08"
};

/// Every field that is a number; seed is the one that is not, and takes any value. The ranges are wide: they refuse
/// what no tissue is, not what is unlikely (assumed).
[[nodiscard]] std::span<const TissueField> tissue_fields();

/// The parameters with one of them times a factor. Poisson's ratios near 0.5 are taken by what lets volume change,
/// 1 - 2 nu, since a ratio times two is no ratio.
/// @return nothing when that is outside the range, or the parameter is 0 and stays so
[[nodiscard]] std::optional<TissueParameters> varied(const TissueParameters& parameters, const TissueField& field,
                                                     double factor);

/// Whether the field acts through the strings' laws alone: body and fields (StringFields) stay as they are.
[[nodiscard]] bool only_in_strings(const TissueField& field);

/// @throws InputError naming the first parameter outside its range or not a number
void validate(const TissueParameters& parameters);

}  // namespace sim::fe
