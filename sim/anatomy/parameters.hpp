#pragma once

#include <cstdint>
#include <span>
#include <string_view>

/// What makes one patient's head differ from another's.

namespace sim {

/// Named shape, ageing and colour of an invented patient. Dimensionless unless the name ends in a unit. The default is
/// a woman in her thirties. Concerns may differ between the patient's left and right; across the midline they blend
/// over about a centimetre.
struct HeadParameters {
    double male = 0.0;  ///< 0 woman .. 1 man; in between is a smooth mixture
    double age_years = 34.0;

    double malar_fullness = 0.5;   ///< fat over the cheekbone
    double buccal_fullness = 0.5;  ///< cheek below it; 0 hollow
    double lip_fullness = 0.5;

    double laxity_left = 0.15, laxity_right = 0.15;          ///< 0 firm .. 1 very lax: descent of lid fold, cheek, neck
    double nasolabial_left = 0.25, nasolabial_right = 0.25;  ///< depth of the fold from the wing of the nose
    double marionette_left = 0.1, marionette_right = 0.1;    ///< depth of the fold below the corner of the mouth
    double jowl_left = 0.1, jowl_right = 0.1;                ///< fullness over the jaw line behind the chin
    double tear_trough_left = 0.2, tear_trough_right = 0.2;
    double submental_left = 0.15, submental_right = 0.15;  ///< fullness under the chin

    double asymmetry = 0.3;            ///< 0 exactly mirrored (if both sides are given alike) .. 1 plainly uneven
    std::uint64_t asymmetry_seed = 1;  ///< which unevenness

    double melanin = 0.10;  ///< optical density scale: about 0.06 very light, 0.35 medium, 0.8 dark
    double blood = 0.35;    ///< 0 pale .. 1 flushed
    double beard = 0.0;     ///< 0 none .. 1 dense shaved shadow

    [[nodiscard]] bool operator==(const HeadParameters&) const = default;
};

/// One field of HeadParameters with its accepted range, so that readers, screens and tests need no second list.
struct HeadParameterField {
    std::string_view name;  ///< the member's name and the key in a scenario
    double HeadParameters::*member;
    double low, high;  ///< accepted, both ends included
};

/// Every field that is a number; asymmetry_seed is the one that is not, and takes any value.
[[nodiscard]] std::span<const HeadParameterField> head_parameter_fields();

/// @throws InputError naming the first field outside its range or not a number
void validate(const HeadParameters& parameters);

/// The same patient with firm, smooth, full skin: every concern of age set to none, bones and proportions kept.
[[nodiscard]] HeadParameters young_reference(const HeadParameters& parameters);

/// The patient seen in a mirror: left and right exchanged.
[[nodiscard]] HeadParameters mirrored(const HeadParameters& parameters);

}  // namespace sim
