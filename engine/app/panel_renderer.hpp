#pragma once

#include <vector>

#include "engine/app/kept_panels.hpp"
#include "engine/gl/objects.hpp"

struct ImDrawData;

namespace app {

/// Puts ImGui's triangles on the current framebuffer.
///
/// Where a processor draws, large opaque triangles of one colour go without texture and blending: it would otherwise
/// spend more on the ground of the panels than on the patient; and parts that rest are laid as pictures
/// (kept_panels.hpp). All else, and on a card everything, is drawn as ImGui means it, in the same order.
class PanelRenderer {
 public:
    /// @param spare_pixels a processor draws
    explicit PanelRenderer(bool spare_pixels);
    void draw(const ImDrawData& data);

 private:
    struct Run {
        bool plain = false;
        std::uint32_t first = 0, count = 0;
    };

    void draw_command(const ImDrawList& list, const ImDrawCmd& command, float window_height);
    void lay(const KeptRun& run, const gl::Texture& picture, float window_height);

    bool spare_pixels_;
    gl::Program textured_, plain_;
    gl::Mesh mesh_, quad_;
    KeptPanels kept_;
    std::vector<std::uint32_t> indices_;
    std::vector<Run> runs_;
};

}  // namespace app
