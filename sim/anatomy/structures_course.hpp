#pragma once

#include <array>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/anatomy/anatomy.hpp"

/// The tools that place one vessel or nerve: depth rules, a search over the skin for two distances at once, and the
/// laying of a smooth centre line through stations that stays in its layer and out of bone.
///
/// Everything here sees one side of the head as though it were the left one: +x is away from the midline.

namespace sim {

/// What placing asks of the tissue. HeadSide in structures.cpp answers from a head; tests answer from the slab.
class SideTissue {
 public:
    SideTissue() = default;
    SideTissue(const SideTissue&) = delete;
    SideTissue& operator=(const SideTissue&) = delete;
    virtual ~SideTissue() = default;

    [[nodiscard]] virtual LayerPoint layers_at(const Vec3& p_m) const = 0;
    [[nodiscard]] virtual Vec3 inward_at(const Vec3& p_m) const = 0;
    [[nodiscard]] virtual std::optional<SkinPoint> ray_to_skin(const Vec3& origin_m, const Vec3& direction) const = 0;
    [[nodiscard]] virtual SkinPoint nearest_skin(const Vec3& p_m) const = 0;
    [[nodiscard]] virtual double bone_distance_m(const Vec3& p_m) const = 0;
    [[nodiscard]] virtual Vec3 away_from_bone_at(const Vec3& p_m) const = 0;
    [[nodiscard]] virtual double masseter_at(const Vec3& p_m) const = 0;  ///< share of the muscle layer, 0 to 1
};

/// How deep something lies: a fraction of a layer, plus a length. `layer` is skin to muscle.
struct DepthRule {
    Layer layer = Layer::skin;
    double fraction = 0.0;
    double offset_m = 0.0;

    [[nodiscard]] double depth_m(const LayerPoint& at) const;
};
[[nodiscard]] inline DepthRule at_depth(double depth_m) { return {Layer::skin, 0.0, depth_m}; }
[[nodiscard]] inline DepthRule in_layer(Layer layer, double fraction) { return {layer, fraction, 0.0}; }
[[nodiscard]] inline DepthRule above_floor(double height_m) { return {Layer::muscle, 1.0, -height_m}; }
[[nodiscard]] inline DepthRule below_smas(double depth_m) { return {Layer::smas, 1.0, depth_m}; }

/// Move a point straight in or out until its depth obeys the rule.
[[nodiscard]] Vec3 brought_to(const SideTissue& tissue, Vec3 p_m, const DepthRule& rule);

/// Skin point seen from the side at a height and a distance ahead: a ray towards the midline.
/// @throws InputError when the ray meets no skin: a head that this program cannot place structures in
[[nodiscard]] SkinPoint skin_from_side(const SideTissue& tissue, double y_m, double z_m);

/// Skin point seen from the front. @throws InputError as skin_from_side
[[nodiscard]] SkinPoint skin_from_front(const SideTissue& tissue, double x_m, double y_m);

/// Two wanted distances, each as found less wanted.
using SkinResiduals = std::function<std::array<double, 2>(const SkinPoint&)>;

struct SkinSearch {
    SkinPoint skin;
    double miss_m = 0.0;  ///< length of the two residuals at `skin`
};

/// The skin point at which two distances hold at once, by damped Gauss-Newton steps along the skin from `start`.
/// Where they cannot both hold, the point that misses least among those visited.
[[nodiscard]] SkinSearch search_skin(const SideTissue& tissue, const SkinPoint& start, const SkinResiduals& residuals);

inline constexpr double kGaveWayM = 0.2 * kMm;  ///< a depth missed by more is not as told

/// One point that a course must pass. The position is brought to the depth of its rule.
struct CoursePoint {
    std::string station;  ///< name in the tables; "" for a point that only shapes the course
    Vec3 position_m{};
    DepthRule rule;
    double radius_m = 0.0;
    bool placed = false;    ///< the rule is a published depth
    bool gave_way = false;  ///< the published depth was not to be had here: the rule is the nearest that was
};

struct CourseOptions {
    double step_m = 2.5e-3;
    double clearance_m = 0.3e-3;  ///< between wall and bone, lining or skin, assumed
};

struct Course {
    std::vector<StructureNode> line;
    std::vector<Station> stations;
};

/// A smooth centre line through the points: a centripetal spline, every node brought to the depth that the rules of its
/// neighbours give there, kept out of skin, floor and bone. A station whose depth had to give way reports placed =
/// false.
/// @param points at least two
[[nodiscard]] Course lay_course(const SideTissue& tissue, std::span<const CoursePoint> points,
                                const CourseOptions& options = {});

/// A line of points with its length, for places told as "so far along the border".
class Polyline {
 public:
    explicit Polyline(std::vector<Vec3> points_m);

    [[nodiscard]] double length_m() const { return along_m_.back(); }
    [[nodiscard]] Vec3 at(double along_m) const;  ///< held at the ends
    /// First place whose straight distance from the start of the line reaches the length, held at the end.
    [[nodiscard]] double along_at_chord(double chord_m) const;
    /// The same measured from a point on or near the line, going on from its foot.
    [[nodiscard]] double along_at_chord(double chord_m, const Vec3& from_m) const;

    struct Foot {
        Vec3 position_m{};
        double along_m = 0.0;
    };
    /// Nearest point of the line in plan, that is with heights ignored.
    [[nodiscard]] Foot nearest_in_plan(const Vec3& p_m) const;
    /// Height of a point over the line, at the nearest point in plan; negative below.
    [[nodiscard]] double height_of_m(const Vec3& p_m) const { return p_m.y - nearest_in_plan(p_m).position_m.y; }

 private:
    std::vector<Vec3> points_m_;
    std::vector<double> along_m_;
};

}  // namespace sim
