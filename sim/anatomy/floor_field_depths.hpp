#pragma once

#include <array>
#include <limits>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/anatomy/floor_field.hpp"

/// Published soft-tissue depths, where on the face they are measured, and how.
///
/// Two tables, both quoted from memory: the pooled adult means of Stephan & Simpson 2008 (J Forensic Sci 53:1257),
/// sexes together, and the European-derived, normal build means of Rhine & Moore 1982, by sex. They disagree in places,
/// because needle, ultrasound and CT measure along different lines.

namespace sim {

inline constexpr float kNoDepth = std::numeric_limits<float>::quiet_NaN();

struct DepthLandmark {
    std::string_view name;
    bool paired = false;
    bool left_out = false;       ///< the fit of the floor does not use it
    float pooled_mm = kNoDepth;  ///< Stephan & Simpson 2008 (from memory)
    float woman_mm = kNoDepth;   ///< Rhine & Moore 1982 (from memory)
    float man_mm = kNoDepth;     ///< the same
    float other_mm = kNoDepth;   ///< another series, named in other_source
    std::string_view other_source = {};

    [[nodiscard]] bool has_depth() const;
    /// What the floor is fitted to: the pooled mean with half the second table's sex difference; the middle of the
    /// tables where they are more than 3 mm apart. NaN without any published depth.
    [[nodiscard]] float target_mm(float male) const;
};

[[nodiscard]] std::span<const DepthLandmark> depth_landmark_table();

/// A landmark found on one patient.
struct DepthSite {
    const DepthLandmark* table;
    Side side;
    glm::vec3 skin_mm;
};

/// Every landmark of the table on this skin, paired ones left and right, in the table's order.
[[nodiscard]] std::vector<DepthSite> depth_sites(const SkinField& skin);

/// Half step over which the skin's normal is taken for a depth: wider than folds and pores.
inline constexpr float kNormalSmoothingMm = 5.0f;

/// The directions in which a depth is looked for: straight in and on two rings, 25 degrees at most.
[[nodiscard]] std::array<Vec3, 13> depth_rays(const Vec3& normal);

/// Shortest way to bone among 13 rays within 25 degrees of the inward normal of the smoothed young skin: a probe is
/// held square to the bone as well as to the skin, and a single ray would miss a nasal bone. Nothing within 45 mm: no
/// value.
[[nodiscard]] std::optional<float> bone_depth_mm(const FloorField& floor, const glm::vec3& skin_mm);

/// First skin along a ray from outside, in the patient's own space.
[[nodiscard]] std::optional<glm::vec3> skin_along_ray_mm(const SkinField& skin, const glm::vec3& origin_mm,
                                                         const glm::vec3& direction);

/// Weights of Gaussians at `centres` that smooth `residuals`: (G + ridge I) w = r.
[[nodiscard]] std::vector<double> ridge_weights(std::span<const glm::vec3> centres, std::span<const double> residuals,
                                                float width_mm, double ridge);

}  // namespace sim
