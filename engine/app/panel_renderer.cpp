#include "engine/app/panel_renderer.hpp"

#include <imgui.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

#include "engine/gl/check.hpp"

namespace app {

namespace {

constexpr float kWorthPx = 300.0f;  // area of a triangle from which changing the program pays
constexpr ImU32 kOpaque = 0xFFu << IM_COL32_A_SHIFT;

// positions in pixels from the top left
const char* const kVertex = R"(#version 330 core
layout(location = 0) in vec2 in_position;
layout(location = 1) in vec2 in_texture;
layout(location = 2) in vec4 in_colour;
uniform vec4 to_clip;  // scale, offset
out vec2 at;
out vec4 tint;
flat out vec4 even;
void main() {
    at = in_texture;
    tint = even = in_colour;
    gl_Position = vec4(in_position * to_clip.xy + to_clip.zw, 0.0, 1.0);
}
)";

const char* const kTextured = R"(#version 330 core
in vec2 at;
in vec4 tint;
uniform sampler2D letters;
out vec4 colour;
void main() { colour = tint * texture(letters, at); }
)";

const char* const kPlain = R"(#version 330 core
flat in vec4 even;
out vec4 colour;
void main() { colour = even; }
)";

bool plain(const ImDrawVert& a, const ImDrawVert& b, const ImDrawVert& c, const ImVec2& white) {
    const auto on_white = [&white](const ImDrawVert& v) { return v.uv.x == white.x && v.uv.y == white.y; };
    if (a.col != b.col || a.col != c.col || (a.col & kOpaque) != kOpaque) return false;
    if (!on_white(a) || !on_white(b) || !on_white(c)) return false;
    const float twice_area = (b.pos.x - a.pos.x) * (c.pos.y - a.pos.y) - (c.pos.x - a.pos.x) * (b.pos.y - a.pos.y);
    return std::fabs(twice_area) > 2.0f * kWorthPx;
}

void set_blending(bool on) {
    if (on)
        PK_GL(glEnable(GL_BLEND));
    else
        PK_GL(glDisable(GL_BLEND));
}

}  // namespace

PanelRenderer::PanelRenderer(bool spare_pixels)
    : spare_pixels_(spare_pixels), textured_("letters", kVertex, kTextured), plain_("panels", kVertex, kPlain) {
    using gl::Attribute;
    const std::array layout{Attribute{2, offsetof(ImDrawVert, pos)}, Attribute{2, offsetof(ImDrawVert, uv)},
                            Attribute{4, offsetof(ImDrawVert, col), gl::Number::byte_share}};
    mesh_ = gl::Mesh({}, sizeof(ImDrawVert), layout, {}, GL_STREAM_DRAW);
    quad_ = gl::Mesh({}, sizeof(ImDrawVert), layout, {}, GL_STREAM_DRAW);
}

void PanelRenderer::draw(const ImDrawData& data) {
    const float width = data.DisplaySize.x, height = data.DisplaySize.y;
    if (!(width > 0.0f && height > 0.0f)) return;
    PK_GL(glDisable(GL_CULL_FACE));
    PK_GL(glDisable(GL_DEPTH_TEST));
    PK_GL(glEnable(GL_SCISSOR_TEST));
    PK_GL(glBlendFuncSeparate(GL_SRC_ALPHA, GL_ONE_MINUS_SRC_ALPHA, GL_ONE, GL_ONE_MINUS_SRC_ALPHA));
    PK_GL(glActiveTexture(GL_TEXTURE0));
    for (const gl::Program* program : {&textured_, &plain_}) {
        program->use();
        program->set("to_clip", glm::vec4(2.0f / width, -2.0f / height, -1.0f, 1.0f));
        program->set("letters", 0);
    }
    for (int l = 0; l < data.CmdListsCount; ++l) {
        const ImDrawList& list = *data.CmdLists[l];
        indices_.assign(list.IdxBuffer.begin(), list.IdxBuffer.end());
        mesh_.replace(std::as_bytes(std::span(list.VtxBuffer.Data, static_cast<std::size_t>(list.VtxBuffer.Size))),
                      indices_);
        KeptRun run;
        for (int c = 0; c < list.CmdBuffer.Size; ++c) {
            if (!spare_pixels_ || !opens_kept(list, c, height, run)) {
                draw_command(list, list.CmdBuffer[c], height);
                continue;
            }
            if (const gl::Texture* picture = kept_.picture(run)) {
                lay(run, *picture, height);
            } else {
                for (int k = run.first; k < run.last; ++k) draw_command(list, list.CmdBuffer[k], height);
                kept_.drawn(run);
            }
            c = run.last;
        }
    }
    PK_GL(glDisable(GL_SCISSOR_TEST));
    PK_GL(glDisable(GL_BLEND));
}

void PanelRenderer::draw_command(const ImDrawList& list, const ImDrawCmd& command, float window_height) {
    const PixelBox box = pixels_of(command, window_height);
    if (command.ElemCount == 0 || box.width <= 0 || box.height <= 0) return;
    const ImVec2 white = ImGui::GetIO().Fonts->TexUvWhitePixel;
    PK_GL(glScissor(box.x, box.y, box.width, box.height));
    PK_GL(glBindTexture(GL_TEXTURE_2D, static_cast<GLuint>(reinterpret_cast<std::uintptr_t>(command.TextureId))));
    const auto vertex = [&](std::uint32_t i) {
        return list.VtxBuffer[static_cast<int>(indices_[i] + command.VtxOffset)];
    };
    if (!spare_pixels_) {
        textured_.use();
        set_blending(true);
        mesh_.draw(command.IdxOffset, command.ElemCount, command.VtxOffset);
        return;
    }
    runs_.clear();
    for (std::uint32_t i = command.IdxOffset; i + 2 < command.IdxOffset + command.ElemCount; i += 3) {
        const bool is_plain = plain(vertex(i), vertex(i + 1), vertex(i + 2), white);
        if (runs_.empty() || runs_.back().plain != is_plain) runs_.push_back({is_plain, i, 0});
        runs_.back().count += 3;
    }
    for (const Run& run : runs_) {
        (run.plain ? plain_ : textured_).use();
        set_blending(!run.plain);
        mesh_.draw(run.first, run.count, command.VtxOffset);
    }
}

/// A kept picture in its place, texel on pixel.
void PanelRenderer::lay(const KeptRun& run, const gl::Texture& picture, float window_height) {
    const PixelBox& box = run.box;
    const auto x0 = static_cast<float>(box.x), x1 = static_cast<float>(box.x + box.width);
    const float y1 = window_height - static_cast<float>(box.y), y0 = y1 - static_cast<float>(box.height);
    // rows of a copied picture begin at the bottom
    const std::array<ImDrawVert, 4> corners{{{{x0, y0}, {0, 1}, IM_COL32_WHITE},
                                             {{x1, y0}, {1, 1}, IM_COL32_WHITE},
                                             {{x1, y1}, {1, 0}, IM_COL32_WHITE},
                                             {{x0, y1}, {0, 0}, IM_COL32_WHITE}}};
    static constexpr std::array<std::uint32_t, 6> kTwo{0, 1, 2, 0, 2, 3};
    quad_.replace(std::as_bytes(std::span(corners)), kTwo);
    PK_GL(glScissor(box.x, box.y, box.width, box.height));
    PK_GL(glActiveTexture(GL_TEXTURE0));
    PK_GL(glBindTexture(GL_TEXTURE_2D, picture.name()));
    textured_.use();
    set_blending(false);
    quad_.draw();
}

}  // namespace app
