#include <cmath>

#include "engine/gl/check.hpp"
#include "engine/gl/renderer.hpp"
#include "engine/gl/renderer_parts.hpp"
#include "engine/view/lean_look.hpp"

/// Skin and cloth: which of their triangles are handed on, and how they are lit.

namespace gl {

namespace {

constexpr float kDetailSideMm = 24.0f;           // of a tile of detail, as lean_surface.vert lays it
const glm::vec3 kMiddleMm(0.0f, -20.0f, 50.0f);  // of what one looks at: the picture's scale is that there

void set_tent(const Program& program, const view::DrawList& list) {
    program.set("tent_at", glm::vec4(list.tent.centre_mm, list.tent.height_mm));
    program.set("tent_outward", glm::vec4(list.tent.outward, list.tent.width_mm));
}

/// How far a tent may move a vertex.
float slack_mm(const view::DrawList& list) { return std::fabs(list.tent.height_mm); }

}  // namespace

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
    const float slack = slack_mm(list) + surface.slack_mm();
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
        if (may_be_raised(chunk, list.tent, surface.slack_mm()))
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
        soften_borders(touched);
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
            soften_borders(touched);
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
