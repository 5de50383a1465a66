#pragma once

#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

struct SDL_Window;

/// A window with an OpenGL 3.3 core context, or the same without a display through SDL's `offscreen` driver.

namespace gl {

/// There is nothing to draw with. what() says what was found and what is needed.
class NoGraphics : public std::runtime_error {
 public:
    using std::runtime_error::runtime_error;
};

struct WindowOptions {
    std::string title;
    int width = 1280, height = 720;
    bool visible = true;
};

class Window {
 public:
    /// @throws NoGraphics
    explicit Window(const WindowOptions& options);
    ~Window();
    Window(const Window&) = delete;
    Window& operator=(const Window&) = delete;

    [[nodiscard]] int width() const;  ///< in pixels, as it is now
    [[nodiscard]] int height() const;
    void swap();
    /// Drawn by the processor: be lean.
    [[nodiscard]] bool software() const { return software_; }
    /// What is drawn into the window itself may have depth.
    [[nodiscard]] bool has_depth() const { return has_depth_; }
    [[nodiscard]] const std::string& renderer() const { return renderer_; }  ///< as the driver calls itself
    [[nodiscard]] SDL_Window* handle() const { return window_; }
    [[nodiscard]] void* context() const { return context_; }

 private:
    SDL_Window* window_ = nullptr;
    void* context_ = nullptr;
    std::string renderer_;
    bool software_ = false, has_depth_ = false;
};

/// What has been drawn into the current framebuffer: RGB, rows from the top.
struct Picture {
    int width = 0, height = 0;
    std::vector<unsigned char> rgb;
};
[[nodiscard]] Picture read_picture(int width, int height);

/// @throws std::runtime_error naming the file and what failed
void write_png(const Picture& picture, const std::string& file);

}  // namespace gl
