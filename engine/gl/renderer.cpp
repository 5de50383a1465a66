#include "engine/gl/renderer.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <fstream>
#include <glm/geometric.hpp>
#include <sstream>
#include <stdexcept>

#include "engine/gl/check.hpp"
#include "engine/gl/face_shape.hpp"
#include "engine/gl/renderer_parts.hpp"
#include "engine/view/layer_pattern.hpp"

namespace gl {

namespace {

std::string text_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in) throw std::runtime_error(file.string() + ": shader file is missing or cannot be read");
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

Texture plain(std::array<std::uint8_t, 4> rgba) { return make_texture(1, 1, rgba, Wrap::repeat); }

constexpr std::array kObjectLayout{
    Attribute{3, offsetof(view::ObjectVertex, position_mm)}, Attribute{3, offsetof(view::ObjectVertex, normal)},
    Attribute{3, offsetof(view::ObjectVertex, colour)}, Attribute{1, offsetof(view::ObjectVertex, gloss)}};

/// Whether lashes would come out as strands and not as dots: their paint on the skin is all that is seen then.
bool shows_hairs(const view::DrawList& list) {
    constexpr float kSamplesPerMm = 5.0f;  // strands are 0.15 mm wide: by eye
    GLint samples = 0;
    PK_GL(glGetIntegerv(GL_SAMPLES, &samples));
    return pixels_per_mm(list, list.hairs->vertices.front().position_mm) *
               std::sqrt(static_cast<float>(std::max(samples, 1))) >=
           kSamplesPerMm;
}

}  // namespace

Renderer::Renderer(const std::filesystem::path& shader_folder) {
    const auto part = [&shader_folder](const char* file) { return text_of(shader_folder / file); };
    const std::string light = part("light.glsl"), cut = part("cut.glsl"), place = part("cut_place.glsl"),
                      tent = part("tent.glsl");
    // whether there is a cut is a variant, not a branch: a software renderer pays for every line it may run
    const auto program = [&](const char* vertex, const char* fragment, bool with_cut, bool cloth = false,
                             bool painted = true) {
        const std::string head = std::string("#version 330 core\n#define CUT ") + (with_cut ? "1" : "0") +
                                 "\n#define CLOTH " + (cloth ? "1" : "0") + "\n#define PAINTED " +
                                 (painted ? "1" : "0") + "\n";
        return Program(fragment, head + light + place + tent + part(vertex), head + light + cut + part(fragment));
    };
    for (const bool with_cut : {false, true}) {
        Programs& programs = with_cut ? cut_ : whole_;
        programs.skin = program("surface.vert", "skin.frag", with_cut);
        programs.cloth = program("surface.vert", "cloth.frag", with_cut);
        programs.depth_only = program("surface.vert", "depth_only.frag", with_cut);
        programs.lean_skin = program("lean_surface.vert", "lean_skin.frag", with_cut);
        programs.lean_plain_skin = program("lean_surface.vert", "lean_skin.frag", with_cut, false, false);
        programs.lean_cloth = program("lean_surface.vert", "lean_cloth.frag", with_cut, true);
        programs.lean_depth_only = program("lean_surface.vert", "depth_only.frag", with_cut);
        programs.layers = program("layers.vert", "layers.frag", with_cut);
        programs.object = program("object.vert", "object.frag", with_cut);
    }
    backdrop_ = program("backdrop.vert", "backdrop.frag", false);

    const std::vector<glm::vec2> corners{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    const std::vector<std::uint32_t> two{0, 1, 2, 0, 2, 3};
    backdrop_mesh_ = Mesh(bytes_of(corners), sizeof(glm::vec2), std::array{Attribute{2, 0}}, two);
    object_mesh_ = Mesh({}, sizeof(view::ObjectVertex), kObjectLayout, {}, GL_STREAM_DRAW);

    plain_detail_ = plain({128, 128, 128, 0});
    plain_face_ = plain({0, 0, 0, 0});
    plain_relief_ = plain({128, 128, 0, 0});
    plain_factor_ = plain({255, 255, 255, 0});
    const std::shared_ptr<const view::Image> pattern = view::layer_pattern_image();
    pattern_ = make_texture(pattern->width, pattern->height, pattern->rgba, Wrap::repeat);
}

Renderer::SurfaceOnCard& Renderer::on_card(const std::shared_ptr<const view::Surface>& surface) {
    // a surface that was moved shares triangles and chunks with the one at rest
    const std::shared_ptr<const view::Surface>& rest = surface->rest ? surface->rest : surface;
    auto& kept = surfaces_[rest.get()];
    if (kept.source.lock() != rest) {
        using V = view::SurfaceVertex;
        const std::array layout{Attribute{3, offsetof(V, position_mm)}, Attribute{3, offsetof(V, normal)},
                                Attribute{3, offsetof(V, rest_mm)}, Attribute{4, offsetof(V, paint)},
                                Attribute{4, offsetof(V, shade)}};
        std::vector<std::uint32_t> triangles = rest->triangles;
        std::vector<Chunk> chunks = make_chunks(rest->vertices, triangles);
        Mesh mesh(bytes_of(rest->vertices), sizeof(V), layout, triangles);
        std::vector<glm::vec4> planes = planes_of(rest->vertices, triangles);
        kept = {rest,
                {std::move(mesh), std::move(chunks), std::move(triangles), std::move(planes), {}, {}, rest, 0.0f, {}}};
    }
    if (kept.card.holds.lock() != surface) {
        kept.card.mesh.replace(bytes_of(surface->vertices), kept.card.triangles);
        kept.card.planes = planes_of(surface->vertices, kept.card.triangles);
        kept.card.holds = surface;
        kept.card.moved_most_mm = surface->moved_most_mm;
        kept.card.live.begin_anew();
    }
    return kept.card;
}

const Mesh& Renderer::on_card(const std::shared_ptr<const view::ObjectMesh>& mesh) {
    auto& kept = solids_[mesh.get()];
    if (kept.source.lock() != mesh)
        kept = {mesh, Mesh(bytes_of(mesh->vertices), sizeof(view::ObjectVertex), kObjectLayout, mesh->triangles)};
    return kept.card;
}

const std::vector<std::shared_ptr<Renderer::FaceOnCard>>& Renderer::on_card(
    const std::shared_ptr<const std::vector<view::LayerFace>>& faces) {
    auto& kept = faces_[faces.get()];
    const bool known = kept.source.lock() == faces;
    if (!known) {
        kept.source = faces;
        kept.card.clear();
        for (const view::LayerFace& face : *faces)
            kept.card.push_back(face.sheet ? grown(face) : std::make_shared<FaceOnCard>());
    }
    // another state of the same sheet may have been shown meanwhile
    for (std::size_t i = 0; i < faces->size(); ++i)
        if (!known || kept.card[i]->holds != &(*faces)[i]) put_on_card(*kept.card[i], (*faces)[i]);
    return kept.card;
}

/// What the card has of an earlier state of this face, or room for it.
std::shared_ptr<Renderer::FaceOnCard> Renderer::grown(const view::LayerFace& face) {
    auto& kept = sheets_[face.sheet.get()];
    if (kept.source.lock() != face.sheet) kept = {face.sheet, std::make_shared<FaceOnCard>()};
    return kept.card;
}

/// Only columns that are new or were sampled anew travel.
void Renderer::put_on_card(FaceOnCard& card, const view::LayerFace& face) {
    constexpr int kRoomStep = 64;  // columns
    const int room = face.sheet ? (face.columns + kRoomStep - 1) / kRoomStep * kRoomStep : face.columns;
    if (!card.layer || card.columns < room) {
        card.layer = make_float_texture(face.rows, room);
        card.columns = room;
        card.stamps.clear();
    }
    card.stamps.resize(static_cast<std::size_t>(room));
    const auto rows = static_cast<std::size_t>(face.rows);
    const auto same = [&](std::size_t column) {
        return column < face.stamps.size() && card.stamps[column] == face.stamps[column];
    };
    for (std::size_t first = 0; first < static_cast<std::size_t>(face.columns);) {
        std::size_t end = first;
        while (end < static_cast<std::size_t>(face.columns) && !same(end)) ++end;
        if (end > first)
            replace_rows(card.layer, face.rows, static_cast<int>(first),
                         std::span(face.layer).subspan(first * rows, (end - first) * rows));
        first = end + 1;
    }
    std::copy(face.stamps.begin(), face.stamps.end(), card.stamps.begin());
    const FaceShape shape = shape_of(face, card.columns);
    if (!card.shaped)
        card.mesh = Mesh({}, sizeof(FaceVertex), kFaceLayout, {}, face.sheet ? GL_DYNAMIC_DRAW : GL_STATIC_DRAW);
    card.shaped = true;
    card.mesh.replace(bytes_of(shape.vertices), shape.triangles);
    card.cut_by_box = face.cut_by_box;
    card.holds = &face;
}

const Texture& Renderer::on_card(const std::shared_ptr<const view::Image>& image, const Texture& otherwise, Wrap wrap) {
    if (!image) return otherwise;
    auto& kept = images_[image.get()];
    if (kept.source.lock() != image)
        kept = {image, {make_texture(image->width, image->height, image->rgba, wrap), -1, true}};
    return kept.card.texture;
}

const Texture& Renderer::sized(const std::shared_ptr<const view::Image>& image, const Texture& otherwise, Wrap wrap,
                               float side_mm, float pixels_per_mm) {
    const Texture& texture = on_card(image, otherwise, wrap);
    if (!image) return texture;
    constexpr int kSmallest = 4;  // texels of a side that still say something
    const float texels_per_pixel = static_cast<float>(image->width) / (side_mm * std::max(pixels_per_mm, 1e-3f));
    const int most = static_cast<int>(std::log2(static_cast<float>(image->width) / kSmallest));
    const int level = std::clamp(static_cast<int>(std::lround(std::log2(texels_per_pixel))), 0, std::max(0, most));
    // tiles of fine detail have texels finer than pixels until one looks from near; a painting has an outline
    const bool blended = wrap == Wrap::clamp || texels_per_pixel < 1.0f;
    ImageOnCard& card = images_[image.get()].card;
    if (card.level != level || card.blended != blended) show_one_size(texture, level, blended);
    card.level = level;
    card.blended = blended;
    return texture;
}

void Renderer::forget_what_is_gone() {
    const auto gone = [](const auto& entry) { return entry.second.source.expired(); };
    std::erase_if(surfaces_, gone);
    std::erase_if(solids_, gone);
    std::erase_if(faces_, gone);
    std::erase_if(sheets_, gone);
    std::erase_if(images_, gone);
}

void Renderer::draw_backdrop() {
    soften_borders(false);
    PK_GL(glDepthMask(GL_FALSE));  // as far as what was cleared: nothing is measured against it
    backdrop_.use();
    backdrop_mesh_.draw();
    PK_GL(glDepthMask(GL_TRUE));
}

void Renderer::upload(const view::DrawList& list, Shading shading) {
    forget_what_is_gone();
    for (std::size_t i = 0; i < list.surfaces.size(); ++i)
        follow_live(on_card(list.surfaces[i]), *list.surfaces[i], i < list.live.size() ? list.live[i] : nullptr);
    for (const auto& solid : list.solids) on_card(solid);
    for (const auto& marks : list.marks) on_card(marks);
    if (list.hairs) on_card(list.hairs);
    for (const auto& faces : list.faces) on_card(faces);
    bind_skin_images(list, shading);
}

void Renderer::begin() const {
    enable(GL_SCISSOR_TEST, false);
    PK_GL(glDepthMask(GL_TRUE));
    PK_GL(glClear(GL_DEPTH_BUFFER_BIT));
}

void Renderer::draw(const view::DrawList& list, Shading shading) {
    // nothing may be put on the card between binding and drawing: it would take a unit that is in use
    upload(list, shading);
    GLint samples = 0;
    PK_GL(glGetIntegerv(GL_SAMPLES, &samples));
    soft_edges_ = samples > 1 && !list.see_through;
    enable(GL_SCISSOR_TEST, false);
    enable(GL_BLEND, false);
    enable(GL_CULL_FACE, false);
    enable(GL_DEPTH_TEST, true);
    PK_GL(glDepthMask(GL_TRUE));
    PK_GL(glDepthFunc(GL_LEQUAL));
    if (list.see_through) {
        // under skin that one looks through, what lies behind must be there first
        draw_backdrop();
        draw_objects(list);
        draw_layers(list);
        draw_layer_tops(list);
        draw_surfaces(list, shading);
    } else {
        // what hides the rest comes first, and what costs most where it is seen comes late: a cut through the layers
        // lies under skin for the most part
        draw_surfaces(list, shading);
        draw_objects(list);
        draw_layers(list);
        draw_backdrop();
    }
}

/// Opacity at a border becomes a share of the pixel's samples. A card knows what is hidden before it colours it only
/// where opacity does not decide: off for all that has no such border.
void Renderer::soften_borders(bool on) const { enable(GL_SAMPLE_ALPHA_TO_COVERAGE, on && soft_edges_); }

void Renderer::draw_objects(const view::DrawList& list) {
    enable(GL_CULL_FACE, false);
    soften_borders(false);
    object_mesh_.replace(bytes_of(list.objects.vertices), list.objects.triangles);
    set_camera(whole_.object, list);
    object_mesh_.draw();
    for (const auto& solid : list.solids) on_card(solid).draw();
    const Program& on_skin = list.cut ? cut_.object : whole_.object;
    set_camera(on_skin, list);
    set_cut(on_skin, list);
    soften_borders(list.cut.has_value());
    for (const auto& marks : list.marks) on_card(marks).draw();
    if (list.hairs && shows_hairs(list)) on_card(list.hairs).draw();
}

void Renderer::draw_layer_tops(const view::DrawList& list) {
    if (list.layer_tops.empty()) return;
    soften_borders(false);
    enable(GL_CULL_FACE, true);
    set_camera(whole_.object, list);
    for (const view::DrawList::LayerTop& top : list.layer_tops) {
        const Mesh& mesh = on_card(top.mesh);
        if (top.opacity >= 1.0f) {
            mesh.draw();
            continue;
        }
        // as with skin: its nearest sheet as depth alone, then only that is laid over what has been drawn
        PK_GL(glColorMask(GL_FALSE, GL_FALSE, GL_FALSE, GL_FALSE));
        mesh.draw();
        PK_GL(glColorMask(GL_TRUE, GL_TRUE, GL_TRUE, GL_TRUE));
        enable(GL_BLEND, true);
        PK_GL(glBlendColor(0.0f, 0.0f, 0.0f, top.opacity));
        PK_GL(glBlendFunc(GL_CONSTANT_ALPHA, GL_ONE_MINUS_CONSTANT_ALPHA));
        PK_GL(glDepthFunc(GL_EQUAL));
        mesh.draw();
        PK_GL(glDepthFunc(GL_LEQUAL));
        enable(GL_BLEND, false);
    }
}

void Renderer::draw_layers(const view::DrawList& list) {
    enable(GL_CULL_FACE, true);
    soften_borders(true);
    gl::bind(pattern_, kPatternUnit);
    for (const auto& faces : list.faces)
        for (const auto& card : on_card(faces)) {
            const FaceOnCard& face = *card;
            const Program& program = face.cut_by_box && list.cut ? cut_.layers : whole_.layers;
            set_camera(program, list);
            if (face.cut_by_box) set_cut(program, list);
            set_lift(program, list);
            program.set("tone", glm::vec4(list.tone.melanin, list.tone.blood, list.tone.beard, 1.0f));
            program.set("layer", kLayerUnit);
            program.set("pattern", kPatternUnit);
            gl::bind(face.layer, kLayerUnit);
            face.mesh.draw();
        }
}

}  // namespace gl
