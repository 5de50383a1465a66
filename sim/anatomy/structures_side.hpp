#pragma once

#include <string_view>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/anatomy/structures_course.hpp"
#include "sim/anatomy/variants.hpp"

/// The parts of place_structures: one side of one patient, seen as though it were the left one.

namespace sim {

/// Points that published courses are measured from. On the skin unless the name says bone.
struct SidePoints {
    double male = 0.0;       ///< 0 woman .. 1 man
    Side side = Side::left;  ///< which side this really is: some figures differ

    Vec3 tragion{}, tragus{}, intertragic_notch{}, otobasion_inferius{};
    Vec3 cheilion{}, alare{}, endocanthion{}, exocanthion{};
    Vec3 brow_lateral{}, brow_top{};  ///< lateral end of the brow; upper edge of the brow over the lateral canthus
    Vec3 labrale_superius{}, stomion{}, labrale_inferius{};

    Vec3 gonion_bone{}, ear_canal_bone{}, menton_bone{}, mastoid_tip_bone{};
    Polyline border{{Vec3(0), Vec3(0, 0, 1)}};      ///< lower border of the mandible, jaw angle to chin
    Polyline arch{{Vec3(0), Vec3(0, 0, 1)}};        ///< lower border of the zygomatic arch, back to front
    Polyline ramus_back{{Vec3(0), Vec3(0, 0, 1)}};  ///< posterior border of the ramus, jaw angle to condyle
};

struct SideWork {
    const SideTissue& tissue;
    const SidePoints& points;
    const SideVariants& variants;
};

/// A published figure, and what a standard score makes of it.
struct MeanSd {
    double mean_m, sd_m;
    [[nodiscard]] double at(double score) const { return mean_m + score * sd_m; }
};

/// Corridor around the wall in which passing is counted. Assumed: about the width of a cannula's own play.
inline constexpr double kArteryMarginM = 2.0e-3;
inline constexpr double kVeinMarginM = 1.5e-3;
inline constexpr double kNerveMarginM = 2.0e-3;
inline constexpr double kDuctMarginM = 2.0e-3;
inline constexpr double kGlandMarginM = 1.0e-3;

/// Great auricular nerve at mid-belly of the sternocleidomastoid, 65 below the ear canal: so far from the canal along
/// z. Assumed: no published distance.
inline constexpr double kNerveBehindCanalM = -2.0e-3;

/// Skin point from which the way in, to the rule's depth, ends so far along and so high over the lower border of the
/// mandible.
[[nodiscard]] SkinPoint skin_over_border(const SideWork& work, double along_m, double height_m, const DepthRule& rule);

/// Skin point at a straight distance from a face point, at the same height, away from the midline.
[[nodiscard]] SkinPoint skin_lateral_of(const SideWork& work, const Vec3& from_m, double distance_m);

/// Skin point so far in front of the tragus as the crow flies, at a height.
[[nodiscard]] SkinPoint before_tragus(const SideWork& work, double distance_m, double y_m);

/// Height of the zygomatic arch's lower border at a distance ahead, held at its ends.
[[nodiscard]] double arch_height_m(const SidePoints& points, double z_m);

/// Where the masseter ends in front at a height: on the skin over its anterior border.
[[nodiscard]] SkinPoint masseter_front(const SideWork& work, double y_m);

/// First structure of a name among those already placed on this side. Asserts that there is one.
[[nodiscard]] const Structure& placed_before(const std::vector<Structure>& placed, std::string_view name);

/// A point shared by two structures, at the depth it already has.
[[nodiscard]] CoursePoint joining(const SideWork& work, std::string station, const Vec3& at_m, double radius_m);

/// Length of the mandible's border from the angle to where the facial artery crosses it.
[[nodiscard]] double artery_along_border_m(const SidePoints& points, const FacialArteryVariant& variant);

// Each appends to out; sides of `out` are set by the caller.
void place_facial_vessels(const SideWork& work, std::vector<Structure>& out);
void place_temporal_vessels(const SideWork& work, std::vector<Structure>& out);
void place_neck_vessels(const SideWork& work, std::vector<Structure>& out);
void place_parotid(const SideWork& work, std::vector<Structure>& out);
void place_facial_nerve(const SideWork& work, std::vector<Structure>& out);  ///< after vessels and parotid
void place_sensory_nerves(const SideWork& work, std::vector<Structure>& out);

/// The skin point that a place belongs to.
[[nodiscard]] Vec3 skin_near(const SideWork& work, const Vec3& p_m);

/// Station of a course by its name. Asserts that there is one.
[[nodiscard]] const Station& station_of(const Course& course, std::string_view name);

/// make_structure for an artery.
[[nodiscard]] Structure artery(std::string_view name, std::string variant, Course course, std::string_view source);

[[nodiscard]] Structure make_structure(std::string_view name, StructureKind kind, std::string variant, Course course,
                                       std::string_view source);

}  // namespace sim
