#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/model.hpp"
#include "sim/state.hpp"
#include "sim/trace.hpp"

/// What the skin shows of a visit at one moment: pencil marks, a pulse that was felt, fluid that was put in, pallor,
/// blood under the skin and on it, skin that was wiped. For the eye alone; what it follows from is the patient stage's.
///
/// Places are of the reference shape. Numbers are rounded to what can be told apart, so that two moments that look
/// alike compare equal and nothing is drawn anew between them.

namespace view {

using sim::Vec3;

struct SkinSigns {
    struct Mark {
        std::string name;  ///< "jaw artery"
        Vec3 skin_m{};
        std::optional<Vec3> from_m{};  ///< end of a vector: where its entry was marked
        friend bool operator==(const Mark&, const Mark&) = default;
    };
    struct Pulse {
        Vec3 skin_m{};
        double fresh = 1.0;  ///< 1 just felt .. 0 gone
        friend bool operator==(const Pulse&, const Pulse&) = default;
    };
    /// Fluid that lifts the skin.
    struct Bleb {
        Vec3 skin_m{};
        double radius_m = 0.0;  ///< of the disc that is lifted
        double height_m = 0.0;  ///< of its middle
        double pale = 0.0;      ///< 0 to 1
        friend bool operator==(const Bleb&, const Bleb&) = default;
    };
    /// A part of the skin that has another colour.
    struct Patch {
        Vec3 skin_m{};
        double radius_m = 0.0;
        double strength = 0.0;  ///< 0 to 1
        double age = 0.0;       ///< of a bruise: 0 fresh and red .. 1 dusky
        friend bool operator==(const Patch&, const Patch&) = default;
    };
    struct Drop {
        Vec3 skin_m{};
        double radius_m = 0.0;
        friend bool operator==(const Drop&, const Drop&) = default;
    };
    struct Wipe {
        double brown = 0.0;  ///< povidone-iodine, 0 to 1
        double wet = 0.0;    ///< 0 to 1
        friend bool operator==(const Wipe&, const Wipe&) = default;
    };

    std::vector<Mark> marks;
    std::vector<Pulse> pulses;  ///< felt within kPulseShownS
    std::vector<Bleb> blebs;
    std::vector<Patch> blanched, bruises;
    std::vector<Drop> drops;  ///< of blood, at entries
    std::array<Wipe, sim::kSkinAreas> wiped;

    /// Whether skin itself looks different.
    [[nodiscard]] bool colours() const;
    friend bool operator==(const SkinSigns&, const SkinSigns&) = default;
};

inline constexpr double kPulseShownS = 12.0;     ///< of steps; by eye
inline constexpr double kFluidGoneS = 20 * 60;   ///< time constant, as fluid_share() has it; assumed
inline constexpr double kPallorFadesS = 8 * 60;  ///< time constant after fluid went into an artery; assumed
inline constexpr double kLiftsShare = 0.5;       ///< of the fluid; assumed
inline constexpr double kDuskyS = 30 * 60;       ///< until a bruise has its later colour; assumed

/// @param events of the attempt, rising in step; those of later steps than the state's are not looked at
[[nodiscard]] SkinSigns skin_signs(const sim::Model& model, const sim::State& state,
                                   std::span<const sim::Event> events);

/// How high a bleb stands: the skin over a disc of radius R is lifted as H (1 - (r/R)^2)^2, whose volume is pi R^2 H
/// / 3.
[[nodiscard]] double bleb_height_m(double volume_ml, double radius_m);

}  // namespace view
