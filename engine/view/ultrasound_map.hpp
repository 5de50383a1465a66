#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "engine/view/ultrasound_beam.hpp"
#include "sim/anatomy/anatomy.hpp"

/// Where a linear probe stands on the skin, and which place of the tissue each pixel of its picture shows.
///
/// The footprint is flat and the face is not: where the skin falls away from it gel fills the gap until it is too wide,
/// and beyond that nothing is heard. A probe that is pressed on flattens the skin under it; the tissue from there to
/// the floor is squeezed evenly along the beam. At rest, with no pressure, places are those of the reference shape.

namespace view {

using sim::Vec3;

struct ProbePose {
    Vec3 at_m{};            ///< skin under the middle of the footprint
    Vec3 inward{0, 0, -1};  ///< unit: where the beam goes
    Vec3 along{1, 0, 0};    ///< unit, square to inward: towards the picture's right
    double press_m = 0.0;   ///< how far the skin is pressed in, 0 to 4 mm

    [[nodiscard]] Vec3 across() const { return glm::cross(along, inward); }
    friend bool operator==(const ProbePose&, const ProbePose&) = default;
};

/// A probe held square to the skin. Turned by 0 the picture's right is the right of whoever faces the skin; turned
/// clockwise, as they see it, by 90 degrees it points to the patient's feet, the picture's left to the head.
[[nodiscard]] ProbePose probe_on(const sim::SkinPoint& skin, double turn_rad, double press_m = 0.0);

inline constexpr double kGelFilmM = 0.3 * sim::kMm;     ///< between footprint and skin, always; assumed
inline constexpr double kGelBridgesM = 1.3 * sim::kMm;  ///< the widest gap that gel fills; assumed
inline constexpr double kMostPressM = 4.0 * sim::kMm;

/// How one line of sight lies in the tissue. Depths in mm: `y` below the footprint as pictured, `ref` along the same
/// line in the reference shape, from the plane through ProbePose::at_m.
struct LineOfSight {
    double begin_mm = 0.0;  ///< y where tissue begins
    double skin_mm = 0.0;   ///< ref of the skin
    double squeeze = 1.0;   ///< ref over y above the floor
    double shift_mm = 0.0;  ///< ref less y below the floor
    double floor_mm = 0.0;  ///< y of the floor
    bool contact = true;
    std::array<double, sim::kTissueLayers + 1> edge_mm{};  ///< ref of the skin and of the layers' bottoms
    std::array<double, sim::kTissueLayers + 1> square{};   ///< cosine of the angle between beam and edge's normal

    [[nodiscard]] double ref_mm(double y_mm) const {
        return y_mm < floor_mm ? skin_mm + (y_mm - begin_mm) * squeeze : y_mm + shift_mm;
    }
    [[nodiscard]] double y_mm(double ref) const {
        const double y = begin_mm + (ref - skin_mm) / squeeze;
        return y < floor_mm ? y : ref - shift_mm;
    }
};

struct ProbeMap {
    ProbePose pose;
    EchoGrid grid;
    std::vector<LineOfSight> lines;

    /// Asks the anatomy every half millimetre of the footprint.
    ProbeMap(const sim::Anatomy& anatomy, const ProbePose& pose, const ProbeSettings& settings);

    [[nodiscard]] Vec3 place_mm(double x_mm, double ref_mm) const;
    /// Place of the tissue, in the reference shape, that a line shows at a depth below the footprint.
    [[nodiscard]] Vec3 place_m(int line, double y_m) const;
    /// Depth below the footprint at which a line shows a layer's bottom (Layer::outside: the skin); beyond the picture
    /// where the line does not come to it.
    [[nodiscard]] double depth_of_m(int line, sim::Layer layer) const;

    static constexpr double kBeyondMm = 1000.0;  ///< an edge that no line came to
};

}  // namespace view
