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
#include "engine/view/layer_pattern.hpp"
#include "engine/view/lean_look.hpp"

namespace gl {

namespace {

constexpr float kDetailSideMm = 24.0f;           // of a tile of detail, as lean_surface.vert lays it
const glm::vec3 kMiddleMm(0.0f, -20.0f, 50.0f);  // of what one looks at: the picture's scale is that there
constexpr int kDetailUnit = 0, kFaceUnit = 1, kReliefUnit = 2, kLayerUnit = 3, kPatternUnit = 4;

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

void set_cut(const Program& program, const view::DrawList& list) {
    if (!list.cut) return;
    program.set("cut_axes", list.cut->axes);
    program.set("cut_centre", list.cut->centre_mm);
    program.set("cut_half", list.cut->half_mm);
    program.set("cut_bend[0]", std::span<const float>(list.cut->bend));
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

constexpr std::array kObjectLayout{
    Attribute{3, offsetof(view::ObjectVertex, position_mm)}, Attribute{3, offsetof(view::ObjectVertex, normal)},
    Attribute{3, offsetof(view::ObjectVertex, colour)}, Attribute{1, offsetof(view::ObjectVertex, gloss)}};

/// Of the picture, at a place. 0 behind the eye.
float pixels_per_mm(const view::DrawList& list, const glm::vec3& at_mm) {
    const glm::vec4 clip = list.view_projection * glm::vec4(at_mm, 1.0f);
    if (!(clip.w > 0.0f)) return 0.0f;
    std::array<GLint, 4> viewport{};
    PK_GL(glGetIntegerv(GL_VIEWPORT, viewport.data()));
    const glm::mat4& m = list.view_projection;
    const float clip_per_mm = glm::length(glm::vec3(m[0][1], m[1][1], m[2][1])) / clip.w;
    return 0.5f * static_cast<float>(viewport[3]) * clip_per_mm;
}

/// Whether lashes would come out as strands and not as dots: their paint on the skin is all that is seen then.
bool shows_hairs(const view::DrawList& list) {
    constexpr float kSamplesPerMm = 5.0f;  // strands are 0.15 mm wide: by eye
    GLint samples = 0;
    PK_GL(glGetIntegerv(GL_SAMPLES, &samples));
    return pixels_per_mm(list, list.hairs->vertices.front().position_mm) *
               std::sqrt(static_cast<float>(std::max(samples, 1))) >=
           kSamplesPerMm;
}

/// How far a tent may move a vertex.
float slack_mm(const view::DrawList& list) { return std::fabs(list.tent.height_mm); }

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
                {std::move(mesh), std::move(chunks), std::move(triangles), std::move(planes), {}, {}, rest, 0.0f}};
    }
    if (kept.card.holds.lock() != surface) {
        kept.card.mesh.replace(bytes_of(surface->vertices), kept.card.triangles);
        kept.card.planes = planes_of(surface->vertices, kept.card.triangles);
        kept.card.holds = surface;
        kept.card.moved_most_mm = surface->moved_most_mm;
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
    backdrop_.use();
    backdrop_mesh_.draw();
}

void Renderer::upload(const view::DrawList& list, Shading shading) {
    forget_what_is_gone();
    for (const auto& surface : list.surfaces) on_card(surface);
    for (const auto& solid : list.solids) on_card(solid);
    for (const auto& marks : list.marks) on_card(marks);
    if (list.hairs) on_card(list.hairs);
    for (const auto& faces : list.faces) on_card(faces);
    bind_skin_images(list, shading);
}

void Renderer::draw(const view::DrawList& list, Shading shading) {
    // nothing may be put on the card between binding and drawing: it would take a unit that is in use
    upload(list, shading);
    GLint samples = 0;
    PK_GL(glGetIntegerv(GL_SAMPLES, &samples));
    const bool soft_edges = samples > 1 && !list.see_through;
    enable(GL_SCISSOR_TEST, false);
    enable(GL_BLEND, false);
    enable(GL_CULL_FACE, false);
    enable(GL_DEPTH_TEST, true);
    PK_GL(glDepthMask(GL_TRUE));
    PK_GL(glDepthFunc(GL_LEQUAL));
    PK_GL(glClear(GL_DEPTH_BUFFER_BIT));
    // opacity at a border becomes a share of the pixel's samples
    enable(GL_SAMPLE_ALPHA_TO_COVERAGE, soft_edges);
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
    enable(GL_SAMPLE_ALPHA_TO_COVERAGE, false);
}

void Renderer::draw_objects(const view::DrawList& list) {
    enable(GL_CULL_FACE, false);
    object_mesh_.replace(bytes_of(list.objects.vertices), list.objects.triangles);
    set_camera(whole_.object, list);
    object_mesh_.draw();
    for (const auto& solid : list.solids) on_card(solid).draw();
    const Program& on_skin = list.cut ? cut_.object : whole_.object;
    set_camera(on_skin, list);
    set_cut(on_skin, list);
    for (const auto& marks : list.marks) on_card(marks).draw();
    if (list.hairs && shows_hairs(list)) on_card(list.hairs).draw();
}

void Renderer::draw_layer_tops(const view::DrawList& list) {
    if (list.layer_tops.empty()) return;
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
    gl::bind(pattern_, kPatternUnit);
    for (const auto& faces : list.faces)
        for (const auto& card : on_card(faces)) {
            const FaceOnCard& face = *card;
            const Program& program = face.cut_by_box && list.cut ? cut_.layers : whole_.layers;
            set_camera(program, list);
            if (face.cut_by_box) set_cut(program, list);
            program.set("tone", glm::vec4(list.tone.melanin, list.tone.blood, list.tone.beard, 1.0f));
            program.set("layer", kLayerUnit);
            program.set("pattern", kPatternUnit);
            gl::bind(face.layer, kLayerUnit);
            face.mesh.draw();
        }
}

void Renderer::find_painted(SurfaceOnCard& surface, const view::Surface& source, const view::SkinImages& images) {
    if (surface.painted.size() == surface.chunks.size() && surface.painted_by.lock() == images.lean_face) return;
    surface.painted_by = images.lean_face;
    surface.painted.assign(surface.chunks.size(), false);
    if (!source.face || !images.lean_face) return;
    const view::PaintedPlaces places(images);
    for (std::size_t i = 0; i < surface.chunks.size(); ++i)
        surface.painted[i] = places.fall_on(
            source.vertices, std::span(surface.triangles).subspan(surface.chunks[i].first, surface.chunks[i].count));
}

/// Calls with each chunk that may show of those asked for.
template <typename Use>
void Renderer::each_chunk(const SurfaceOnCard& surface, const view::DrawList& list, const Which& which, Use use) {
    const float slack = slack_mm(list) + surface.moved_most_mm;
    for (std::size_t i = 0; i < surface.chunks.size(); ++i) {
        const Chunk& chunk = surface.chunks[i];
        if (which.painted && surface.painted[i] != *which.painted) continue;
        const bool touched = list.cut && may_be_cut(chunk, *list.cut, slack);
        if (touched != which.touched_by_cut || !may_show(chunk, list.view_projection, list.eye_mm, slack)) continue;
        use(chunk);
    }
}

void Renderer::draw_chunks(const SurfaceOnCard& surface, const view::DrawList& list, const Which& which) {
    std::uint32_t first = 0, count = 0;
    const auto flush = [&] {
        surface.mesh.draw(first, count);
        count = 0;
    };
    each_chunk(surface, list, which, [&](const Chunk& chunk) {
        if (count > 0 && first + count != chunk.first) flush();
        if (count == 0) first = chunk.first;
        count += chunk.count;
    });
    if (count > 0) flush();
}

/// A processor that draws takes longer over a triangle that is turned away than this thread over leaving it out.
void Renderer::draw_facing(SurfaceOnCard& surface, const view::DrawList& list, const Which& which) {
    picked_.clear();
    each_chunk(surface, list, which, [&](const Chunk& chunk) {
        const auto triangles = std::span(surface.triangles).subspan(chunk.first, chunk.count);
        if (may_be_raised(chunk, list.tent, surface.moved_most_mm))
            picked_.insert(picked_.end(), triangles.begin(), triangles.end());
        else
            pick_facing(triangles, std::span(surface.planes).subspan(chunk.first / 3), list.eye_mm, picked_);
    });
    surface.mesh.draw_picked(picked_);
}

void Renderer::draw_surface(SurfaceOnCard& surface, const view::DrawList& list, Shading shading, const Which& which) {
    if (shading == Shading::lean)
        draw_facing(surface, list, which);
    else
        draw_chunks(surface, list, which);
}

void Renderer::bind_skin_images(const view::DrawList& list, Shading shading) {
    const view::SkinImages& images = list.images;
    // all are on the card before the first is bound: putting one there takes a unit that may already be in use
    if (shading == Shading::lean) {
        const glm::vec3 middle = list.cut ? list.cut->centre_mm : kMiddleMm;
        const float scale = pixels_per_mm(list, middle);
        const Texture& detail = sized(images.lean_detail, plain_factor_, Wrap::repeat, kDetailSideMm, scale);
        const Texture& face = sized(images.lean_face, plain_factor_, Wrap::clamp, images.face_window_mm.z, scale);
        gl::bind(detail, kDetailUnit);
        gl::bind(face, kFaceUnit);
    } else {
        const Texture& detail = on_card(images.detail, plain_detail_, Wrap::repeat);
        const Texture& face = on_card(images.face, plain_face_, Wrap::clamp);
        const Texture& relief = on_card(images.relief, plain_relief_, Wrap::clamp);
        gl::bind(detail, kDetailUnit);
        gl::bind(face, kFaceUnit);
        gl::bind(relief, kReliefUnit);
    }
}

void Renderer::draw_surfaces(const view::DrawList& list, Shading shading) {
    enable(GL_CULL_FACE, true);
    bind_skin_images(list, shading);
    // there is skin under cap and drape
    draw_cloth(list, shading);
    draw_skin(list, shading);
}

void Renderer::draw_cloth(const view::DrawList& list, Shading shading) {
    for (const bool touched : {false, true}) {
        if (touched && !list.cut) continue;
        const Programs& programs = touched ? cut_ : whole_;
        const Program& program = shading == Shading::lean ? programs.lean_cloth : programs.cloth;
        set_camera(program, list);
        set_cut(program, list);
        set_tent(program, list);
        program.set("detail", kDetailUnit);
        program.set("detail_scale", list.images.lean_detail ? view::kLeanDetailScale : 1.0f);
        for (const auto& surface : list.surfaces) {
            if (surface->kind != view::SurfaceKind::cloth) continue;
            program.set("dye", surface->colour);
            draw_surface(on_card(surface), list, shading, {touched, std::nullopt});
        }
    }
}

void Renderer::draw_skin(const view::DrawList& list, Shading shading) {
    if (list.see_through && !(list.skin_opacity > 0.0f)) return;
    const bool lean = shading == Shading::lean;
    const float opacity = list.see_through ? list.skin_opacity : 1.0f;
    const auto each = [&](const Program Programs::*which, std::optional<bool> painted) {
        for (const bool touched : {false, true}) {
            if (touched && !list.cut) continue;
            const Program& program = (touched ? cut_ : whole_).*which;
            set_camera(program, list);
            set_cut(program, list);
            set_tent(program, list);
            program.set("detail", kDetailUnit);
            program.set("face", kFaceUnit);
            program.set("relief", kReliefUnit);
            program.set("detail_scale", list.images.lean_detail ? view::kLeanDetailScale : 1.0f);
            program.set("opacity", opacity);
            program.set("tone", glm::vec4(list.tone.melanin, list.tone.blood, list.tone.beard, opacity));
            for (const auto& surface : list.surfaces) {
                if (surface->kind != view::SurfaceKind::skin) continue;
                program.set("face_window", glm::vec4(list.images.face_window_mm, surface->face ? 1.0f : 0.0f));
                SurfaceOnCard& card = on_card(surface);
                if (painted) find_painted(card, *surface, list.images);
                draw_surface(card, list, shading, {touched, painted});
            }
        }
    };
    const auto lit = [&] {
        if (!lean) return each(&Programs::skin, std::nullopt);
        each(&Programs::lean_plain_skin, false);
        each(&Programs::lean_skin, true);
    };
    if (!list.see_through) return lit();
    // nearest skin first, as depth alone; then only that is laid over what has been drawn
    PK_GL(glColorMask(GL_FALSE, GL_FALSE, GL_FALSE, GL_FALSE));
    each(lean ? &Programs::lean_depth_only : &Programs::depth_only, std::nullopt);
    PK_GL(glColorMask(GL_TRUE, GL_TRUE, GL_TRUE, GL_TRUE));
    enable(GL_BLEND, true);
    PK_GL(glBlendFunc(GL_SRC_ALPHA, GL_ONE_MINUS_SRC_ALPHA));
    PK_GL(glDepthFunc(GL_EQUAL));
    lit();
    PK_GL(glDepthFunc(GL_LEQUAL));
    enable(GL_BLEND, false);
}

}  // namespace gl
