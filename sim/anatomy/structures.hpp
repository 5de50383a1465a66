#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/anatomy/variants.hpp"

/// Vessels, nerves, parotid gland and duct, retaining ligaments and landmarks of one patient.
///
/// Everything is placed by published distances in the patient's own tissue, each side on its own: two distances on the
/// skin or along a bone are solved for at once, the depth is a published one or a share of a layer, and whatever would
/// run into bone gives way. Structure::source and Station::placed say which figure came from where.

namespace sim {

struct HeadTissue;

struct Placement {
    std::vector<Structure> structures;
    std::vector<Ligament> ligaments;
    std::vector<Landmark> landmarks;
};

struct PlacementOptions {
    /// Whether the mandibular ligament goes on through platysma to the skin. Minelli et al. 2023, Aesthetic Plast Surg
    /// 47:170-80, found no such part in 49 heads; older descriptions have it.
    bool mandibular_ligament_reaches_skin = false;
};

struct SidePoints;

/// Places courses in one patient as often as one likes: what hangs on the patient alone is found once.
class StructurePlacer {
 public:
    /// @param tissue outlives the placer
    /// @throws InputError for a head whose skin lies outside anything placeable
    explicit StructurePlacer(const HeadTissue& tissue);
    ~StructurePlacer();
    StructurePlacer(const StructurePlacer&) = delete;
    StructurePlacer& operator=(const StructurePlacer&) = delete;

    /// Same tissue and variants, same bits. @throws InputError as the constructor
    [[nodiscard]] Placement place(const PlacedVariants& variants, const PlacementOptions& options = {}) const;

    [[nodiscard]] const std::vector<Landmark>& landmarks() const { return landmarks_; }

    /// What courses of one side are measured from, seen as though it were the left one.
    [[nodiscard]] const SidePoints& points(Side side) const { return side == Side::right ? *right_ : *left_; }

 private:
    const HeadTissue& tissue_;
    std::vector<Landmark> landmarks_;
    std::unique_ptr<const SidePoints> left_, right_;
};

/// Place everything that a seed stands for, once. Seed 0: the commonest course of everything, every figure at its mean.
/// @throws InputError as StructurePlacer
[[nodiscard]] Placement place_structures(const HeadTissue& tissue, std::uint64_t variant_seed,
                                         const PlacementOptions& options = {});

}  // namespace sim
