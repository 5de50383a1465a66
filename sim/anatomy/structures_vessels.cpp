#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/anatomy/structures_side.hpp"
#include "sim/core/errors.hpp"

/// Facial artery with its branches, submental artery, facial vein, jugular veins.

namespace sim {

namespace {

// Facial artery over the jaw border, from the mandibular angle. Cicekcibasi, Yilmaz, Kiresi, Seker, Int J Morphol
// (CTA).
constexpr MeanSd kCrossingManRight{35.3e-3, 6.6e-3}, kCrossingManLeft{33.1e-3, 7.3e-3};
constexpr MeanSd kCrossingWomanRight{29.1e-3, 5.2e-3}, kCrossingWomanLeft{33.5e-3, 4.8e-3};

// Depth of the facial artery below the skin by ultrasound. J Korean Soc Dent Hyg 2025;25:499-508.
constexpr MeanSd kNotchDepth{9.3e-3, 2.2e-3}, kCheilionDepth{6.9e-3, 3.5e-3}, kAlareDepth{5.0e-3, 1.6e-3};
constexpr double kBelowPlatysmaM = 2.2e-3;     // of the axis: room for wall and nerve, assumed
constexpr double kOffBoneM = 0.3e-3;           // of the wall, assumed
constexpr double kLeastArteryDepthM = 2.5e-3;  // assumed: below the skin and some fat

// Lateral course: distance lateral to the fold at the corner of the mouth and at the ala. Gelezhe 2021, Aesthet Surg
// J 41.
constexpr MeanSd kLateralAtCommissure{11.91e-3, 7.9e-3}, kLateralAtAla{13.73e-3, 3.9e-3};
constexpr double kLeastLateralM = 2.0e-3;  // assumed: less would not be the lateral course
// Where the nasolabial fold lies, from the corner of the mouth and from the ala; assumed, after the drawn fold.
constexpr double kFoldFromCheilionM = 8.0e-3, kFoldFromAlareM = 3.5e-3;
constexpr double kMedialFromCheilionM = 10.0e-3;    // where the ultrasound depth was taken
constexpr double kLeastAlongM = 3.0e-3;             // from the jaw angle; assumed
constexpr double kCrossingFromCheilionM = 12.0e-3;  // lateral to the fold below, medial above; assumed

// Radii: half the outer diameters of the facial-artery branch study 2024, PMC11548982; trunk diameter 2.0-3.0 from
// memory.
constexpr double kFacialArteryRadiusM = 1.2e-3;
constexpr double kSuperiorLabialRadiusM = 0.8e-3, kInferiorLabialRadiusM = 0.65e-3, kLateralNasalRadiusM = 0.37e-3;
constexpr double kAngularRadiusM = 0.4e-3, kSubmentalRadiusM = 0.45e-3;
constexpr double kSubmentalLaidM = 40.0e-3;    // along the border; the artery cuts the bend: same, 35.9 +- 5.3 long
constexpr double kSubmentalBelowM = 9.0e-3;    // below the border, assumed
constexpr double kFacialVeinRadiusM = 1.5e-3;  // assumed

// External jugular vein: 5 before the great auricular nerve, 65 below the ear canal. McKinney & Katrana 1980, PRS
// 66:675-9. Calibre 4-8 is from memory and for a filled vein; upright it is collapsed, so less is taken (assumed).
constexpr double kExternalJugularRadiusM = 1.6e-3, kAnteriorJugularRadiusM = 1.2e-3;

constexpr double kHangDownM = 12.0e-3;  // how far below the jaw vessels are followed, assumed

MeanSd crossing_distance(const SidePoints& points) {
    const bool right = points.side == Side::right;
    const MeanSd& man = right ? kCrossingManRight : kCrossingManLeft;
    const MeanSd& woman = right ? kCrossingWomanRight : kCrossingWomanLeft;
    return {woman.mean_m + points.male * (man.mean_m - woman.mean_m),
            woman.sd_m + points.male * (man.sd_m - woman.sd_m)};
}

/// Node of a line that lies nearest to a height, searched from the end.
Vec3 node_at_height(const std::vector<StructureNode>& line, double y_m) {
    Vec3 best = line.back().position_m;
    for (const StructureNode& node : line)
        if (std::abs(node.position_m.y - y_m) < std::abs(best.y - y_m)) best = node.position_m;
    return best;
}

/// Lateral offsets of the three courses from cheilion, from the line cheilion-alare half-way, and from alare.
struct FoldOffsets {
    double at_cheilion_m, half_way_m, at_alare_m;
};

FoldOffsets fold_offsets(const FacialArteryVariant& variant) {
    switch (variant.fold) {
        case FoldCourse::medial:
            return {kMedialFromCheilionM, 1.0 * kMm, 0.0};
        case FoldCourse::crossing:
            return {kCrossingFromCheilionM, 0.5 * (kFoldFromCheilionM + kFoldFromAlareM), 0.0};
        case FoldCourse::lateral:
            break;
    }
    const double low =
        kFoldFromCheilionM + std::max(kLeastLateralM, kLateralAtCommissure.at(variant.fold_offset_score));
    const double high = kFoldFromAlareM + std::max(kLeastLateralM, kLateralAtAla.at(variant.fold_offset_score));
    return {low, 0.5 * (low + high), high};
}

class FacialArtery {
 public:
    explicit FacialArtery(const SideWork& work)
        : work_(work),
          variant_(work.variants.facial_artery),
          offsets_(fold_offsets(variant_)),
          along_m_(artery_along_border_m(work.points, variant_)) {}

    void place(std::vector<Structure>& out) {
        const std::string course = std::string(name_of(variant_.fold)) + ", " + std::string(name_of(variant_.end));
        out.push_back(artery("facial artery", course, lay_over_the_jaw(),
                             "Cicekcibasi et al., Int J Morphol; J Korean Soc Dent Hyg 2025;25:499-508; Gelezhe 2021"));
        const std::vector<StructureNode> line = out.back().line;

        if (variant_.end == FacialArteryEnd::medial_canthal) place_angular(station(out.back(), "alare"), out);
        if (variant_.end == FacialArteryEnd::duplex) place_lateral_trunk(line, out);
        if (variant_.superior_labial) place_superior_labial(line, out);
        if (variant_.inferior_labial) place_inferior_labial(line, out);
        place_submental(out);
    }

 private:
    [[nodiscard]] static Vec3 station(const Structure& structure, std::string_view name) {
        for (const Station& s : structure.stations)
            if (s.name == name) return s.position_m;
        return structure.line.back().position_m;
    }

    /// The trunk, moved along the border until its softened line crosses the jaw where the seed put the crossing.
    [[nodiscard]] Course lay_over_the_jaw() {
        constexpr int kTries = 3;
        const double wanted_m = along_m_;
        Course course = lay_trunk();
        for (int i = 0; i < kTries; ++i) {
            const auto crossing_m = crossing_along_m(course.line);
            if (!crossing_m) break;
            along_m_ = std::max(kLeastAlongM, along_m_ + wanted_m - *crossing_m);
            course = lay_trunk();
        }
        return course;
    }

    [[nodiscard]] Course lay_trunk() const {
        const SidePoints& p = work_.points;
        std::vector<CoursePoint> trunk = up_to_mouth();
        if (variant_.end != FacialArteryEnd::labial) {
            add_to_alare(trunk);
            if (variant_.end != FacialArteryEnd::medial_canthal) add_lateral_nasal(trunk);
        } else {
            const Vec3 lip = p.cheilion + Vec3(-8.0, 10.0, 0.0) * kMm;
            trunk.push_back({"upper lip", skin_near(work_, lip), in_layer(Layer::muscle, 0.5), kSuperiorLabialRadiusM});
        }
        return lay_course(work_.tissue, trunk);
    }

    /// Where along the border a line first comes up over it.
    [[nodiscard]] std::optional<double> crossing_along_m(const std::vector<StructureNode>& line) const {
        const auto& border = work_.points.border;
        for (std::size_t i = 1; i < line.size(); ++i) {
            const Vec3& a = line[i - 1].position_m;
            const Vec3& b = line[i].position_m;
            const double below_m = border.height_of_m(a);
            const double above_m = border.height_of_m(b);
            if (below_m < 0.0 && above_m >= 0.0)
                return border.nearest_in_plan(a + (b - a) * (below_m / (below_m - above_m))).along_m;
        }
        return std::nullopt;
    }

    /// A depth drawn from a published mean and SD, held within what the tissue and the wall need.
    struct DrawnDepth {
        double depth_m = 0.0;
        bool gave_way = false;
    };
    [[nodiscard]] static DrawnDepth drawn_depth(const MeanSd& published, double score, double least_m,
                                                double most_m = std::numeric_limits<double>::infinity()) {
        const double drawn_m = published.at(score);
        const double held_m = std::max(least_m, std::min(most_m, drawn_m));
        return {held_m, std::abs(held_m - drawn_m) > kGaveWayM};
    }

    [[nodiscard]] std::vector<CoursePoint> up_to_mouth() const {
        const SidePoints& p = work_.points;
        const double r = kFacialArteryRadiusM;
        // artery and the nerve over it lie deep to platysma
        const Vec3 over_jaw = work_.tissue.nearest_skin(p.border.at(along_m_)).position_m;
        const double platysma_m = work_.tissue.layers_at(over_jaw).bottom_of(Layer::smas);
        const double floor_m = work_.tissue.layers_at(over_jaw).bottom_of(Layer::muscle) - r - kOffBoneM;
        const DrawnDepth notch_depth =
            drawn_depth(kNotchDepth, variant_.notch_depth_score, platysma_m + kBelowPlatysmaM, floor_m);
        const DepthRule notch = at_depth(notch_depth.depth_m);
        const SkinPoint notch_skin = skin_over_border(work_, along_m_, 1.0 * kMm, notch);
        const SkinPoint below = skin_over_border(work_, along_m_, -kHangDownM, in_layer(Layer::deep_fat, 0.8));

        const SkinPoint beside = skin_lateral_of(work_, p.cheilion, offsets_.at_cheilion_m);
        const Vec3 middle = 0.5 * (notch_skin.position_m + p.cheilion);
        // the published depth was taken 10 mm from the corner: a course farther out goes by its layer
        const bool measured = variant_.fold != FoldCourse::lateral;
        const DrawnDepth mouth = drawn_depth(kCheilionDepth, variant_.cheilion_depth_score, kLeastArteryDepthM);
        const DepthRule mouth_rule = measured ? at_depth(mouth.depth_m) : in_layer(Layer::deep_fat, 0.35);
        const Vec3 outward = Vec3(0.5, 0.0, 0.25) * (offsets_.at_cheilion_m - kMedialFromCheilionM);
        return {{"", below.position_m, in_layer(Layer::deep_fat, 0.8), r},
                {"antegonial notch", notch_skin.position_m, notch, r, true, notch_depth.gave_way},
                {"antegonial-cheilion midpoint", skin_near(work_, middle + outward), in_layer(Layer::deep_fat, 0.5), r},
                {"1 cm lateral to cheilion", beside.position_m, mouth_rule, 0.9 * r, measured, mouth.gave_way}};
    }

    void add_to_alare(std::vector<CoursePoint>& trunk) const {
        const SidePoints& p = work_.points;
        const Vec3 half_way = skin_near(work_, 0.5 * (p.cheilion + p.alare));
        const SkinPoint middle = skin_lateral_of(work_, half_way, offsets_.half_way_m);
        const SkinPoint ala = skin_lateral_of(work_, p.alare, offsets_.at_alare_m);
        const bool measured = variant_.fold != FoldCourse::lateral;
        const DrawnDepth depth = drawn_depth(kAlareDepth, variant_.alare_depth_score, kLeastArteryDepthM);
        const DepthRule rule = measured ? at_depth(depth.depth_m) : in_layer(Layer::deep_fat, 0.5);
        trunk.push_back({"cheilion-alare midpoint", middle.position_m, in_layer(Layer::deep_fat, 0.4),
                         0.75 * kFacialArteryRadiusM});
        trunk.push_back({"alare", ala.position_m, rule, 0.5 * kFacialArteryRadiusM, measured, depth.gave_way});
    }

    void add_lateral_nasal(std::vector<CoursePoint>& trunk) const {
        const Vec3 side_of_nose = work_.points.alare + Vec3(-3.5, 10.0, 2.0) * kMm;
        trunk.push_back(
            {"side of the nose", skin_near(work_, side_of_nose), in_layer(Layer::smas, 0.6), kLateralNasalRadiusM});
    }

    void place_angular(const Vec3& from_m, std::vector<Structure>& out) const {
        const SidePoints& p = work_.points;
        const Vec3 canthus = p.endocanthion + Vec3(3.0, -9.0, 0.0) * kMm;
        const std::array<CoursePoint, 3> points{
            CoursePoint{"from the facial artery", from_m, at_depth(work_.tissue.layers_at(from_m).depth_m),
                        0.5 * kFacialArteryRadiusM},
            CoursePoint{"beside the nose", skin_near(work_, 0.5 * (p.alare + canthus) + Vec3(2.0, 0, 0) * kMm),
                        in_layer(Layer::deep_fat, 0.4), kAngularRadiusM},
            CoursePoint{"medial canthus", skin_near(work_, canthus), in_layer(Layer::deep_fat, 0.3), kAngularRadiusM}};
        out.push_back(artery("angular artery", "", lay_course(work_.tissue, points),
                             "facial-artery branch study 2024, PMC11548982; depth by layer, assumed"));
    }

    /// Duplex: a second trunk leaves below the mouth and runs lateral to the fold up to the medial canthus.
    void place_lateral_trunk(const std::vector<StructureNode>& line, std::vector<Structure>& out) const {
        const SidePoints& p = work_.points;
        const Vec3 from = node_at_height(line, p.cheilion.y - 12.0 * kMm);
        const SkinPoint beside = skin_lateral_of(
            work_, p.cheilion,
            std::max(offsets_.at_cheilion_m + 5.0 * kMm, kFoldFromCheilionM + kLateralAtCommissure.mean_m));
        const SkinPoint ala = skin_lateral_of(
            work_, p.alare, std::max(offsets_.at_alare_m + 5.0 * kMm, kFoldFromAlareM + kLateralAtAla.mean_m));
        const std::array<CoursePoint, 3> points{
            CoursePoint{"division", from, at_depth(work_.tissue.layers_at(from).depth_m), 0.8 * kFacialArteryRadiusM},
            CoursePoint{"lateral to the fold at the mouth", beside.position_m, in_layer(Layer::deep_fat, 0.4),
                        0.7 * kFacialArteryRadiusM},
            CoursePoint{"lateral to the fold at the ala", ala.position_m, in_layer(Layer::deep_fat, 0.5),
                        0.5 * kFacialArteryRadiusM}};
        out.push_back(artery("facial artery, lateral trunk", "duplex", lay_course(work_.tissue, points),
                             "Gelezhe 2021, Aesthet Surg J 41:697-704"));
        place_angular(station(out.back(), "lateral to the fold at the ala"), out);
    }

    void place_labial(std::string_view name, double from_y_m, double lip_y_m, double radius_m,
                      std::vector<Structure>& out, const std::vector<StructureNode>& line) const {
        const SidePoints& p = work_.points;
        const Vec3 from = node_at_height(line, from_y_m);
        // along the lip between its muscle and its lining (course from memory)
        const DepthRule in_lip = in_layer(Layer::muscle, 0.5);
        std::vector<CoursePoint> points{{"origin", from, at_depth(work_.tissue.layers_at(from).depth_m), radius_m}};
        for (const double share : {0.75, 0.45, 0.12}) {
            const double y = lip_y_m + (p.cheilion.y - lip_y_m) * share * share * 0.5;
            const SkinPoint skin = skin_from_front(work_.tissue, p.stomion.x + share * (p.cheilion.x - p.stomion.x), y);
            points.push_back({share < 0.2 ? "midline" : (share < 0.6 ? "half lip" : ""), skin.position_m, in_lip,
                              radius_m * (0.6 + 0.4 * share)});
        }
        out.push_back(artery(name, "", lay_course(work_.tissue, points),
                             "facial-artery branch study 2024, PMC11548982; Arch Craniofac Surg 2023;24:266-72"));
    }

    void place_superior_labial(const std::vector<StructureNode>& line, std::vector<Structure>& out) const {
        const SidePoints& p = work_.points;
        const double from_y = p.cheilion.y + (variant_.superior_labial_above_cheilion ? 5.0 : -4.0) * kMm;
        place_labial("superior labial artery", from_y, p.labrale_superius.y + 1.0 * kMm, kSuperiorLabialRadiusM, out,
                     line);
    }

    void place_inferior_labial(const std::vector<StructureNode>& line, std::vector<Structure>& out) const {
        const SidePoints& p = work_.points;
        place_labial("inferior labial artery", p.cheilion.y - 7.0 * kMm, p.labrale_inferius.y - 1.0 * kMm,
                     kInferiorLabialRadiusM, out, line);
    }

    void place_submental(std::vector<Structure>& out) const {
        const DepthRule rule = in_layer(Layer::deep_fat, 0.6);
        std::vector<CoursePoint> points;
        // along the border's underside; where the chin comes first, up over it
        const double chin_m = work_.points.border.length_m() - 3.0 * kMm;
        for (const double share : {0.0, 0.35, 0.7, 1.0}) {
            const double along = along_m_ + share * std::min(kSubmentalLaidM, chin_m - along_m_);
            const Vec3 skin =
                work_.tissue.nearest_skin(work_.points.border.at(along) - Vec3(0.0, kSubmentalBelowM, 0.0)).position_m;
            points.push_back(
                {share == 0.0 ? "origin" : (share == 1.0 ? "below the chin" : ""), skin, rule, kSubmentalRadiusM});
        }
        if (along_m_ + kSubmentalLaidM > chin_m) {
            const double left_m = along_m_ + kSubmentalLaidM - chin_m;
            const Vec3 skin =
                work_.tissue
                    .nearest_skin(work_.points.border.at(chin_m) + Vec3(0.0, left_m - kSubmentalBelowM, 20.0 * kMm))
                    .position_m;
            points.push_back({"chin", skin, in_layer(Layer::deep_fat, 0.4), 0.7 * kSubmentalRadiusM});
        }
        out.push_back(artery("submental artery", "", lay_course(work_.tissue, points),
                             "length and calibre: facial-artery branch study 2024, PMC11548982; course from memory"));
    }

    const SideWork& work_;
    const FacialArteryVariant& variant_;
    FoldOffsets offsets_;
    double along_m_;
};

/// From the wall at a station to the nearest wall of a line.
double gap_to(const std::vector<StructureNode>& line, const Station& station) {
    double least_m = std::numeric_limits<double>::infinity();
    for (std::size_t i = 1; i < line.size(); ++i) {
        const SegmentPair pair =
            closest_between(station.position_m, station.position_m, line[i - 1].position_m, line[i].position_m);
        least_m = std::min(least_m, pair.distance_m - line[i].radius_m - station.radius_m);
    }
    return least_m;
}

/// Behind the artery, straighter, deep to platysma at the jaw. Siwetz et al. 2024, Medicina 60:805.
void place_facial_vein(const SideWork& work, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    const FoldOffsets artery_at = fold_offsets(work.variants.facial_artery);
    const double r = kFacialVeinRadiusM;
    constexpr double kBehindArteryM = 8.0e-3;  // on the cheek, assumed
    const DepthRule jaw = in_layer(Layer::deep_fat, 0.55);
    const DepthRule cheek = in_layer(Layer::deep_fat, 0.6);
    const SkinPoint mouth =
        skin_lateral_of(work, p.cheilion, std::max(28.0 * kMm, artery_at.at_cheilion_m + kBehindArteryM));
    const SkinPoint ala = skin_lateral_of(work, p.alare, std::max(14.0 * kMm, artery_at.at_alare_m + kBehindArteryM));
    const auto lay = [&](double along_m) {
        const std::array<CoursePoint, 5> points{
            CoursePoint{"", skin_over_border(work, along_m - 3.0 * kMm, -kHangDownM, jaw).position_m, jaw, r},
            CoursePoint{"jaw border", skin_over_border(work, along_m, 1.0 * kMm, jaw).position_m, jaw, r},
            CoursePoint{"level of the mouth", mouth.position_m, cheek, r},
            CoursePoint{"level of the ala", ala.position_m, cheek, 0.8 * r},
            CoursePoint{"medial canthus", skin_near(work, p.endocanthion + Vec3(1.5, -5.0, 0) * kMm),
                        in_layer(Layer::deep_fat, 0.3), 0.5 * r}};
        return lay_course(work.tissue, points);
    };
    // moved along the border until the gap between the walls is the drawn one
    const std::vector<StructureNode> artery_line = placed_before(out, "facial artery").line;
    const double gap_m = work.variants.facial_vein.gap_m;
    constexpr double kFarthestBackM = 3.0e-3;  // from the jaw angle
    double along_m = artery_along_border_m(p, work.variants.facial_artery) - gap_m - kFacialArteryRadiusM - r;
    Course course = lay(std::max(kFarthestBackM, along_m));
    constexpr int kTries = 3;
    for (int i = 0; i < kTries; ++i) {
        along_m += gap_to(artery_line, station_of(course, "jaw border")) - gap_m;
        course = lay(std::max(kFarthestBackM, along_m));
    }
    out.push_back(make_structure("facial vein", StructureKind::vein, "", std::move(course),
                                 "gap to the artery: Siwetz 2024, Medicina 60:805; calibre and cheek course assumed"));
}

}  // namespace

double artery_along_border_m(const SidePoints& points, const FacialArteryVariant& variant) {
    return points.border.along_at_chord(crossing_distance(points).at(variant.crossing_score), points.gonion_bone);
}

void place_facial_vessels(const SideWork& work, std::vector<Structure>& out) {
    FacialArtery(work).place(out);
    place_facial_vein(work, out);
}

void place_neck_vessels(const SideWork& work, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    constexpr double kBeforeNerveM = 5.0e-3, kBelowCanalM = 65.0e-3;
    const double r = kExternalJugularRadiusM;
    const DepthRule deep_to_platysma = in_layer(Layer::deep_fat, 0.5);
    const double z_at_nerve = p.ear_canal_bone.z + kNerveBehindCanalM;
    const auto side = [&](double y, double z) { return skin_from_side(work.tissue, y, z).position_m; };
    const double y65 = p.ear_canal_bone.y - kBelowCanalM;
    const std::array<CoursePoint, 5> external{
        CoursePoint{"behind the jaw angle", side(p.gonion_bone.y + 4.0 * kMm, p.gonion_bone.z - 13.0 * kMm),
                    in_layer(Layer::deep_fat, 0.6), r},
        CoursePoint{"65 below the ear canal", side(y65, z_at_nerve + kBeforeNerveM), deep_to_platysma, r},
        CoursePoint{"over the sternocleidomastoid", side(y65 - 36.0 * kMm, z_at_nerve + 3.0 * kMm), deep_to_platysma,
                    r},
        CoursePoint{"40 above the clavicle", side(y65 - 70.0 * kMm, z_at_nerve), deep_to_platysma, r},
        CoursePoint{"", side(y65 - 92.0 * kMm, z_at_nerve + 2.0 * kMm), deep_to_platysma, r}};
    out.push_back(
        make_structure("external jugular vein", StructureKind::vein, "", lay_course(work.tissue, external),
                       "McKinney & Katrana 1980, PRS 66:675-9; surface line from anatomy pages; calibre assumed"));

    // from below the chin down beside the midline, in the fat over the strap muscles (from memory)
    constexpr double kBesideMidlineM = 9.0e-3;
    const auto front = [&](double y) { return skin_from_front(work.tissue, kBesideMidlineM, y).position_m; };
    const std::array<CoursePoint, 4> anterior{
        CoursePoint{"below the hyoid", front(p.menton_bone.y - 22.0 * kMm), deep_to_platysma, kAnteriorJugularRadiusM},
        CoursePoint{"beside the larynx", front(p.menton_bone.y - 40.0 * kMm), deep_to_platysma,
                    kAnteriorJugularRadiusM},
        CoursePoint{"", front(p.menton_bone.y - 56.0 * kMm), deep_to_platysma, kAnteriorJugularRadiusM},
        CoursePoint{"low neck", front(p.menton_bone.y - 70.0 * kMm), deep_to_platysma, kAnteriorJugularRadiusM}};
    out.push_back(make_structure("anterior jugular vein", StructureKind::vein, "", lay_course(work.tissue, anterior),
                                 "from memory"));
}

}  // namespace sim
