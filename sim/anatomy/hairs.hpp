#pragma once

#include <cstdint>
#include <vector>

#include <glm/vec2.hpp>

#include "sim/anatomy/skin_field.hpp"
#include "sim/core/random.hpp"

/// Lashes and brow hairs: strands for the renderer, and the brow's strokes that strands and paint share. For looking at
/// only; nothing in the simulation asks them.

namespace sim {

/// One hair of a brow on the frontal plane of the even face, mm.
struct BrowHair {
    glm::vec2 from{}, to{};
    float bend = 0.0f;      ///< sideways, as a share of the length
    float strength = 1.0f;  ///< 0..1: how much of the skin below it hides
    bool grey = false;
};
/// Both brows: upright near the nose, lying outwards towards the tail.
[[nodiscard]] std::vector<BrowHair> brow_hairs(const skin::Form& form, Random& random);

enum class HairKind : std::uint8_t { lash, brow, grey_brow };

struct HairVertex {
    glm::vec3 position_mm{};
    glm::vec3 normal{};  ///< unit, of the strip, to the side away from the skin
    HairKind kind = HairKind::lash;
};

/// Thin tapered strips to be drawn from both sides, one point at the end of each. The same bits for the same head.
struct HairMesh {
    std::vector<HairVertex> vertices;
    std::vector<std::uint32_t> triangles;  ///< three indices each
};
inline constexpr std::size_t kMostHairTriangles = 2000;  ///< of a head: what a frame can spare for them

/// Lashes along both margins of the closed lids, and the brow hairs that stand off the skin.
[[nodiscard]] HairMesh build_hairs(const SkinField& field);

}  // namespace sim
