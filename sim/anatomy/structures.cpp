#include "sim/anatomy/structures.hpp"

#include <algorithm>
#include <cmath>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/landmarks.hpp"
#include "sim/anatomy/ligaments.hpp"
#include "sim/anatomy/skin_field.hpp"
#include "sim/anatomy/skin_parts.hpp"
#include "sim/anatomy/structures_side.hpp"
#include "sim/core/errors.hpp"

namespace sim {

namespace {

/// x turned round on the right side: a side seen as though it were the left one.
Vec3 turned(Side side, const Vec3& p) { return side == Side::right ? Vec3(-p.x, p.y, p.z) : p; }

class HeadSide final : public SideTissue {
 public:
    HeadSide(const HeadTissue& tissue, Side side) : tissue_(tissue), side_(side) {}

    [[nodiscard]] LayerPoint layers_at(const Vec3& p_m) const override { return tissue_.layers_at(turn(p_m)); }
    [[nodiscard]] Vec3 inward_at(const Vec3& p_m) const override { return turn(tissue_.inward_at(turn(p_m))); }
    [[nodiscard]] std::optional<SkinPoint> ray_to_skin(const Vec3& origin_m, const Vec3& direction) const override {
        auto hit = tissue_.ray_to_skin(turn(origin_m), turn(direction));
        if (hit) *hit = {turn(hit->position_m), turn(hit->normal)};
        return hit;
    }
    [[nodiscard]] SkinPoint nearest_skin(const Vec3& p_m) const override {
        const SkinPoint found = tissue_.nearest_skin(turn(p_m));
        return {turn(found.position_m), turn(found.normal)};
    }
    [[nodiscard]] double bone_distance_m(const Vec3& p_m) const override { return tissue_.bone_distance_m(turn(p_m)); }
    [[nodiscard]] Vec3 away_from_bone_at(const Vec3& p_m) const override {
        return turn(tissue_.away_from_bone_at(turn(p_m)));
    }
    [[nodiscard]] double masseter_at(const Vec3& p_m) const override { return tissue_.windows_at(turn(p_m)).masseter; }

 private:
    [[nodiscard]] Vec3 turn(const Vec3& p) const { return turned(side_, p); }

    const HeadTissue& tissue_;
    Side side_;
};

std::vector<Vec3> turned(Side side, const std::vector<Vec3>& line) {
    std::vector<Vec3> out;
    for (const Vec3& p : line) out.push_back(turned(side, p));
    return out;
}

// The ear's parts from the tragion, and the mastoid's tip from the ear canal; from memory, drawn onto this head's ear.
constexpr Vec3 kTragusFromTragion(0.0, -5.0e-3, 1.0e-3);
constexpr Vec3 kNotchFromTragion(0.0, -14.0e-3, 0.0);
constexpr Vec3 kMastoidTipFromCanal(-4.0e-3, -22.0e-3, -10.0e-3);
constexpr float kInnerCanthusXMm = 15.9f, kOuterCanthusXMm = 44.6f;  // of the drawn face, as in skin_points.cpp
constexpr float kBrowEndXMm = 52.0f;                                 // where the drawn brow ends
constexpr float kFaceZMm = 75.0f;                                    // about where they lie, for the asymmetry
constexpr double kBrowHalfM = 3.5e-3;                                // half its height, assumed

/// Skin point of a landmark. Asserts that the list has it.
Vec3 found(std::span<const Landmark> landmarks, std::string_view name, Side side) {
    for (const Landmark& landmark : landmarks)
        if (landmark.name == name && (landmark.side == side || landmark.side == Side::midline))
            return landmark.skin.position_m;
    SIM_ASSERT(name.empty());  // every landmark that courses are measured from is in the list
    return {};
}

/// Everything on the skin that published courses are measured from, for one side.
SidePoints side_points(const HeadTissue& tissue, std::span<const Landmark> landmarks, Side side) {
    const HeadSide seen(tissue, side);
    const bool right = side == Side::right;
    const auto of = [&](std::string_view name) { return turned(side, found(landmarks, name, side)); };
    const auto from_side = [&](const Vec3& p) { return skin_from_side(seen, p.y, p.z).position_m; };

    SidePoints out;
    out.male = tissue.parameters().male;
    out.side = side;
    out.tragion = of("tragion");
    out.tragus = from_side(out.tragion + kTragusFromTragion);
    out.intertragic_notch = from_side(out.tragion + kNotchFromTragion);
    out.otobasion_inferius = of("otobasion inferius");
    out.cheilion = of("cheilion");
    out.alare = of("alare");
    out.labrale_superius = of("labrale superius");
    out.labrale_inferius = of("labrale inferius");

    const SkinField& field = tissue.skin_field();
    // places of the drawn face, told on the even one
    const auto drawn = [&](float x_mm, float y_mm, double up_m) {
        const glm::vec3 rest(right ? -x_mm : x_mm, y_mm, kFaceZMm);
        const Vec3 p = turned(side, Vec3(field.from_rest_mm(rest)) * kMm);
        return skin_from_front(seen, p.x, p.y + up_m).position_m;
    };
    out.stomion = drawn(0.0f, skin::mouth_line_y(0.0f), 0.0);
    out.endocanthion = drawn(kInnerCanthusXMm, skin::lid_line_y(kInnerCanthusXMm), 0.0);
    out.exocanthion = drawn(kOuterCanthusXMm, skin::lid_line_y(kOuterCanthusXMm), 0.0);
    out.brow_lateral = drawn(kBrowEndXMm, skin::brow_line_y(field.form(), kBrowEndXMm), 0.0);
    out.brow_top = drawn(kOuterCanthusXMm, skin::brow_line_y(field.form(), kOuterCanthusXMm), kBrowHalfM);

    const BonyPoints& bones = tissue.bony_points();
    const BonySide& bony = bones.side(side);
    out.gonion_bone = turned(side, bony.gonion_m);
    out.ear_canal_bone = turned(side, bony.ear_canal_m);
    out.menton_bone = turned(side, bones.menton_m);
    out.mastoid_tip_bone = out.ear_canal_bone + kMastoidTipFromCanal;
    out.border = Polyline(turned(side, bony.lower_border_m));
    out.arch = Polyline(turned(side, bony.arch_lower_border_m));
    out.ramus_back = Polyline(turned(side, bony.ramus_back_m));
    return out;
}

void turn_back(Side side, Structure& structure) {
    structure.side = side;
    for (StructureNode& node : structure.line) node.position_m = turned(side, node.position_m);
    for (Station& station : structure.stations) station.position_m = turned(side, station.position_m);
}

void turn_back(Side side, Ligament& ligament) {
    ligament.side = side;
    ligament.deep_m = turned(side, ligament.deep_m);
    ligament.superficial_m = turned(side, ligament.superficial_m);
}

void place_side(const HeadTissue& tissue, const SidePoints& points, const SideVariants& variants,
                const PlacementOptions& options, Placement& out) {
    const Side side = points.side;
    const HeadSide seen(tissue, side);
    const SideWork work{seen, points, variants};

    std::vector<Structure> structures;
    place_facial_vessels(work, structures);
    place_temporal_vessels(work, structures);
    place_neck_vessels(work, structures);
    place_parotid(work, structures);
    place_facial_nerve(work, structures);
    place_sensory_nerves(work, structures);
    for (Structure& structure : structures) {
        turn_back(side, structure);
        out.structures.push_back(std::move(structure));
    }
    for (Ligament& ligament : place_ligaments(work, options.mandibular_ligament_reaches_skin)) {
        turn_back(side, ligament);
        out.ligaments.push_back(std::move(ligament));
    }
}

}  // namespace

SkinPoint skin_over_border(const SideWork& work, double along_m, double height_m, const DepthRule& rule) {
    const Polyline& border = work.points.border;
    const Vec3 bone = border.at(along_m);
    const auto deep = [&](const SkinPoint& s) { return brought_to(work.tissue, s.position_m, rule); };
    // from the skin straight outwards of the border, seen from above: to the side behind, to the front at the chin
    constexpr double kAlongM = 2.0 * kMm, kOutM = 6.0 * kMm;
    const Vec3 ahead = border.at(along_m + kAlongM) - border.at(along_m - kAlongM);
    const Vec3 outward = glm::normalize(Vec3(ahead.z, 0.0, -ahead.x));
    const SkinPoint start = work.tissue.nearest_skin(bone + kOutM * outward + Vec3(0.0, height_m, 0.0));
    return search_skin(work.tissue, start,
                       [&](const SkinPoint& s) {
                           const Vec3 p = deep(s);
                           const Polyline::Foot foot = border.nearest_in_plan(p);
                           return std::array{foot.along_m - along_m, p.y - foot.position_m.y - height_m};
                       })
        .skin;
}

SkinPoint skin_lateral_of(const SideWork& work, const Vec3& from_m, double distance_m) {
    const SkinPoint start = work.tissue.nearest_skin(from_m + Vec3(0.9 * distance_m, 0.0, -0.3 * distance_m));
    if (!(distance_m > 0.5 * kMm)) return work.tissue.nearest_skin(from_m);
    return search_skin(
               work.tissue, start,
               [&](const SkinPoint& s) {
                   return std::array{glm::length(s.position_m - from_m) - distance_m, s.position_m.y - from_m.y};
               })
        .skin;
}

SkinPoint before_tragus(const SideWork& work, double distance_m, double y_m) {
    const Vec3 tragus = work.points.tragus;
    const SkinPoint start = skin_from_side(work.tissue, y_m, tragus.z + distance_m);
    return search_skin(work.tissue, start,
                       [&](const SkinPoint& s) {
                           return std::array{glm::length(s.position_m - tragus) - distance_m, s.position_m.y - y_m};
                       })
        .skin;
}

double arch_height_m(const SidePoints& points, double z_m) {
    const Polyline::Foot foot = points.arch.nearest_in_plan(Vec3(points.arch.at(0.0).x, 0.0, z_m));
    return foot.position_m.y;
}

SkinPoint masseter_front(const SideWork& work, double y_m) {
    // from the cheek backwards until the muscle begins
    constexpr double kFromM = 60.0e-3, kToM = 20.0e-3, kStepM = 1.0e-3;
    const DepthRule in_muscle = in_layer(Layer::muscle, 0.3);
    for (double ahead = kFromM; ahead > kToM; ahead -= kStepM) {
        const auto skin = work.tissue.ray_to_skin({0.2, y_m, work.points.tragus.z + ahead}, {-1, 0, 0});
        if (!skin) continue;
        if (work.tissue.masseter_at(brought_to(work.tissue, skin->position_m, in_muscle)) >= 0.5) return *skin;
    }
    return skin_from_side(work.tissue, y_m, work.points.tragus.z + 42.0 * kMm);
}

const Structure& placed_before(const std::vector<Structure>& placed, std::string_view name) {
    const auto found = std::find_if(placed.begin(), placed.end(), [&](const Structure& s) { return s.name == name; });
    SIM_ASSERT(found != placed.end());
    return *found;
}

Vec3 skin_near(const SideWork& work, const Vec3& p_m) { return work.tissue.nearest_skin(p_m).position_m; }

const Station& station_of(const Course& course, std::string_view name) {
    const auto found = std::find_if(course.stations.begin(), course.stations.end(),
                                    [&](const Station& station) { return station.name == name; });
    SIM_ASSERT(found != course.stations.end());
    return *found;
}

Structure artery(std::string_view name, std::string variant, Course course, std::string_view source) {
    return make_structure(name, StructureKind::artery, std::move(variant), std::move(course), source);
}

CoursePoint joining(const SideWork& work, std::string station, const Vec3& at_m, double radius_m) {
    return {std::move(station), at_m, at_depth(work.tissue.layers_at(at_m).depth_m), radius_m};
}

Structure make_structure(std::string_view name, StructureKind kind, std::string variant, Course course,
                         std::string_view source) {
    Structure out;
    out.name = name;
    out.kind = kind;
    out.variant = std::move(variant);
    out.line = std::move(course.line);
    out.stations = std::move(course.stations);
    switch (kind) {
        case StructureKind::artery:
            out.margin_m = kArteryMarginM;
            break;
        case StructureKind::vein:
            out.margin_m = kVeinMarginM;
            break;
        case StructureKind::nerve:
            out.margin_m = kNerveMarginM;
            break;
        case StructureKind::duct:
            out.margin_m = kDuctMarginM;
            break;
        case StructureKind::gland:
            out.margin_m = kGlandMarginM;
            break;
    }
    out.source = source;
    return out;
}

StructurePlacer::StructurePlacer(const HeadTissue& tissue)
    : tissue_(tissue),
      landmarks_(place_landmarks(tissue)),
      left_(std::make_unique<const SidePoints>(side_points(tissue, landmarks_, Side::left))),
      right_(std::make_unique<const SidePoints>(side_points(tissue, landmarks_, Side::right))) {}

StructurePlacer::~StructurePlacer() = default;

Placement StructurePlacer::place(const PlacedVariants& variants, const PlacementOptions& options) const {
    Placement out;
    place_side(tissue_, *left_, variants.left, options, out);
    place_side(tissue_, *right_, variants.right, options, out);
    out.landmarks = landmarks_;
    return out;
}

Placement place_structures(const HeadTissue& tissue, std::uint64_t variant_seed, const PlacementOptions& options) {
    return StructurePlacer(tissue).place(sample_variants(variant_seed), options);
}

}  // namespace sim
