#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/core/parallel.hpp"

/// A patient's head: skin, floor and the layers between them.
///
/// HeadTissue is what takes seconds to build and never changes: the distance below the skin, the distance to the floor
/// and the layer maps on one grid over face, jaw and neck. Structures are placed afterwards through its queries, as
/// often as one likes; Head joins the two and is what the rest of the simulator sees.
///
/// Trusted: face below the brow, jaw and neck down to 15 mm above the clavicle, at 0.05 mm in depth below
/// the skin, worse in folds, lips and lids (README.md). Not modelled: the auricle's cartilage, lids and nostrils as
/// layers of their own, tongue, larynx and airway.

namespace sim {

struct HeadParameters;
class SkinField;
struct HeadGrids;

/// Distances to the parts of the floor, positive in the tissue, negative inside the part.
struct FloorDistances {
    double bone_m = 0.0;
    double lining_m = 0.0;  ///< of the mouth: vestibule, cheek, palate
    double fascia_m = 0.0;  ///< deep cervical fascia

    [[nodiscard]] FloorKind nearest() const;
};

/// Bony points that the published courses of vessels and nerves are measured from. One side.
struct BonySide {
    Vec3 gonion_m{};                        ///< most lateral-inferior-posterior point of the angle
    Vec3 antegonial_notch_m{};              ///< highest point of the concavity before the angle
    Vec3 ear_canal_m{};                     ///< outer end of the bony canal
    double mandible_angle_rad = 0.0;        ///< between the back of the ramus and the lower border, seen from the side
    std::vector<Vec3> lower_border_m;       ///< of the mandible, gonion to menton, about 2 mm apart
    std::vector<Vec3> arch_lower_border_m;  ///< of the zygomatic arch, back to front, about 2 mm apart
    std::vector<Vec3> ramus_back_m;         ///< posterior border of the ramus, gonion to condyle, about 2 mm apart
};

struct BonyPoints {
    BonySide left, right;
    Vec3 menton_m{};  ///< lowest point of the symphysis

    [[nodiscard]] const BonySide& side(Side which) const { return which == Side::right ? right : left; }
};

/// Immutable once built; asked by any number of threads at once. Means the same as Anatomy where names agree.
struct HeadTissue {
    HeadTissue();
    ~HeadTissue();
    HeadTissue(const HeadTissue&) = delete;
    HeadTissue& operator=(const HeadTissue&) = delete;

    [[nodiscard]] LayerPoint layers_at(const Vec3& p_m) const;
    [[nodiscard]] Vec3 inward_at(const Vec3& p_m) const;
    [[nodiscard]] std::optional<SkinPoint> ray_to_skin(const Vec3& origin_m, const Vec3& direction) const;
    [[nodiscard]] SkinPoint nearest_skin(const Vec3& p_m) const;

    [[nodiscard]] double depth_m(const Vec3& p_m) const;  ///< below the skin, negative outside
    [[nodiscard]] FloorDistances floor_distances_m(const Vec3& p_m) const;
    [[nodiscard]] double bone_distance_m(const Vec3& p_m) const { return floor_distances_m(p_m).bone_m; }
    [[nodiscard]] Vec3 away_from_bone_at(const Vec3& p_m) const;  ///< unit vector in which bone recedes fastest

    /// Parotid gland, masseter and the glide space before it, as shares of their layer at p: 0 outside, 1 well inside.
    struct Windows {
        double parotid = 0.0;      ///< of the deep fat layer
        double masseter = 0.0;     ///< of the muscle layer
        double premasseter = 0.0;  ///< glide space, upper 1 mm of the deep fat layer
    };
    [[nodiscard]] Windows windows_at(const Vec3& p_m) const;

    [[nodiscard]] const HeadParameters& parameters() const;
    [[nodiscard]] const SkinField& skin_field() const;
    [[nodiscard]] const SkinField& young_reference() const;  ///< same person without laxity or folds
    [[nodiscard]] const BonyPoints& bony_points() const;

    std::unique_ptr<const HeadGrids> grids;  ///< the store behind the queries; for building and saving only
};

/// About 5 s on two threads. The result does not hang on how `parallel` schedules.
///
/// @throws InputError for parameters that SkinField refuses
[[nodiscard]] std::shared_ptr<const HeadTissue> build_head_tissue(const HeadParameters& parameters,
                                                                  const ParallelFor& parallel,
                                                                  const Progress& progress);

/// The grids as bytes, for a cache; load(save(t), t.parameters()) answers every query with the same bits.
[[nodiscard]] std::vector<std::byte> save(const HeadTissue& tissue);

/// @throws InputError when the bytes are of another version, other parameters, or cut short
[[nodiscard]] std::shared_ptr<const HeadTissue> load_head_tissue(std::span<const std::byte> bytes,
                                                                 const HeadParameters& parameters);

/// Walk in from a skin point to a depth below the skin, following the way in.
[[nodiscard]] Vec3 walk_in(const HeadTissue& tissue, const SkinPoint& from, double depth_m);

/// Walk in from a skin point to a fraction of a layer: 0 its top, 1 its bottom. `layer` is skin to muscle.
[[nodiscard]] Vec3 walk_in_to(const HeadTissue& tissue, const SkinPoint& from, Layer layer, double fraction);

/// Soft-tissue depth as the forensic tables measure it: shortest way to bone among 13 rays within 25 degrees of the
/// inward normal of the skin smoothed over 5 mm. Nothing when no bone lies within 45 mm.
[[nodiscard]] std::optional<double> soft_tissue_depth_m(const HeadTissue& tissue, const SkinPoint& skin);

/// Every landmark of the published depth tables, by the tables' names, left and right where paired; depth_m is the
/// soft-tissue depth to bone, bottom_m the layers just beneath.
[[nodiscard]] std::vector<Landmark> depth_landmarks(const HeadTissue& tissue);

class Head final : public Anatomy {
 public:
    Head(std::shared_ptr<const HeadTissue> tissue, std::vector<Structure> structures, std::vector<Ligament> ligaments,
         std::vector<Landmark> landmarks);

    [[nodiscard]] LayerPoint layers_at(const Vec3& p_m) const override { return tissue_->layers_at(p_m); }
    [[nodiscard]] Vec3 inward_at(const Vec3& p_m) const override { return tissue_->inward_at(p_m); }
    [[nodiscard]] std::optional<SkinPoint> ray_to_skin(const Vec3& origin_m, const Vec3& direction) const override {
        return tissue_->ray_to_skin(origin_m, direction);
    }
    [[nodiscard]] SkinPoint nearest_skin(const Vec3& p_m) const override { return tissue_->nearest_skin(p_m); }

    [[nodiscard]] const HeadTissue& tissue() const { return *tissue_; }

 private:
    std::shared_ptr<const HeadTissue> tissue_;
};

}  // namespace sim
