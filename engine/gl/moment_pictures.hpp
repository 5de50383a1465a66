#pragma once

#include <vector>

#include "engine/gl/renderer.hpp"
#include "engine/report/debrief_pdf.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/session/replay.hpp"
#include "engine/view/scene.hpp"

namespace gl {

/// Pictures for paper of the three costliest losses, each at its moment and close to its place, cut open along the
/// shaft.
///
/// Draws over the lower left corner of the current framebuffer, which must be at least 600 x 400 pixels. The replay
/// stands where it stood when this returns.
[[nodiscard]] std::vector<report::Picture> moment_pictures(Renderer& renderer, view::Scene& scene,
                                                           session::Replay& replay,
                                                           const std::vector<report::Loss>& losses);

}  // namespace gl
