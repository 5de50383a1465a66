#pragma once

#include <array>
#include <cmath>
#include <span>
#include <string_view>
#include <vector>

#include <glm/vec3.hpp>

#include "sim/anatomy/anatomy.hpp"
#include "sim/anatomy/parameters.hpp"

/// How thick each layer is, region by region, and where its bottom comes to lie between a skin and a floor.

namespace sim {

/// Thickness that the layers would have with room enough, millimetres.
struct LayerSite {
    std::string_view name;
    glm::vec3 place_mm;  ///< in the even head of a woman, x >= 0: FloorField::table_place_mm
    float skin_woman_mm, skin_man_mm;
    float fat_mm;   ///< superficial fat, young woman
    float smas_mm;  ///< SMAS, platysma, superficial temporal fascia, galea or mimetic muscle
    std::string_view source;
};

[[nodiscard]] std::span<const LayerSite> layer_sites();

/// Thicknesses as layer_bottoms wants them.
struct LayerThickness {
    double skin_m = 0.0, fat_m = 0.0, smas_m = 0.0;
};

/// Smooth map of the thicknesses through the regions of one patient.
class LayerMap {
 public:
    explicit LayerMap(const HeadParameters& parameters);

    /// @param place_mm of the table frame; @param left which side of the patient; across the midline sides blend
    [[nodiscard]] LayerThickness at(const glm::vec3& place_mm, double left_share) const;

    /// What the map aims at in a site: published or assumed thickness for this patient's sex, age and folds, mm.
    [[nodiscard]] std::array<float, 3> target_mm(std::size_t site, bool left) const;

 private:
    using Values = std::vector<std::array<float, 3>>;
    [[nodiscard]] std::array<float, 3> blend(const Values& values, const glm::vec3& place_mm) const;
    [[nodiscard]] Values corrected(bool left) const;

    HeadParameters parameters_;
    Values left_, right_;
};

/// Depths of the five bottoms where the skin is `depth` away, the floor `floor` and the deep fascia `fascia`, all in
/// metres, positive in the tissue above them.
///
/// Skin, fat and SMAS share one factor that shrinks them where the floor is near, so that they keep their order and
/// stay above 86 % of the way; skin gives way last. The fascia keeps 8 % of what is left for deep fat and 5 % for
/// muscle. Hence 0 < b1 < b2 < b3 < b4 < b5 everywhere.
[[nodiscard]] inline std::array<double, kTissueLayers> layer_bottoms(double depth_m, double floor_m, double fascia_m,
                                                                     const LayerThickness& wanted) {
    constexpr double kLeastM = 0.5e-3;    // of skin to floor: lids, canthus
    constexpr double kUpperShare = 0.86;  // of skin to floor that skin, fat and SMAS may take
    constexpr double kSkinShare = 0.62;   // of skin and fat that skin may take
    constexpr double kDeepFatShare = 0.08, kMuscleShare = 0.05, kBlend = 0.10;  // of SMAS to floor

    const auto fourth_power = [](double v) { return (v * v) * (v * v); };
    const auto fourth_root = [](double v) { return std::sqrt(std::sqrt(v)); };

    const double whole = std::max(kLeastM, std::max(depth_m, 0.0) + std::max(floor_m, 0.0));
    const double fat_end = wanted.skin_m + wanted.fat_m;
    const double smas_end = fat_end + wanted.smas_m;
    // The factor is s = (1 + (smas_end / upper)^4)^(-1/4) for the three together and of the same form for the skin
    // within skin and fat. Written with one root a factor, neither of which waits for the other.
    const double upper = kUpperShare * whole;
    const double q4 = fourth_power(upper) + fourth_power(smas_end);
    const double s = upper / fourth_root(q4);
    const double skin_room = kSkinShare * fat_end * upper;
    const double b1 =
        wanted.skin_m * skin_room / fourth_root(fourth_power(skin_room) + fourth_power(wanted.skin_m) * q4);
    const double b2 = fat_end * s;
    const double b3 = smas_end * s;
    const double rest = whole - b3;
    const double blend = kBlend * rest;
    // the greater of the two, with a rounded corner
    const auto above = [blend](double a, double b) {
        return 0.5 * (a + b + std::sqrt((a - b) * (a - b) + blend * blend));
    };
    const double lifted = above(depth_m + fascia_m - b3, kDeepFatShare * rest);
    // the same from the other end, and between the two to the last bit
    const double held = rest - above(rest - lifted, kMuscleShare * rest);
    const double b4 = b3 + std::max(held, 0.5 * kDeepFatShare * rest);
    return {b1, b2, b3, b4, whole};
}

}  // namespace sim
