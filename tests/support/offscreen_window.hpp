#pragma once

#include <catch2/catch.hpp>
#include <cstdlib>
#include <memory>

#include "engine/gl/window.hpp"

namespace support {

/// A window without a display, or none, which is said, where nothing can draw.
inline std::unique_ptr<gl::Window> window_if_any(int width, int height) {
    setenv("SDL_VIDEODRIVER", "offscreen", 0);
    try {
        return std::make_unique<gl::Window>(gl::WindowOptions{"", width, height, false});
    } catch (const gl::NoGraphics& error) {
        WARN(error.what());
        return nullptr;
    }
}

}  // namespace support
