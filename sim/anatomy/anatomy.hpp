#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/core/vec.hpp"

/// What the rest of the simulator may ask of a patient's anatomy, be it the analytic slab or a head.
///
/// Depth is measured from the skin, positive inwards. Layers are level sets of one depth coordinate and so never cross:
/// the five bottoms of a LayerPoint never decrease. SI throughout. Everything here is immutable once built, so that any
/// number of threads may ask at once.

namespace sim {

enum class Layer : std::uint8_t { outside, skin, superficial_fat, smas, deep_fat, muscle, floor };
inline constexpr int kTissueLayers = 5;  ///< skin to muscle: the layers that have a bottom

enum class FloorKind : std::uint8_t { bone, lining, fascia };  ///< lining: the mouth; fascia: deep cervical fascia
enum class Side : std::uint8_t { left, right, midline };

[[nodiscard]] std::string_view name_of(Layer layer);
[[nodiscard]] std::string_view name_of(FloorKind kind);
[[nodiscard]] std::string_view name_of(Side side);

/// Where a point lies among the layers.
struct LayerPoint {
    Layer layer = Layer::outside;
    double fraction = 0.0;  ///< 0 at the layer's top, 1 at its bottom
    double depth_m = 0.0;   ///< below the skin; negative outside
    /// Depth below the skin of the bottoms of skin, superficial fat, SMAS or platysma, deep fat, muscle along the way
    /// in; the last is the floor.
    std::array<double, kTissueLayers> bottom_m{};
    FloorKind floor = FloorKind::bone;

    [[nodiscard]] double bottom_of(Layer which) const { return bottom_m[static_cast<std::size_t>(which) - 1]; }
};

struct SkinPoint {
    Vec3 position_m{};
    Vec3 normal{};  ///< unit, from the tissue to the air
};

enum class StructureKind : std::uint8_t { artery, vein, nerve, duct, gland };
[[nodiscard]] std::string_view name_of(StructureKind kind);

/// One vertex of a structure's centre line.
struct StructureNode {
    Vec3 position_m{};
    double radius_m = 0.0;
};

/// A named place along a structure, for the tables.
struct Station {
    std::string name;
    Vec3 position_m{};
    double depth_m = 0.0;
    double radius_m = 0.0;
    bool placed = true;  ///< true: the depth was put there; false: it came out of layer and neighbours
};

/// A vessel, nerve, duct or gland: a chain of tapered capsules.
struct Structure {
    std::string name;  ///< "facial artery": the trade's term, without the side
    StructureKind kind = StructureKind::artery;
    Side side = Side::left;
    std::string variant;              ///< the course that the seed chose, "" where there is one only
    std::vector<StructureNode> line;  ///< at least two nodes
    double margin_m = 0.0;            ///< corridor around the wall in which passing is counted
    double wall_force_n = 0.0;        ///< 0: judged by contact, not force
    std::vector<Station> stations;
    std::string source;
};

/// A retaining ligament: a sheet of fibres ruled between a line near the floor and a line near the skin.
struct Ligament {
    std::string name;
    Side side = Side::left;
    std::vector<Vec3> deep_m,
        superficial_m;              ///< same number of vertices, at least two; the sheet is ruled between them
    double half_thickness_m = 0.0;  ///< reach of the fibres to each side of the sheet
    double strength_n = 0.0;        ///< to push a 21 G blunt cannula through, quasi-static
    double stretch_m = 0.0;         ///< travel of the tip from first contact to parting
    std::string source;
};

/// A named landmark with the depths of the published tables beneath it.
struct Landmark {
    std::string name;
    Side side = Side::midline;
    SkinPoint skin;
    double depth_m = 0.0;  ///< to bone or floor, as the tables measure it
    std::array<double, kTissueLayers> bottom_m{};
};

/// Nearest point of a structure to a straight piece of shaft.
struct Clearance {
    int structure = -1;                                           ///< index into structures()
    double distance_m = std::numeric_limits<double>::infinity();  ///< centre line of piece to wall, < 0 inside
    Vec3 at_m{};                                                  ///< on the piece
};

class Anatomy {
 public:
    virtual ~Anatomy() = default;

    /// Layer, depth and layer bottoms at a point; at most 200 ns for a head. Outside the modelled region the nearest
    /// modelled place answers.
    [[nodiscard]] virtual LayerPoint layers_at(const Vec3& p_m) const = 0;

    /// Unit vector in which depth grows fastest: straight in.
    [[nodiscard]] virtual Vec3 inward_at(const Vec3& p_m) const = 0;

    /// First skin point along a ray from outside. @param direction unit
    [[nodiscard]] virtual std::optional<SkinPoint> ray_to_skin(const Vec3& origin_m, const Vec3& direction) const = 0;

    /// The skin point that a point inside or near the head belongs to.
    [[nodiscard]] virtual SkinPoint nearest_skin(const Vec3& p_m) const = 0;

    [[nodiscard]] std::span<const Structure> structures() const { return structures_; }
    [[nodiscard]] std::span<const Ligament> ligaments() const { return ligaments_; }
    [[nodiscard]] std::span<const Landmark> landmarks() const { return landmarks_; }

    /// Least distance from the piece a-b to the wall of every structure nearer than `reach_m`, appended to `out`,
    /// one entry a structure, in order of structure index.
    void clearances(const Vec3& a_m, const Vec3& b_m, double reach_m, std::vector<Clearance>& out) const;

 protected:
    /// To be called once by the builder when structures_ is complete.
    void index_structures();

    std::vector<Structure> structures_;
    std::vector<Ligament> ligaments_;
    std::vector<Landmark> landmarks_;

 private:
    struct Box {
        Vec3 low{}, high{};
    };
    struct StructureBoxes {
        Box whole;                ///< around the structure's wall, to skip the far ones
        std::vector<Box> pieces;  ///< around each kBoxedPieces pieces of its line, to skip the far ends of the others
    };
    static constexpr std::size_t kBoxedPieces = 8;
    std::vector<StructureBoxes> structure_boxes_;
};

/// Walk in from a skin point until depth_m below the skin, following the way in.
[[nodiscard]] Vec3 walk_in(const Anatomy& anatomy, const SkinPoint& from, double depth_m);

/// Least distance between two segments and where it falls on the first. Ericson 2005, Real-Time Collision
/// Detection, 5.1.9.
struct SegmentPair {
    double distance_m = 0.0;
    double s = 0.0, t = 0.0;  ///< parameters in [0, 1] on the first and on the second segment
};
[[nodiscard]] SegmentPair closest_between(const Vec3& a0, const Vec3& a1, const Vec3& b0, const Vec3& b1);

/// Least distance from a point to a ligament's two edge lines and the rulings between their vertices: never more than
/// the sheet's spacing above the distance to the sheet itself.
[[nodiscard]] double distance_to(const Ligament& ligament, const Vec3& p_m);

/// Where the piece a-b crosses a ligament's sheet, as a parameter in [0, 1] along it.
[[nodiscard]] std::optional<double> crossing(const Ligament& ligament, const Vec3& a_m, const Vec3& b_m);

}  // namespace sim
