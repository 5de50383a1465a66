#pragma once

#include <filesystem>
#include <map>
#include <memory>

#include "engine/gl/objects.hpp"
#include "engine/view/draw_list.hpp"

namespace gl {

/// Draws a view::DrawList into the framebuffer that is bound, over the whole viewport.
///
/// Keeps on the card what a list shows again: surfaces, images and layer faces, known by their address while their
/// owner lives.
class Renderer {
 public:
    /// @param shader_folder with the files of assets/shaders
    /// @throws std::runtime_error naming a shader file that is missing or does not compile
    explicit Renderer(const std::filesystem::path& shader_folder);

    void draw(const view::DrawList& list);

 private:
    struct Programs {
        Program skin, cloth, depth_only, layers;
    };
    struct FaceOnCard {
        Mesh mesh;
        Texture layer;
        bool cut_by_box = false;
    };
    template <typename Source, typename Card>
    struct Kept {
        std::weak_ptr<const Source> source;
        Card card;
    };

    void draw_backdrop();
    void draw_surfaces(const view::DrawList& list);
    void draw_skin(const view::DrawList& list, const Programs& programs);
    void draw_layers(const view::DrawList& list);
    void draw_objects(const view::DrawList& list);
    void forget_what_is_gone();

    const Mesh& on_card(const std::shared_ptr<const view::Surface>& surface);
    const std::vector<FaceOnCard>& on_card(const std::shared_ptr<const std::vector<view::LayerFace>>& faces);
    const Texture& on_card(const std::shared_ptr<const view::Image>& image, const Texture& otherwise, Wrap wrap);

    Programs whole_, cut_;
    Program object_, backdrop_;
    Mesh backdrop_mesh_, object_mesh_;
    Texture plain_detail_, plain_face_, plain_relief_;
    std::map<const void*, Kept<view::Surface, Mesh>> surfaces_;
    std::map<const void*, Kept<std::vector<view::LayerFace>, std::vector<FaceOnCard>>> faces_;
    std::map<const void*, Kept<view::Image, Texture>> images_;
};

}  // namespace gl
