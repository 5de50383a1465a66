#pragma once

#include <filesystem>

#include "engine/app/debrief.hpp"
#include "engine/gl/renderer.hpp"

namespace app {

/// Write the debrief as a PDF of two pages to the user's folder of debriefs, with pictures of its costliest moments.
/// Leaves the framebuffer as it was. @return the file
/// @throws files::FileError, std::runtime_error when it cannot be written
[[nodiscard]] std::filesystem::path write_debrief_paper(Debrief& debrief, gl::Renderer& renderer);

}  // namespace app
