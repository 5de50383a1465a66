#pragma once

#include <span>
#include <vector>

#include "engine/view/ultrasound_map.hpp"

/// What the layers, vessels, nerves, glands and ligaments of a patient send back to a probe, and what a shaft does.
///
/// Levels in decibels are those that pictures of the face at 12 to 22 MHz show (bright skin, dark fat with bright
/// septa, bright fasciae, darker muscle with bright strands, dark vessels): order as published, figures assumed.

namespace view {

/// A needle or cannula in the tissue.
struct ShaftUnderProbe {
    std::span<const Vec3> line_m;  ///< axis in the reference shape
    double radius_m = 0.0;
};

/// Systolic rise of an artery, 0 before it to 1 at its height. @param time_s of the patient
[[nodiscard]] double pulse_at(double time_s);
inline constexpr double kPulsesPerMin = 70.0;  ///< assumed
inline constexpr double kArteryWidens = 0.08;  ///< of its radius, with each pulse; assumed, 5 to 10 % in arteries
inline constexpr double kVeinShutM = 1.5 * sim::kMm;  ///< pressed in so far, a vein is shut; assumed

/// All that rests: layers, glands, ligaments and the scatterers themselves, which belong to the tissue.
[[nodiscard]] EchoField field_at_rest(const sim::Anatomy& anatomy, const ProbeMap& map);

/// Ducts, nerves and vessels, at a moment of the pulse; arteries over veins.
void add_vessels(EchoField& field, const sim::Anatomy& anatomy, const ProbeMap& map, double pulse);

/// A bright line with echoes of itself below, where the plane holds the shaft.
void add_shaft(EchoField& field, const ProbeMap& map, const ShaftUnderProbe& shaft);

}  // namespace view
