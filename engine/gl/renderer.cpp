#include "engine/gl/renderer.hpp"

#include <array>
#include <cstddef>
#include <fstream>
#include <glm/geometric.hpp>
#include <sstream>
#include <stdexcept>

#include "engine/gl/check.hpp"

namespace gl {

namespace {

constexpr int kDetailUnit = 0, kFaceUnit = 1, kReliefUnit = 2, kLayerUnit = 3;
constexpr float kSeeThrough = 0.42f;  // opacity of skin over vessels

std::string text_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in) throw std::runtime_error(file.string() + ": shader file is missing or cannot be read");
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

template <typename T>
std::span<const std::byte> bytes_of(const std::vector<T>& values) {
    return std::as_bytes(std::span(values));
}

struct FaceVertex {
    glm::vec3 position{}, normal{};
    glm::vec2 across{}, texture{};
};

/// Texture coordinates that put the first and the last sample on the edges.
FaceVertex corner_of(const view::LayerFace& face, float u, float v) {
    const float half_u = 0.5f / static_cast<float>(face.columns), half_v = 0.5f / static_cast<float>(face.rows);
    return {face.origin_mm + u * face.edge_u_mm + v * face.edge_v_mm,
            face.normal,
            {u * glm::length(face.edge_u_mm), v * glm::length(face.edge_v_mm)},
            {half_u + u * (1.0f - 2.0f * half_u), half_v + v * (1.0f - 2.0f * half_v)}};
}

void set_cut(const Program& program, const view::DrawList& list) {
    if (!list.cut) return;
    program.set("cut_axes", list.cut->axes);
    program.set("cut_centre", list.cut->centre_mm);
    program.set("cut_half", list.cut->half_mm);
}

void set_camera(const Program& program, const view::DrawList& list) {
    program.use();
    program.set("view_projection", list.view_projection);
    program.set("eye", list.eye_mm);
}

void set_tent(const Program& program, const view::DrawList& list) {
    program.set("tent_at", glm::vec4(list.tent.centre_mm, list.tent.height_mm));
    program.set("tent_outward", glm::vec4(list.tent.outward, list.tent.width_mm));
}

void enable(GLenum what, bool on) {
    if (on)
        PK_GL(glEnable(what));
    else
        PK_GL(glDisable(what));
}

Texture plain(std::array<std::uint8_t, 4> rgba) { return make_texture(1, 1, rgba, Wrap::repeat); }

}  // namespace

Renderer::Renderer(const std::filesystem::path& shader_folder) {
    const std::string light = text_of(shader_folder / "light.glsl"), cut = text_of(shader_folder / "cut.glsl");
    // whether there is a cut is a variant, not a branch: a software renderer pays for every line it may run
    const auto program = [&](const std::string& vertex, const std::string& fragment, bool with_cut) {
        const std::string head = std::string("#version 330 core\n#define CUT ") + (with_cut ? "1" : "0") + "\n";
        return Program(fragment, head + text_of(shader_folder / vertex),
                       head + light + cut + text_of(shader_folder / fragment));
    };
    for (const bool with_cut : {false, true}) {
        Programs& programs = with_cut ? cut_ : whole_;
        programs.skin = program("surface.vert", "skin.frag", with_cut);
        programs.cloth = program("surface.vert", "cloth.frag", with_cut);
        programs.depth_only = program("surface.vert", "depth_only.frag", with_cut);
        programs.layers = program("layers.vert", "layers.frag", with_cut);
    }
    object_ = program("object.vert", "object.frag", false);
    backdrop_ = program("backdrop.vert", "backdrop.frag", false);

    const std::vector<glm::vec2> corners{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    const std::vector<std::uint32_t> two{0, 1, 2, 0, 2, 3};
    backdrop_mesh_ = Mesh(bytes_of(corners), sizeof(glm::vec2), std::array{Attribute{2, 0}}, two);
    const std::array object_layout{
        Attribute{3, offsetof(view::ObjectVertex, position_mm)}, Attribute{3, offsetof(view::ObjectVertex, normal)},
        Attribute{3, offsetof(view::ObjectVertex, colour)}, Attribute{1, offsetof(view::ObjectVertex, gloss)}};
    object_mesh_ = Mesh({}, sizeof(view::ObjectVertex), object_layout, {}, GL_STREAM_DRAW);

    plain_detail_ = plain({128, 128, 128, 0});
    plain_face_ = plain({0, 0, 0, 0});
    plain_relief_ = plain({128, 128, 0, 0});
}

const Mesh& Renderer::on_card(const std::shared_ptr<const view::Surface>& surface) {
    auto& kept = surfaces_[surface.get()];
    if (kept.source.lock() != surface) {
        using V = view::SurfaceVertex;
        const std::array layout{Attribute{3, offsetof(V, position_mm)}, Attribute{3, offsetof(V, normal)},
                                Attribute{3, offsetof(V, rest_mm)}, Attribute{4, offsetof(V, paint)},
                                Attribute{4, offsetof(V, shade)}};
        kept = {surface, Mesh(bytes_of(surface->vertices), sizeof(V), layout, surface->triangles)};
    }
    return kept.card;
}

const std::vector<Renderer::FaceOnCard>& Renderer::on_card(
    const std::shared_ptr<const std::vector<view::LayerFace>>& faces) {
    auto& kept = faces_[faces.get()];
    if (kept.source.lock() == faces) return kept.card;
    kept.source = faces;
    kept.card.clear();
    const std::array layout{Attribute{3, offsetof(FaceVertex, position)}, Attribute{3, offsetof(FaceVertex, normal)},
                            Attribute{2, offsetof(FaceVertex, across)}, Attribute{2, offsetof(FaceVertex, texture)}};
    const std::vector<std::uint32_t> one_way{0, 1, 2, 0, 2, 3}, other_way{0, 2, 1, 0, 3, 2};
    for (const view::LayerFace& face : *faces) {
        // the edges may turn either way about the side from which the face is seen
        const bool turned = glm::dot(glm::cross(face.edge_u_mm, face.edge_v_mm), face.normal) < 0.0f;
        const std::vector<std::uint32_t>& two = turned ? other_way : one_way;
        const std::vector<FaceVertex> corners{corner_of(face, 0, 0), corner_of(face, 1, 0), corner_of(face, 1, 1),
                                              corner_of(face, 0, 1)};
        kept.card.push_back({Mesh(bytes_of(corners), sizeof(FaceVertex), layout, two),
                             make_texture(face.columns, face.rows, face.layer), face.cut_by_box});
    }
    return kept.card;
}

const Texture& Renderer::on_card(const std::shared_ptr<const view::Image>& image, const Texture& otherwise, Wrap wrap) {
    if (!image) return otherwise;
    auto& kept = images_[image.get()];
    if (kept.source.lock() != image) kept = {image, make_texture(image->width, image->height, image->rgba, wrap)};
    return kept.card;
}

void Renderer::forget_what_is_gone() {
    const auto gone = [](const auto& entry) { return entry.second.source.expired(); };
    std::erase_if(surfaces_, gone);
    std::erase_if(faces_, gone);
    std::erase_if(images_, gone);
}

void Renderer::draw_backdrop() {
    enable(GL_DEPTH_TEST, false);
    backdrop_.use();
    backdrop_mesh_.draw();
}

void Renderer::draw(const view::DrawList& list) {
    forget_what_is_gone();
    enable(GL_SCISSOR_TEST, false);
    enable(GL_BLEND, false);
    enable(GL_CULL_FACE, false);
    PK_GL(glDepthMask(GL_TRUE));
    PK_GL(glDepthFunc(GL_LEQUAL));
    PK_GL(glClear(GL_DEPTH_BUFFER_BIT));
    draw_backdrop();
    enable(GL_DEPTH_TEST, true);
    draw_objects(list);
    draw_layers(list);
    draw_surfaces(list);
}

void Renderer::draw_objects(const view::DrawList& list) {
    object_mesh_.replace(bytes_of(list.objects.vertices), list.objects.triangles);
    set_camera(object_, list);
    object_mesh_.draw();
}

void Renderer::draw_layers(const view::DrawList& list) {
    enable(GL_CULL_FACE, true);
    for (const auto& faces : list.faces)
        for (const FaceOnCard& face : on_card(faces)) {
            const Program& program = face.cut_by_box && list.cut ? cut_.layers : whole_.layers;
            set_camera(program, list);
            if (face.cut_by_box) set_cut(program, list);
            program.set("tone", glm::vec4(list.tone.melanin, list.tone.blood, list.tone.beard, 1.0f));
            program.set("layer", kLayerUnit);
            bind(face.layer, kLayerUnit);
            face.mesh.draw();
        }
}

void Renderer::draw_surfaces(const view::DrawList& list) {
    enable(GL_CULL_FACE, true);
    const Programs& programs = list.cut ? cut_ : whole_;
    bind(on_card(list.images.detail, plain_detail_, Wrap::repeat), kDetailUnit);
    bind(on_card(list.images.face, plain_face_, Wrap::clamp), kFaceUnit);
    bind(on_card(list.images.relief, plain_relief_, Wrap::clamp), kReliefUnit);

    set_camera(programs.cloth, list);
    set_cut(programs.cloth, list);
    set_tent(programs.cloth, list);
    programs.cloth.set("detail", kDetailUnit);
    for (const auto& surface : list.surfaces) {
        if (surface->kind != view::SurfaceKind::cloth) continue;
        programs.cloth.set("dye", surface->colour);
        on_card(surface).draw();
    }
    draw_skin(list, programs);
}

void Renderer::draw_skin(const view::DrawList& list, const Programs& programs) {
    const auto each = [&](const Program& program) {
        set_camera(program, list);
        set_cut(program, list);
        set_tent(program, list);
        program.set("detail", kDetailUnit);
        program.set("face", kFaceUnit);
        program.set("relief", kReliefUnit);
        program.set("tone", glm::vec4(list.tone.melanin, list.tone.blood, list.tone.beard,
                                      list.see_through ? kSeeThrough : 1.0f));
        for (const auto& surface : list.surfaces) {
            if (surface->kind != view::SurfaceKind::skin) continue;
            program.set("face_window", glm::vec4(list.images.face_window_mm, surface->face ? 1.0f : 0.0f));
            on_card(surface).draw();
        }
    };
    if (!list.see_through) {
        each(programs.skin);
        return;
    }
    // nearest skin first, as depth alone; then only that is laid over what has been drawn
    PK_GL(glColorMask(GL_FALSE, GL_FALSE, GL_FALSE, GL_FALSE));
    each(programs.depth_only);
    PK_GL(glColorMask(GL_TRUE, GL_TRUE, GL_TRUE, GL_TRUE));
    enable(GL_BLEND, true);
    PK_GL(glBlendFunc(GL_SRC_ALPHA, GL_ONE_MINUS_SRC_ALPHA));
    PK_GL(glDepthFunc(GL_EQUAL));
    each(programs.skin);
    PK_GL(glDepthFunc(GL_LEQUAL));
    enable(GL_BLEND, false);
}

}  // namespace gl
