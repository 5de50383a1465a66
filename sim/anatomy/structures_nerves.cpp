#include <algorithm>
#include <array>
#include <cmath>

#include "sim/anatomy/structures_side.hpp"

/// Branches of the facial nerve, great auricular and mental nerves.

namespace sim {

namespace {

constexpr double kBranchRadiusM = 0.5e-3;     // assumed; a branch is about 1 mm across (from memory)
constexpr double kAuricularRadiusM = 0.9e-3;  // from memory, low
constexpr double kMentalRadiusM = 0.8e-3;     // assumed

// Frontal branch over the lower border of the arch, from the apex of the tragus: 32.1, SEM 0.5, 21 hemifaces. Aesthet
// Surg J 2020;40:NP223-7. SD = SEM * sqrt(21).
constexpr double kFrontalArchMeanM = 32.1e-3, kFrontalArchSdM = 2.3e-3;
// Where it comes to lie within the SMAS: 9.6 above the arch, 12.2 behind the classic line. Pankratz 2020, JPRAS
// Open 26.
constexpr double kFrontalRisesM = 9.6e-3, kFrontalBehindLineM = 12.2e-3;
// Classic line: 5 below the tragus to 15 above the lateral end of the brow. Pitanguy & Ramos 1966.
constexpr double kClassicBelowTragusM = 5.0e-3, kClassicAboveBrowM = 15.0e-3;
constexpr double kFrontalStartBelowTragusM = 25.0e-3;  // PMC12904334
constexpr double kArchHeightM = 6.0e-3;                // lower to upper border of the arch, assumed
// Branches cross the arch 10 to 31 ahead of the tragus (mapping study quoted on a secondary clinical page).
constexpr std::array<double, 3> kFurtherFrontalAheadM{11.0e-3, 23.0e-3, 17.0e-3};  // within that band, assumed

// Zygomatic branches below the sub-SMAS plane: upper 4.07 +- 1.29, lower 1.41 +- 0.95. PRS 2013 (PMID 23358020).
constexpr double kUpperZygomaticMeanM = 4.07e-3, kUpperZygomaticSdM = 1.29e-3;
constexpr double kLowerZygomaticMeanM = 1.41e-3, kLowerZygomaticSdM = 0.95e-3;
constexpr double kLeastBelowPlaneM = 0.3e-3;  // assumed
// Crossing of a zygomatic branch and the duct: 51.6 from the lateral canthus. Folia Morphol 2007;66:109-14.
constexpr double kDuctCrossingFromCanthusM = 51.6e-3;
constexpr double kOverDuctM = 2.0e-3;             // between the centre lines, assumed
constexpr double kBehindMasseterFrontM = 9.0e-3;  // of that crossing, assumed
constexpr double kPastDuctM = 8.0e-3;             // from crossing to ligament at least, assumed

constexpr double kMarginalSpacingM = 5.0e-3;  // between branches at the artery, assumed
constexpr double kOverArteryM = 2.2e-3;       // nerve to artery, centre to centre: walls just apart, assumed
constexpr double kDipShare = 0.5;             // where it lies lowest, of the way from angle to artery; assumed

// Split of the cervical branch: 17.5 from the angle, square to the line mastoid-chin. Chowdhry 2010, PRS 126:875-9.
constexpr double kCervicalSplitMeanM = 17.5e-3, kCervicalSplitSdM = 2.6e-3;

constexpr double kAuricularBelowCanalM = 65.0e-3;  // McKinney & Katrana 1980, PRS 66:675-9

// Mental foramen: so far from the midline, so high over the lower border (from memory).
constexpr double kForamenLateralM = 25.0e-3, kForamenHeightM = 13.0e-3;

Structure nerve(std::string_view name, std::string variant, Course course, std::string_view source) {
    return make_structure(name, StructureKind::nerve, std::move(variant), std::move(course), source);
}

class FacialNerve {
 public:
    FacialNerve(const SideWork& work, const std::vector<Structure>& placed)
        : work_(work),
          p_(work.points),
          variant_(work.variants.facial_nerve),
          artery_(placed_before(placed, "facial artery")),
          duct_(placed_before(placed, "parotid duct")) {}

    void place(std::vector<Structure>& out) const {
        for (int i = 0; i < variant_.frontal_branches; ++i) place_frontal(i, out);
        place_upper_zygomatic(out);
        place_lower_zygomatic(out);
        place_buccal(out);
        for (int i = 0; i < variant_.marginal.branches; ++i) place_marginal(i, out);
        place_cervical(out);
    }

 private:
    [[nodiscard]] Vec3 from_side(double y_m, double z_m) const {
        return skin_from_side(work_.tissue, y_m, z_m).position_m;
    }
    [[nodiscard]] static std::string numbered(int i, int of) {
        return std::to_string(i + 1) + " of " + std::to_string(of);
    }

    /// The classic line seen from the side: how far ahead it is at a height.
    [[nodiscard]] double classic_line_z(double y_m) const {
        const double low_y = p_.tragus.y - kClassicBelowTragusM, high_y = p_.brow_lateral.y + kClassicAboveBrowM;
        return p_.tragus.z + (y_m - low_y) / (high_y - low_y) * (p_.brow_lateral.z - p_.tragus.z);
    }

    /// The first branch crosses the arch where it was measured from the tragus; further ones cross in the mapped band
    /// and come into the SMAS behind the classic line. Both published places hold, each for its own branch.
    void place_frontal(int i, std::vector<Structure>& out) const {
        const double r = kBranchRadiusM;
        SkinPoint crossing;
        double rises_z = 0.0;
        if (i == 0) {
            const double want_m = kFrontalArchMeanM + variant_.frontal_arch_score * kFrontalArchSdM;
            const SkinPoint start =
                skin_from_side(work_.tissue, arch_height_m(p_, p_.tragus.z + want_m), p_.tragus.z + want_m);
            crossing = search_skin(work_.tissue, start, [&](const SkinPoint& s) {
                           return std::array{glm::length(s.position_m - p_.tragus) - want_m,
                                             s.position_m.y - arch_height_m(p_, s.position_m.z)};
                       }).skin;
            rises_z = crossing.position_m.z + 4.0 * kMm;
        } else {
            const double ahead_m =
                kFurtherFrontalAheadM[static_cast<std::size_t>(i - 1) % kFurtherFrontalAheadM.size()];
            const double z = p_.tragus.z + ahead_m;
            crossing = skin_from_side(work_.tissue, arch_height_m(p_, z), z);
            rises_z = i == 1
                          ? classic_line_z(crossing.position_m.y + kArchHeightM + kFrontalRisesM) - kFrontalBehindLineM
                          : z + 3.0 * kMm;
        }
        const double y = crossing.position_m.y, z = crossing.position_m.z;
        rises_z = std::max(rises_z, z - 4.0 * kMm);
        const double rises_y = y + kArchHeightM + kFrontalRisesM;
        // branches reach the frontalis side by side, the measured one lowest
        const Vec3 end = p_.brow_lateral + Vec3(0.0, kClassicAboveBrowM + 5.0 * kMm * i, -2.0 * kMm * i);
        const Vec3 between = 0.5 * (from_side(rises_y, rises_z) + end) + Vec3(3.0, 0.0, 0.0) * kMm;
        const std::array<CoursePoint, 6> points{
            CoursePoint{"below the tragus",
                        from_side(p_.tragus.y - kFrontalStartBelowTragusM, p_.tragus.z + 11.0 * kMm),
                        in_layer(Layer::deep_fat, 0.6), r},
            CoursePoint{
                "", from_side(0.5 * (y + p_.tragus.y - kFrontalStartBelowTragusM), 0.5 * (z + p_.tragus.z + 9.0 * kMm)),
                in_layer(Layer::deep_fat, 0.5), r},
            CoursePoint{"lower border of the arch", crossing.position_m, in_layer(Layer::deep_fat, 0.3), r},
            CoursePoint{"enters the SMAS", from_side(rises_y, rises_z), in_layer(Layer::smas, 0.9), r},
            CoursePoint{"", work_.tissue.nearest_skin(between).position_m, in_layer(Layer::smas, 0.6), r},
            CoursePoint{"above the brow", work_.tissue.nearest_skin(end).position_m, in_layer(Layer::smas, 0.5), r}};
        out.push_back(
            nerve("frontal branch", numbered(i, variant_.frontal_branches), lay_course(work_.tissue, points),
                  "Aesthet Surg J 2020;40:NP223-7; Pankratz 2020, JPRAS Open 26:101-8; Pitanguy & Ramos 1966"));
    }

    void place_upper_zygomatic(std::vector<Structure>& out) const {
        const double deep_m = std::max(
            kLeastBelowPlaneM, kUpperZygomaticMeanM + variant_.upper_zygomatic_depth_score * kUpperZygomaticSdM);
        const double z0 = p_.tragus.z;
        const auto below_arch = [&](double ahead_m, double down_m) {
            return from_side(arch_height_m(p_, z0 + ahead_m) - down_m, z0 + ahead_m);
        };
        const double r = kBranchRadiusM;
        const std::array<CoursePoint, 5> points{
            CoursePoint{"in the parotid", below_arch(13e-3, 17e-3), in_layer(Layer::deep_fat, 0.6), r},
            CoursePoint{"", below_arch(26e-3, 12e-3), in_layer(Layer::deep_fat, 0.8), r},
            CoursePoint{"between the ligaments", below_arch(42e-3, 9e-3), below_smas(deep_m), r, true},
            CoursePoint{"", below_arch(50e-3, 7e-3), below_smas(deep_m), r},
            CoursePoint{"below the orbit",
                        work_.tissue.nearest_skin(p_.exocanthion + Vec3(0.0, -17.0, 0.0) * kMm).position_m,
                        in_layer(Layer::deep_fat, 0.6), r}};
        out.push_back(nerve("zygomatic branch, upper", "", lay_course(work_.tissue, points),
                            "depth: PRS 2013 (PMID 23358020); course from memory"));
    }

    /// Point of the duct at the published distance from the lateral canthus, as seen on the skin.
    [[nodiscard]] Vec3 duct_crossing() const {
        // over the masseter: in front of it both turn in
        Vec3 best = duct_.line.front().position_m;
        const double front_z = masseter_front(work_, best.y).position_m.z - kBehindMasseterFrontM;
        double least_m = 1.0;
        for (const StructureNode& node : duct_.line) {
            const Vec3 skin = work_.tissue.nearest_skin(node.position_m).position_m;
            const double miss_m = std::abs(glm::length(skin - p_.exocanthion) - kDuctCrossingFromCanthusM);
            if (node.position_m.z < front_z && miss_m < least_m) {
                least_m = miss_m;
                best = node.position_m;
            }
        }
        return best;
    }

    /// Crosses the duct, then passes at the upper masseteric ligament, where it lies just below the SMAS.
    void place_lower_zygomatic(std::vector<Structure>& out) const {
        const double r = kBranchRadiusM;
        const double below_m = std::max(
            kLeastBelowPlaneM + r, kLowerZygomaticMeanM + variant_.lower_zygomatic_depth_score * kLowerZygomaticSdM);
        const Vec3 crossing = duct_crossing();
        const LayerPoint at = work_.tissue.layers_at(crossing);
        const double over_m = variant_.zygomatic_superficial_to_duct ? -kOverDuctM : kOverDuctM;
        const DepthRule at_duct =
            below_smas(std::max(kLeastBelowPlaneM, at.depth_m + over_m - at.bottom_of(Layer::smas)));
        // through the ligament's lower end or beside it
        const double ligament_y = arch_height_m(p_, p_.tragus.z + 44e-3) - 18.0 * kMm;
        const double ligament_z = std::max(masseter_front(work_, ligament_y).position_m.z, crossing.z + kPastDuctM);
        const SkinPoint at_ligament = skin_from_side(work_.tissue, ligament_y, ligament_z);
        const Vec3 shift = variant_.zygomatic_through_masseteric_ligament ? Vec3(0.0) : Vec3(0.0, 5.0, 2.0) * kMm;
        const std::array<CoursePoint, 4> points{
            CoursePoint{"in the parotid", crossing + Vec3(0.0, -4.0, -16.0) * kMm, in_layer(Layer::deep_fat, 0.6), r},
            CoursePoint{"at the duct", crossing, at_duct, r},
            CoursePoint{"upper masseteric ligament",
                        work_.tissue.nearest_skin(at_ligament.position_m + shift).position_m, below_smas(below_m), r,
                        true},
            CoursePoint{"lateral to zygomaticus major",
                        work_.tissue.nearest_skin(p_.exocanthion + Vec3(1.0, -30.0, 4.0) * kMm).position_m,
                        in_layer(Layer::deep_fat, 0.5), r}};
        const char* course = variant_.zygomatic_through_masseteric_ligament ? "below or through the masseteric ligament"
                                                                            : "above the masseteric ligament";
        out.push_back(nerve("zygomatic branch, lower", course, lay_course(work_.tissue, points),
                            "PRS 2013 (PMID 23358020); Folia Morphol 2007;66:109-14"));
    }

    void place_buccal(std::vector<Structure>& out) const {
        // below the duct and along it, superficial over the buccal fat (course from memory)
        constexpr std::array<double, 2> kBelowDuctM{6.0e-3, 15.0e-3};
        constexpr double kBuccalAheadM = 7.0e-3;
        const double r = kBranchRadiusM;
        for (std::size_t i = 0; i < kBelowDuctM.size(); ++i) {
            const double down_m = kBelowDuctM[i];
            const Vec3 gland = duct_.line.front().position_m, bend = duct_.line[duct_.line.size() / 2].position_m;
            const SkinPoint front = masseter_front(work_, bend.y - down_m);
            const Vec3 corner = p_.cheilion + Vec3(14.0, 4.0 - 8.0 * static_cast<double>(i), 0.0) * kMm;
            const std::array<CoursePoint, 4> points{
                CoursePoint{"in the parotid", gland + Vec3(0.0, -down_m, -6.0 * kMm), in_layer(Layer::deep_fat, 0.6),
                            r},
                CoursePoint{
                    "on the masseter",
                    from_side(0.5 * (gland.y - down_m + front.position_m.y), 0.5 * (gland.z + front.position_m.z)),
                    in_layer(Layer::deep_fat, 0.7), r},
                CoursePoint{"over the buccal fat", from_side(front.position_m.y, front.position_m.z + kBuccalAheadM),
                            in_layer(Layer::deep_fat, 0.2), r},
                CoursePoint{"beside the mouth", work_.tissue.nearest_skin(corner).position_m,
                            in_layer(Layer::deep_fat, 0.5), r}};
            out.push_back(nerve(i == 0 ? "buccal branch, upper" : "buccal branch, lower", "",
                                lay_course(work_.tissue, points),
                                "superficial over the buccal fat: Stuzin, danger zones; course from memory"));
        }
    }

    /// Deep to platysma, and over the artery: between the two where they leave less room.
    [[nodiscard]] DepthRule over_artery(double along_m, double height_m) const {
        const Vec3 bone = p_.border.at(along_m) + Vec3(0.0, height_m, 0.0);
        Vec3 nearest = artery_.line.front().position_m;
        for (const StructureNode& node : artery_.line)
            if (std::hypot(node.position_m.y - bone.y, node.position_m.z - bone.z) <
                std::hypot(nearest.y - bone.y, nearest.z - bone.z))
                nearest = node.position_m;
        const LayerPoint at = work_.tissue.layers_at(nearest);
        return below_smas(std::max(0.3e-3, at.depth_m - kOverArteryM - at.bottom_of(Layer::smas)));
    }

    /// Least height of a course over the border of the jaw, where it runs along it.
    [[nodiscard]] double lowest_over_border_m(const Course& course) const {
        double lowest_m = 1.0;
        for (const StructureNode& node : course.line) {
            const Polyline::Foot foot = p_.border.nearest_in_plan(node.position_m);
            if (foot.along_m > 0.1 * kMm && foot.along_m < p_.border.length_m())
                lowest_m = std::min(lowest_m, node.position_m.y - foot.position_m.y);
        }
        return lowest_m;
    }

    /// Branch i, the first the lowest. @param shift_m raises its low places
    [[nodiscard]] Course lay_marginal(int i, double shift_m) const {
        const MarginalNerveVariant& m = variant_.marginal;
        const double up_m = kMarginalSpacingM * i;
        const double at_artery_m = artery_along_border_m(p_, work_.variants.facial_artery);
        const double below_mouth_m = p_.border.nearest_in_plan(p_.cheilion).along_m;
        const double chin_m = std::min(below_mouth_m + 9.0 * kMm, p_.border.length_m() - 6.0 * kMm);
        const double r = kBranchRadiusM;
        const DepthRule deep_to_platysma = in_layer(Layer::deep_fat, 0.3), at_chin = in_layer(Layer::muscle, 0.3);
        std::vector<CoursePoint> points;
        const auto pass = [&](const char* station, double along_m, double height_m, const DepthRule& rule) {
            points.push_back({station, skin_over_border(work_, along_m, height_m, rule).position_m, rule, r});
        };
        const double exit_y = p_.gonion_bone.y + std::max(14.0 * kMm, m.at_angle_m + 7.0 * kMm) + up_m;
        points.push_back(
            {"leaves the parotid", from_side(exit_y, p_.gonion_bone.z - 7.0 * kMm), in_layer(Layer::deep_fat, 0.5), r});
        pass("jaw angle", 1.0 * kMm, m.at_angle_m + 0.6 * up_m + shift_m, deep_to_platysma);
        const bool dips = i == 0 && m.lowest_m < std::min(m.at_angle_m, m.at_artery_m) - 0.1 * kMm;
        if (dips) pass("lowest", kDipShare * at_artery_m, m.lowest_m + shift_m, deep_to_platysma);
        pass("over the facial artery", at_artery_m, m.at_artery_m + up_m + shift_m,
             over_artery(at_artery_m, m.at_artery_m + up_m));
        pass("below the corner of the mouth", below_mouth_m, m.below_commissure_m + 0.6 * up_m, deep_to_platysma);
        pass("chin", chin_m, m.below_commissure_m + 2.0 * kMm + 0.6 * up_m, at_chin);
        return lay_course(work_.tissue, points);
    }

    void place_marginal(int i, std::vector<Structure>& out) const {
        const MarginalNerveVariant& m = variant_.marginal;
        Course course = lay_marginal(i, 0.0);
        // a course is softened between its stations: laid again until its lowest place is on the drawn side of the
        // border
        constexpr int kMostTries = 4;
        double shift_m = 0.0;
        for (int n = 0; i == 0 && n < kMostTries && (lowest_over_border_m(course) < 0.0) != m.below_border(); ++n) {
            const double least_m =
                m.below_border() ? std::min(m.lowest_m, -0.5 * kMm) : std::max(m.lowest_m, 0.5 * kMm);
            shift_m += least_m - lowest_over_border_m(course);
            course = lay_marginal(i, shift_m);
        }
        std::string variant = numbered(i, m.branches);
        if (i == 0) variant += m.below_border() ? ", dips below the border" : ", above the border";
        out.push_back(nerve("marginal mandibular nerve", variant, std::move(course),
                            "J Craniofac Surg 2012;23:1488-90; Marcuzzo 2019, Clin Anat; Ziarah & Atkinson 1981"));
    }

    void place_cervical(std::vector<Structure>& out) const {
        const Vec3 line = p_.menton_bone - p_.mastoid_tip_bone;
        const Vec3 from = p_.gonion_bone - p_.mastoid_tip_bone;
        const Vec3 foot = p_.mastoid_tip_bone + line * (glm::dot(from, line) / glm::dot(line, line));
        const double split_m = kCervicalSplitMeanM + variant_.cervical_split_score * kCervicalSplitSdM;
        // the perpendicular through the angle, followed downwards past the line
        Vec3 down = foot - p_.gonion_bone;
        if (down.y > 0.0) down = -down;
        const double length = std::hypot(down.y, down.z);
        const double dy = length > 1.0 * kMm ? down.y / length : -1.0, dz = length > 1.0 * kMm ? down.z / length : 0.0;
        const double y = p_.gonion_bone.y + split_m * dy, z = p_.gonion_bone.z + split_m * dz;
        const double r = kBranchRadiusM;
        const DepthRule rule = in_layer(Layer::deep_fat, 0.2);
        const std::array<CoursePoint, 4> points{
            CoursePoint{"leaves the parotid", from_side(p_.gonion_bone.y + 4.0 * kMm, p_.gonion_bone.z - 6.0 * kMm),
                        in_layer(Layer::deep_fat, 0.5), r},
            CoursePoint{"split", from_side(y, z), rule, r},
            CoursePoint{"", from_side(y - 12.0 * kMm, z + 1.0 * kMm), rule, r},
            CoursePoint{"on the neck", from_side(y - 26.0 * kMm, z + 1.0 * kMm), rule, r}};
        out.push_back(nerve("cervical branch", "", lay_course(work_.tissue, points),
                            "Chowdhry 2010, PRS 126:875-9; lower course from memory"));
    }

    const SideWork& work_;
    const SidePoints& p_;
    const FacialNerveVariant& variant_;
    const Structure& artery_;
    const Structure& duct_;
};

void place_great_auricular(const SideWork& work, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    const double r = kAuricularRadiusM;
    const auto side = [&](double y, double z) { return skin_from_side(work.tissue, y, z).position_m; };
    const double y65 = p.ear_canal_bone.y - kAuricularBelowCanalM, z65 = p.ear_canal_bone.z + kNerveBehindCanalM;
    const DepthRule below_fascia = in_layer(Layer::muscle, 0.85);
    const std::array<CoursePoint, 4> points{
        CoursePoint{"behind the sternocleidomastoid", side(y65 - 27.0 * kMm, z65 - 20.0 * kMm), below_fascia, r},
        CoursePoint{"65 below the ear canal", side(y65, z65), below_fascia, r},
        CoursePoint{"", side(y65 + 20.0 * kMm, z65 + 2.0 * kMm), in_layer(Layer::muscle, 0.3), r},
        CoursePoint{"below the lobule", side(p.otobasion_inferius.y - 9.0 * kMm, p.otobasion_inferius.z + 3.0 * kMm),
                    in_layer(Layer::deep_fat, 0.2), 0.7 * r}};
    out.push_back(nerve("great auricular nerve", "", lay_course(work.tissue, points),
                        "McKinney & Katrana 1980, PRS 66:675-9; course above from memory"));
}

void place_mental(const SideWork& work, std::vector<Structure>& out) {
    const SidePoints& p = work.points;
    const double r = kMentalRadiusM;
    const DepthRule on_bone = above_floor(r + 0.4 * kMm);
    const SkinPoint start =
        work.tissue.nearest_skin(p.border.at(0.6 * p.border.length_m()) + Vec3(6.0, 13.0, 6.0) * kMm);
    const SkinPoint foramen = search_skin(work.tissue, start, [&](const SkinPoint& s) {
                                  const Vec3 deep = brought_to(work.tissue, s.position_m, on_bone);
                                  return std::array{deep.x - p.menton_bone.x - kForamenLateralM,
                                                    p.border.height_of_m(deep) - kForamenHeightM};
                              }).skin;
    const Vec3 lip(0.5 * (p.cheilion.x + p.stomion.x), p.labrale_inferius.y - 3.0 * kMm, 0.0);
    const Vec3 halfway = 0.5 * (foramen.position_m + skin_from_front(work.tissue, lip.x, lip.y).position_m);
    const std::array<CoursePoint, 3> points{
        CoursePoint{"mental foramen", foramen.position_m, on_bone, r},
        CoursePoint{"", work.tissue.nearest_skin(halfway).position_m, in_layer(Layer::muscle, 0.6), 0.8 * r},
        CoursePoint{"lower lip", skin_from_front(work.tissue, lip.x, lip.y).position_m, in_layer(Layer::muscle, 0.5),
                    0.5 * r}};
    out.push_back(nerve("mental nerve", "", lay_course(work.tissue, points), "from memory"));
}

}  // namespace

void place_facial_nerve(const SideWork& work, std::vector<Structure>& out) {
    std::vector<Structure> branches;
    FacialNerve(work, out).place(branches);
    out.insert(out.end(), std::make_move_iterator(branches.begin()), std::make_move_iterator(branches.end()));
}

void place_sensory_nerves(const SideWork& work, std::vector<Structure>& out) {
    place_great_auricular(work, out);
    place_mental(work, out);
}

}  // namespace sim
