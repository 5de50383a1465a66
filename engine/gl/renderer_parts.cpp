#include "engine/gl/renderer_parts.hpp"

#include <array>
#include <glm/geometric.hpp>

#include "engine/gl/check.hpp"

namespace gl {

void set_cut(const Program& program, const view::DrawList& list) {
    if (!list.cut) return;
    program.set("cut_axes", list.cut->axes);
    program.set("cut_centre", list.cut->centre_mm);
    program.set("cut_half", list.cut->half_mm);
    program.set("cut_bend[0]", std::span<const float>(list.cut->bend));
}

void set_lift(const Program& program, const view::DrawList& list) {
    const bool lifted = list.cut && !list.cut->lift.empty();
    program.set("lift_on", lifted ? 1.0f : 0.0f);
    if (!lifted) return;
    program.set("lift_axes", list.cut->axes);
    program.set("lift_centre", list.cut->centre_mm);
    program.set("lift_half", list.cut->half_mm);
    std::vector<float> stations;
    for (const glm::vec4& one : list.cut->lift) stations.insert(stations.end(), {one.x, one.y, one.z, one.w});
    program.set("lift[0]", stations);
}

void set_camera(const Program& program, const view::DrawList& list) {
    program.use();
    program.set("view_projection", list.view_projection);
    program.set("eye", list.eye_mm);
}

void enable(GLenum what, bool on) {
    if (on)
        PK_GL(glEnable(what));
    else
        PK_GL(glDisable(what));
}

float pixels_per_mm(const view::DrawList& list, const glm::vec3& at_mm) {
    const glm::vec4 clip = list.view_projection * glm::vec4(at_mm, 1.0f);
    if (!(clip.w > 0.0f)) return 0.0f;
    std::array<GLint, 4> viewport{};
    PK_GL(glGetIntegerv(GL_VIEWPORT, viewport.data()));
    const glm::mat4& m = list.view_projection;
    const float clip_per_mm = glm::length(glm::vec3(m[0][1], m[1][1], m[2][1])) / clip.w;
    return 0.5f * static_cast<float>(viewport[3]) * clip_per_mm;
}

}  // namespace gl
