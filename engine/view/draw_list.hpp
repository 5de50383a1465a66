#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <glm/mat3x3.hpp>
#include <glm/mat4x4.hpp>
#include <glm/vec2.hpp>
#include <glm/vec3.hpp>
#include <glm/vec4.hpp>
#include <memory>
#include <optional>
#include <string>
#include <vector>

/// Everything that one picture of the patient shows, without a word of how it is put on a screen. Millimetres, floats.

namespace view {

enum class SurfaceKind : std::uint8_t { skin, cloth };

struct SurfaceVertex {
    glm::vec3 position_mm{};
    glm::vec3 normal{};
    glm::vec3 rest_mm{};             ///< texture coordinates
    glm::vec4 paint{};               ///< extra blood, extra melanin, beard, wetness
    glm::vec4 shade{1.0f, 0, 0, 0};  ///< share of open surroundings, curvature in 1/mm, pores, povidone-iodine
};

/// A surface that does not change while a patient is shown; the renderer keeps its copy as long as this lives.
struct Surface {
    SurfaceKind kind = SurfaceKind::skin;
    bool face = false;       ///< has brows, lips and lids to be painted
    glm::vec3 colour{1.0f};  ///< of cloth, linear
    std::vector<SurfaceVertex> vertices;
    std::vector<std::uint32_t> triangles;
    /// Null, or the surface that this is with its vertices moved: same triangles, and what hangs on neither place nor
    /// normal is kept from it.
    std::shared_ptr<const Surface> rest;
    float moved_most_mm = 0.0f;  ///< of any vertex
};

/// Vertices of a surface or mesh that are shown elsewhere than it says.
struct VertexMoves {
    std::vector<std::uint32_t> vertex;     ///< ascending
    std::vector<glm::vec3> move_mm, turn;  ///< of each; what is added to its normal
    float most_mm = 0.0f;                  ///< of any
};

/// Instruments, vessels, marks: rebuilt for each picture.
struct ObjectVertex {
    glm::vec3 position_mm{};
    glm::vec3 normal{};
    glm::vec3 colour{};  ///< linear
    float gloss = 0.0f;  ///< 0 matt .. 1 steel
};
struct ObjectMesh {
    std::vector<ObjectVertex> vertices;
    std::vector<std::uint32_t> triangles;
};

/// What is cut through inside the layers, as the last number of a sample says it; the order of sim::StructureKind.
enum class Section : std::uint8_t { artery, vein, nerve, duct, gland, ligament };

/// A cut through the layers: a parallelogram, bent along its first edge, with what lies under each of its points.
struct LayerFace {
    glm::vec3 origin_mm{}, edge_u_mm{}, edge_v_mm{};
    glm::vec3 normal{};          ///< unit, to the side from which it is seen
    std::vector<float> rise_mm;  ///< along the normal, one for each column; empty: flat
    bool cut_by_box = false;     ///< the side of a block, which the box may open as it opens the skin
    int columns = 0, rows = 0;
    /// (columns * rows) column by column, each along v: layer coordinate (0..1 skin, 1..2 superficial fat, ... 4..5
    /// muscle, beyond: floor; negative outside); kind of floor (0 bone, 0.5 lining, 1 fascia); distance to the wall of
    /// the nearest structure in mm, negative inside; its Section.
    std::vector<glm::vec4> layer;
    /// A face that grows: the same for all its states, and for each column a number that changes when it is sampled
    /// anew. Null and empty: nothing is known of earlier states.
    std::shared_ptr<const void> sheet;
    std::vector<std::uint32_t> stamps;
};

inline constexpr std::size_t kCutStations = 33;

/// A box of tissue that is taken away so that one looks in; its far wall follows the shaft.
struct CutBox {
    glm::mat3 axes{1.0f};  ///< columns: along the shaft, outwards, towards the viewer
    glm::vec3 centre_mm{}, half_mm{};
    /// How far the box is shifted towards the viewer at even stations along the shaft, from its low end to its high
    /// end.
    std::array<float, kCutStations> bend{};
    /// At the same stations how far a live tip has moved the skin, mm, and how high along the second axis the skin lies
    /// there at rest. What the cut shows goes along, less and less towards its floor. Empty: it lies still.
    std::vector<glm::vec4> lift;

    [[nodiscard]] float bend_mm() const {
        float most = 0.0f;
        for (const float b : bend) most = std::max(most, std::fabs(b));
        return most;
    }
};

/// A name with the place it belongs to, for whoever draws words over the picture.
struct Label {
    std::string name;
    glm::vec3 at_mm{};
    glm::vec3 away{};  ///< unit: to which side the words may stand
};

/// A rise (or, negative, a dent) of the skin over a tip.
struct Tent {
    glm::vec3 centre_mm{};
    glm::vec3 outward{0, 0, 1};
    float height_mm = 0.0f;
    float width_mm = 6.0f;  ///< full width at half height
};

struct SkinTone {
    float melanin = 0.10f, blood = 0.35f;
    float beard = 0.0f;
};

/// A picture that is laid on skin: RGBA, first row at the lowest y.
struct Image {
    int width = 0, height = 0;
    std::vector<std::uint8_t> rgba;
};

/// What is finer than the mesh. Any may be null: the skin is then plain there.
struct SkinImages {
    std::shared_ptr<const Image> detail;        ///< tiles: slopes along two axes, mottling, stubble
    std::shared_ptr<const Image> face, relief;  ///< laid on from the front: paint; slopes of lines and grey of hair
    glm::vec3 face_window_mm{-70, -74, 140};    ///< low x, low y and side of what `face` covers
    /// The same worked out for one skin tone, as factors of what is seen; kLeanDetailScale is full brightness in the
    /// first. For renderers that cannot afford the others. Null where `detail` is.
    std::shared_ptr<const Image> lean_detail, lean_face;
};

inline constexpr float kLeanDetailScale = 1.5f;

struct DrawList {
    glm::mat4 view_projection{1.0f};
    glm::vec3 eye_mm{};
    SkinTone tone;
    SkinImages images;
    std::vector<std::shared_ptr<const Surface>> surfaces;
    /// What a live tip does to each surface on top of it, new in each picture; null, or fewer than surfaces: nothing.
    std::vector<std::shared_ptr<const VertexMoves>> live;
    std::optional<CutBox> cut;
    std::vector<std::shared_ptr<const std::vector<LayerFace>>> faces;  ///< replaced, never changed in place
    ObjectMesh objects;                                                ///< instruments and threads: new in each picture
    std::vector<std::shared_ptr<const ObjectMesh>> solids;             ///< vessels and the like: never changed in place
    std::vector<std::shared_ptr<const ObjectMesh>> marks;              ///< on the skin: taken away with it
    std::shared_ptr<const ObjectMesh>
        hairs;  ///< as marks, but left out where a pixel is too coarse for them; may be null
    /// Tops of deeper layers, the deepest first: what is whole hides what lies under it. Never changed in place.
    struct LayerTop {
        std::shared_ptr<const ObjectMesh> mesh;
        float opacity = 1.0f;
    };
    std::vector<LayerTop> layer_tops;
    bool see_through = false;    ///< skin half transparent over the objects
    float skin_opacity = 0.42f;  ///< when it is seen through; 0: not drawn
    Tent tent;
    std::vector<Label> labels;
    std::vector<Label> mark_names;  ///< of pencil marks on the skin
    bool unsettled = false;         ///< the cut will look better in the next picture, though nothing else has changed
};

}  // namespace view
