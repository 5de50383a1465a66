#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <optional>

#include "engine/gl/chunks.hpp"
#include "engine/gl/objects.hpp"
#include "engine/view/draw_list.hpp"

namespace gl {

/// How skin and cloth are lit.
enum class Shading {
    fine,  ///< every pixel for itself: for graphics cards and stills
    lean,  ///< at the vertices, times pictures of fine detail: for processors
};

/// Draws a view::DrawList into the framebuffer that is bound, over the whole viewport.
///
/// Keeps on the card what a list shows again: surfaces, images and layer faces, known by their address while their
/// owner lives.
class Renderer {
 public:
    /// @param shader_folder with the files of assets/shaders
    /// @throws std::runtime_error naming a shader file that is missing or does not compile
    explicit Renderer(const std::filesystem::path& shader_folder);

    /// Put on the card what this list shows for the first time; draw() does it too where it was left out.
    void upload(const view::DrawList& list, Shading shading = Shading::fine);
    /// The depths of the framebuffer that is bound are forgotten. To be asked as early as that one is known: a card
    /// does it while the list is still put together.
    void begin() const;
    /// Into the framebuffer that is bound and was begun.
    void draw(const view::DrawList& list, Shading shading = Shading::fine);

 private:
    /// Programs of one kind of cut: with and without a box that is taken away.
    struct Programs {
        Program skin, cloth, depth_only, lean_skin, lean_plain_skin, lean_cloth, lean_depth_only, layers, object;
    };
    /// What a live tip has moved of a surface.
    struct LiveOnCard {
        std::weak_ptr<const view::VertexMoves> holds;
        std::vector<std::uint32_t> vertices;  ///< that stand where it has moved them
        float most_mm = 0.0f;
        Corners corners;                    ///< made when the first vertex is moved
        std::vector<glm::vec3> place_mm;    ///< of all vertices, as they are on the card
        std::vector<std::uint32_t> turned;  ///< of each triangle when it was looked at last, counted by `turn`
        std::uint32_t turn = 0;

        /// The surface has been put on the card whole.
        void begin_anew() {
            holds.reset();
            vertices.clear();
            place_mm.clear();
            most_mm = 0.0f;
        }
    };
    struct SurfaceOnCard {
        Mesh mesh;
        std::vector<Chunk> chunks;
        std::vector<std::uint32_t> triangles;  ///< in the order of the chunks
        std::vector<glm::vec4> planes;         ///< of each triangle, as planes_of() gives them
        std::vector<bool> painted;             ///< for each chunk: the face's painting falls on it
        std::weak_ptr<const view::Image> painted_by;
        std::weak_ptr<const view::Surface> holds;  ///< whose vertices are on the card
        float moved_most_mm = 0.0f;                ///< of them, from where the chunks were made
        LiveOnCard live;

        [[nodiscard]] float slack_mm() const { return moved_most_mm + live.most_mm; }
    };
    struct FaceOnCard {
        Mesh mesh;
        Texture layer;  ///< a column of samples in each row
        int columns = 0;
        std::vector<std::uint32_t> stamps;  ///< of what the texture holds
        bool cut_by_box = false, shaped = false;
        const view::LayerFace* holds = nullptr;  ///< the state that was put here last; for comparing alone
    };
    struct ImageOnCard {
        Texture texture;
        int level = -1;  ///< of show_one_size(), -1: all are in use
        bool blended = true;
    };
    template <typename Source, typename Card>
    struct Kept {
        std::weak_ptr<const Source> source;
        Card card;
    };

    void bind_skin_images(const view::DrawList& list, Shading shading);
    void draw_backdrop();
    void soften_borders(bool on) const;
    void draw_surfaces(const view::DrawList& list, Shading shading);
    void draw_cloth(const view::DrawList& list, Shading shading);
    void draw_skin(const view::DrawList& list, Shading shading);
    void draw_layers(const view::DrawList& list);
    void draw_layer_tops(const view::DrawList& list);
    void draw_objects(const view::DrawList& list);
    /// The chunks of a surface: those that the cut may touch, or the others; of these all, or those that are painted on
    /// or not.
    struct Which {
        bool touched_by_cut = false;
        std::optional<bool> painted;
    };
    template <typename Use>
    static void each_chunk(const SurfaceOnCard& surface, const view::DrawList& list, const Which& which, Use use);
    static void draw_chunks(const SurfaceOnCard& surface, const view::DrawList& list, const Which& which);
    void draw_facing(SurfaceOnCard& surface, const view::DrawList& list, const Which& which);
    void draw_surface(SurfaceOnCard& surface, const view::DrawList& list, Shading shading, const Which& which);
    void find_painted(SurfaceOnCard& surface, const view::Surface& source, const view::SkinImages& images);
    void forget_what_is_gone();

    SurfaceOnCard& on_card(const std::shared_ptr<const view::Surface>& surface);
    /// Moves on the card what a live tip moves, and brings back what it no longer does. @param live may be null
    static void follow_live(SurfaceOnCard& card, const view::Surface& surface,
                            const std::shared_ptr<const view::VertexMoves>& live);
    static void turn_planes(SurfaceOnCard& card, const std::vector<std::uint32_t>& touched);
    const Mesh& on_card(const std::shared_ptr<const view::ObjectMesh>& mesh);
    const std::vector<std::shared_ptr<FaceOnCard>>& on_card(
        const std::shared_ptr<const std::vector<view::LayerFace>>& faces);
    std::shared_ptr<FaceOnCard> grown(const view::LayerFace& face);
    static void put_on_card(FaceOnCard& card, const view::LayerFace& face);
    const Texture& on_card(const std::shared_ptr<const view::Image>& image, const Texture& otherwise, Wrap wrap);
    /// The same, in the one of its sizes that suits a scale. @param side_mm of what the picture covers
    const Texture& sized(const std::shared_ptr<const view::Image>& image, const Texture& otherwise, Wrap wrap,
                         float side_mm, float pixels_per_mm);

    Programs whole_, cut_;
    Program backdrop_;
    Mesh backdrop_mesh_, object_mesh_;
    bool soft_edges_ = false;            ///< of the picture that is drawn
    std::vector<std::uint32_t> picked_;  ///< triangles of one draw; kept for its room
    Texture plain_detail_, plain_face_, plain_relief_, plain_factor_, pattern_;
    std::map<const void*, Kept<view::Surface, SurfaceOnCard>> surfaces_;
    std::map<const void*, Kept<view::ObjectMesh, Mesh>> solids_;
    std::map<const void*, Kept<std::vector<view::LayerFace>, std::vector<std::shared_ptr<FaceOnCard>>>> faces_;
    std::map<const void*, Kept<void, std::shared_ptr<FaceOnCard>>> sheets_;
    std::map<const void*, Kept<view::Image, ImageOnCard>> images_;
};

}  // namespace gl
