#pragma once

#include <functional>
#include <string>
#include <vector>

#include "engine/gl/renderer.hpp"
#include "engine/report/debrief_pdf.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/session/replay.hpp"
#include "engine/view/scene.hpp"

namespace gl {

/// Lets the scene's skin lie as a moment has it, before it is drawn.
using SkinAt = std::function<void(const sim::State& state)>;

/// Pictures for paper of the three costliest losses, each at its moment and close to its place, cut open along the
/// shaft.
///
/// Draws over the lower left corner of the current framebuffer, which must be at least 600 x 400 pixels. The replay
/// stands where it stood when this returns.
[[nodiscard]] std::vector<report::Picture> moment_pictures(Renderer& renderer, view::Scene& scene,
                                                           session::Replay& replay,
                                                           const std::vector<report::Loss>& losses,
                                                           const SkinAt& skin_at = {});

/// The patient at the end of the attempt, whole skin, close to the planned work. As above.
[[nodiscard]] report::Picture end_picture(Renderer& renderer, view::Scene& scene, session::Replay& replay,
                                          std::string caption);

}  // namespace gl
