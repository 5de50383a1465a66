#pragma once

#include <glm/vec3.hpp>

#include "sim/anatomy/skin_field.hpp"

/// Where the landmarks of anthropometry lie on a skin field, as first guesses: on the skin, found from the same lines
/// that draw the face. Definitions after Farkas 1994, Anthropometry of the Head and Face (from memory).

namespace sim {

struct SidedPoint {
    glm::vec3 left{}, right{};
};

/// How far the suture lies above the deepest point of the skin: some millimetres in every survey, 6 assumed.
inline constexpr float kNasionAboveSellionMm = 6.0f;

/// Millimetres, on the skin.
struct FaceLandmarks {
    glm::vec3 sellion{};  ///< deepest point of the root of the nose
    glm::vec3 nasion{};   ///< over the suture of frontal and nasal bones, kNasionAboveSellionMm higher
    glm::vec3 pronasale{}, subnasale{}, labrale_superius{}, stomion{}, labrale_inferius{}, sublabiale{};
    glm::vec3 pogonion{}, gnathion{}, menton{};
    SidedPoint endocanthion, exocanthion;
    SidedPoint alare;               ///< widest point of the wing of the nose
    SidedPoint cheilion;            ///< corner of the mouth
    SidedPoint zygion;              ///< widest point of the zygomatic arch
    SidedPoint gonion;              ///< jaw angle
    SidedPoint tragion;             ///< notch above the tragus
    SidedPoint otobasion_inferius;  ///< where the lobule meets the cheek
};

[[nodiscard]] FaceLandmarks face_points_mm(const SkinField& field);

}  // namespace sim
