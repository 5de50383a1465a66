#include <algorithm>
#include <array>
#include <cmath>

#include "sim/anatomy/structures_side.hpp"

/// Parotid gland, accessory gland and duct.

namespace sim {

namespace {

// Duct against the line from intertragic notch to corner of the mouth: crosses it 53.9 +- 9.7 from the corner, ends
// 9.6 +- 2.9 above, lies in its middle third. Uzmansel et al. 2022, Anat Sci Int 97:59-64.
constexpr double kCrossingMeanM = 53.9e-3, kCrossingSdM = 9.7e-3;
constexpr double kEndAboveMeanM = 9.6e-3, kEndAboveSdM = 2.9e-3;
constexpr double kDuctRadiusM = 0.9e-3;  // outer, assumed; inner diameter 0.6 +- 0.2, Stringer 2012, PRS 130:1032-7
constexpr double kDuctBackM = 19.0e-3,
                 kDuctAheadM = 20.0e-3;  // of the crossing, along the line, for the length (Stringer)

constexpr double kCapsuleM = 0.8e-3;  // fascia and lobules between SMAS and what counts as gland, assumed
constexpr double kDentM = 1.0e-3;     // by which it may dent the masseter, and stays off the floor; assumed
constexpr double kLargestLobeM = 8.5e-3, kSmallestLobeM = 2.0e-3;  // half the thickness of 15-20 (from memory)

// Accessory gland: 15.8 x 5.0, 10.5 in front of the gland. Ahn et al. 2017, PLoS One 12:e0184633.
constexpr double kAccessoryLengthM = 15.8e-3, kAccessoryRadiusM = 2.5e-3, kAccessoryGapM = 10.5e-3;

/// The line from intertragic notch to corner of the mouth, as places are told along it.
class NotchLine {
 public:
    explicit NotchLine(const SideWork& work) : work_(work), p_(work.points) {}

    [[nodiscard]] double length_m() const { return glm::length(p_.intertragic_notch - p_.cheilion); }

    /// Height over the line.
    [[nodiscard]] double above_m(const Vec3& at_m) const {
        const Vec3 chord = p_.intertragic_notch - p_.cheilion;
        const double share = glm::dot(at_m - p_.cheilion, chord) / glm::dot(chord, chord);
        return at_m.y - (p_.cheilion.y + share * chord.y);
    }

    /// Skin point so far from the corner of the mouth and so high over the line.
    [[nodiscard]] SkinPoint at(double from_corner_m, double above_m_wanted) const {
        const Vec3 chord = p_.intertragic_notch - p_.cheilion;
        const Vec3 guess = p_.cheilion + chord * (from_corner_m / length_m()) + Vec3(8.0 * kMm, above_m_wanted, 0.0);
        return search_skin(work_.tissue, work_.tissue.nearest_skin(guess),
                           [&](const SkinPoint& s) {
                               return std::array{glm::length(s.position_m - p_.cheilion) - from_corner_m,
                                                 above_m(s.position_m) - above_m_wanted};
                           })
            .skin;
    }

 private:
    const SideWork& work_;
    const SidePoints& p_;
};

void place_duct(const SideWork& work, std::vector<Structure>& out) {
    const ParotidVariant& variant = work.variants.parotid;
    const NotchLine line(work);
    // it crosses within the middle third
    const double third_m = line.length_m() / 3.0;
    const double crossing_m = std::clamp(kCrossingMeanM + variant.duct_crossing_score * kCrossingSdM,
                                         third_m + 4.0 * kMm, 2.0 * third_m - 4.0 * kMm);
    const double end_m = kEndAboveMeanM + variant.duct_end_score * kEndAboveSdM;
    std::array<double, 4> above_m{};
    switch (variant.duct) {
        case DuctCourse::arching:
            above_m = {-3.0 * kMm, 0.0, 0.75 * end_m, end_m};
            break;
        case DuctCourse::above:
            above_m = {2.5 * kMm, 4.0 * kMm, 0.8 * end_m + 1.0 * kMm, end_m};
            break;
        case DuctCourse::below:
            above_m = {-4.0 * kMm, -3.5 * kMm, -2.5 * kMm, -1.5 * kMm};
            break;
    }
    const double r = kDuctRadiusM;
    const double back_m = crossing_m + kDuctBackM;
    const double front_m = crossing_m - kDuctAheadM;
    const std::array<CoursePoint, 5> points{
        CoursePoint{"leaves the gland", line.at(back_m, above_m[0]).position_m, in_layer(Layer::deep_fat, 0.75), r},
        CoursePoint{"on the masseter", line.at(crossing_m, above_m[1]).position_m, in_layer(Layer::deep_fat, 0.85), r},
        CoursePoint{"front of the masseter", line.at(0.5 * (crossing_m + front_m), above_m[2]).position_m,
                    in_layer(Layer::deep_fat, 0.8), r},
        CoursePoint{"turns in", line.at(front_m, above_m[3]).position_m, in_layer(Layer::deep_fat, 0.95), r},
        CoursePoint{"opens into the mouth", line.at(front_m - 3.0 * kMm, above_m[3]).position_m,
                    in_layer(Layer::muscle, 0.9), r}};
    Structure duct = make_structure(
        "parotid duct", StructureKind::duct, std::string(name_of(variant.duct)), lay_course(work.tissue, points),
        "Uzmansel 2022, Anat Sci Int 97:59-64; Stringer 2012, PRS 130:1032-7; depth by layer");
    out.push_back(std::move(duct));
}

/// One place of the gland: as thick as the room between SMAS and masseter or floor, and no thicker than a gland.
struct Lobe {
    std::string station;
    double y_m, z_m;
    double largest_m = kLargestLobeM;
};

void place_lobes(const SideWork& work, std::string_view name, std::string variant, std::span<const Lobe> lobes,
                 std::string_view source, std::vector<Structure>& out) {
    std::vector<CoursePoint> points;
    for (const Lobe& lobe : lobes) {
        const SkinPoint skin = skin_from_side(work.tissue, lobe.y_m, lobe.z_m);
        const Vec3 below = brought_to(work.tissue, skin.position_m, below_smas(kCapsuleM + kSmallestLobeM));
        const LayerPoint at = work.tissue.layers_at(below);
        const double top_m = at.bottom_of(Layer::smas) + kCapsuleM;
        const bool on_masseter = work.tissue.masseter_at(below) > 0.3;
        const double bottom_m =
            on_masseter ? at.bottom_of(Layer::deep_fat) + kDentM : at.bottom_of(Layer::muscle) - kDentM;
        const double r = std::clamp(0.5 * (bottom_m - top_m), kSmallestLobeM, lobe.largest_m);
        points.push_back({lobe.station, skin.position_m, below_smas(kCapsuleM + r), r});
    }
    out.push_back(
        make_structure(name, StructureKind::gland, std::move(variant), lay_course(work.tissue, points), source));
}

void place_gland(const SideWork& work, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    const ParotidVariant& variant = work.variants.parotid;
    const char* source =
        "limits from anatomy pages: arch, jaw angle, masseter, ear; thickness by the room between the fasciae";
    const double top_y = arch_height_m(p, p.tragus.z + 12.0 * kMm) - 6.0 * kMm;
    const double angle_y = p.gonion_bone.y;
    const double height = top_y - angle_y;
    // chains side by side, from behind the ramus to over the masseter
    const double back_z = p.otobasion_inferius.z + 6.0 * kMm;
    const double tail_z = std::min(back_z, p.gonion_bone.z - 2.0 * kMm);
    const std::array<Lobe, 4> behind{Lobe{"upper end", top_y - 2.0 * kMm, p.tragus.z + 6.0 * kMm, 4.0 * kMm},
                                     Lobe{"", top_y - 0.33 * height, back_z + 2.0 * kMm},
                                     Lobe{"middle", top_y - 0.66 * height, back_z},
                                     Lobe{"tail", angle_y - 4.0 * kMm, tail_z, 5.0 * kMm}};
    place_lobes(work, "parotid gland", "", behind, source, out);
    const std::array<Lobe, 4> over{Lobe{"upper end", top_y, p.tragus.z + 13.0 * kMm, 3.5 * kMm},
                                   Lobe{"", top_y - 0.33 * height, back_z + 8.5 * kMm, 6.0 * kMm},
                                   Lobe{"middle", top_y - 0.66 * height, back_z + 7.0 * kMm, 6.0 * kMm},
                                   Lobe{"lower end", angle_y, tail_z + 7.0 * kMm, 3.5 * kMm}};
    place_lobes(work, "parotid gland, middle part", "", over, source, out);
    const std::array<Lobe, 3> before{
        Lobe{"upper end", top_y - 3.0 * kMm, p.tragus.z + 19.0 * kMm, 3.5 * kMm},
        Lobe{"over the masseter", top_y - 0.4 * height, p.tragus.z + 20.0 * kMm, 5.0 * kMm},
        Lobe{"lower end", top_y - 0.8 * height, back_z + 14.0 * kMm, 3.5 * kMm}};
    place_lobes(work, "parotid gland, anterior part", "", before, source, out);

    const Vec3 duct_start = placed_before(out, "parotid duct").line.front().position_m;
    const double front_z = p.tragus.z + 23.0 * kMm;
    if (variant.facial_process) {
        const double reach_z = variant.facial_process_past_masseter
                                   ? masseter_front(work, duct_start.y + 4.0 * kMm).position_m.z + 3.0 * kMm
                                   : front_z + 14.0 * kMm;
        const std::array<Lobe, 2> process{Lobe{"", duct_start.y + 4.0 * kMm, front_z, 3.0 * kMm},
                                          Lobe{"tip", duct_start.y + 4.0 * kMm, reach_z, 2.0 * kMm}};
        place_lobes(work, "parotid gland, facial process",
                    variant.facial_process_past_masseter ? "past the masseter" : "on the masseter", process,
                    "Ahn et al. 2017, PLoS One 12:e0184633; extent assumed", out);
    }
    if (variant.accessory_gland) {
        const double r = kAccessoryRadiusM;
        const double z0 = front_z + kAccessoryGapM + r, z1 = z0 + kAccessoryLengthM - 2.0 * r;
        const std::array<Lobe, 2> accessory{Lobe{"back", duct_start.y + 5.0 * kMm, z0, r},
                                            Lobe{"front", duct_start.y + 6.0 * kMm, z1, r}};
        place_lobes(work, "accessory parotid gland", "present", accessory, "Ahn et al. 2017, PLoS One 12:e0184633",
                    out);
    }
}

}  // namespace

void place_parotid(const SideWork& work, std::vector<Structure>& out) {
    place_duct(work, out);
    place_gland(work, out);
}

}  // namespace sim
