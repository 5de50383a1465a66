#pragma once

#include <filesystem>

#include "engine/view/ultrasound_beam.hpp"

namespace report {

/// A probe's picture with a scale of depth at its side, as a PNG; two pixels a pixel.
/// @throws std::runtime_error naming the file when it cannot be written
void write_ultrasound_sheet(const std::filesystem::path& file, const view::EchoPicture& picture);

}  // namespace report
