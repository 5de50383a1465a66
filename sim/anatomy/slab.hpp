#pragma once

#include <array>
#include <vector>

#include "sim/anatomy/anatomy.hpp"

/// An analytic flat patient: skin is the plane z = 0, the tissue lies below it (z < 0), every layer is a slice.
///
/// For drills and for tests worked by hand: depth is exactly -z, the way in is exactly -z.

namespace sim {

struct SlabParameters {
    /// Thicknesses of skin, superficial fat, SMAS, deep fat, muscle; each > 0. Assumed: mid-cheek values of the head.
    std::array<double, kTissueLayers> thickness_m{1.5 * kMm, 4.5 * kMm, 1.0 * kMm, 3.0 * kMm, 5.0 * kMm};
    FloorKind floor = FloorKind::bone;
    std::vector<Structure> structures;
    std::vector<Ligament> ligaments;
};

class Slab final : public Anatomy {
 public:
    /// @throws InputError naming the layer whose thickness is not > 0, or the structure or ligament that has no length
    explicit Slab(SlabParameters parameters);

    [[nodiscard]] LayerPoint layers_at(const Vec3& p_m) const override;
    [[nodiscard]] Vec3 inward_at(const Vec3& p_m) const override;
    [[nodiscard]] std::optional<SkinPoint> ray_to_skin(const Vec3& origin_m, const Vec3& direction) const override;
    [[nodiscard]] SkinPoint nearest_skin(const Vec3& p_m) const override;

    static constexpr double kHalfWidthM = 0.1;  ///< the slab's skin is the square |x|, |y| <= 100 mm

 private:
    std::array<double, kTissueLayers> bottom_m_{};
    FloorKind floor_;
};

}  // namespace sim
