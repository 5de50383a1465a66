#pragma once

#include "engine/gl/objects.hpp"

struct ImDrawData;

namespace app {

/// Puts ImGui's triangles on the current framebuffer.
///
/// Large opaque triangles of one colour go without texture and blending: a processor that draws would otherwise spend
/// more on the ground of the panels than on the patient. All else is drawn as ImGui means it, in the same order.
class PanelRenderer {
 public:
    PanelRenderer();
    void draw(const ImDrawData& data);

 private:
    struct Run {
        bool plain = false;
        std::uint32_t first = 0, count = 0;
    };

    gl::Program textured_, plain_;
    gl::Mesh mesh_;
    std::vector<std::uint32_t> indices_;
    std::vector<Run> runs_;
};

}  // namespace app
