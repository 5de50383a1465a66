#include "engine/gl/window.hpp"

#include <glad/gl.h>
#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <stb_image_write.h>

#include <cstring>

#include "engine/gl/check.hpp"

namespace gl {

namespace {

constexpr int kMajor = 3, kMinor = 3, kDepthBits = 24;

[[noreturn]] void refuse(const std::string& found) {
    throw NoGraphics("OpenGL 3.3 is needed to show the patient. Found: " + found +
                     ". A graphics driver or Mesa's software renderer (Debian: libgl1-mesa-dri, and libegl1 without a "
                     "display) gives it.");
}

std::string gl_text(GLenum name) {
    const GLubyte* text = glGetString(name);
    return text != nullptr ? reinterpret_cast<const char*>(text) : "nothing";
}

}  // namespace

Window::Window(const WindowOptions& options) {
    SDL_SetMainReady();
    if (SDL_Init(SDL_INIT_VIDEO) != 0) refuse(std::string("no display (") + SDL_GetError() + ")");
    SDL_GL_SetAttribute(SDL_GL_CONTEXT_MAJOR_VERSION, kMajor);
    SDL_GL_SetAttribute(SDL_GL_CONTEXT_MINOR_VERSION, kMinor);
    SDL_GL_SetAttribute(SDL_GL_CONTEXT_PROFILE_MASK, SDL_GL_CONTEXT_PROFILE_CORE);
    SDL_GL_SetAttribute(SDL_GL_DOUBLEBUFFER, 1);
    const Uint32 flags = static_cast<Uint32>(SDL_WINDOW_OPENGL) | static_cast<Uint32>(SDL_WINDOW_RESIZABLE) |
                         static_cast<Uint32>(options.visible ? SDL_WINDOW_SHOWN : SDL_WINDOW_HIDDEN);
    // with depth of its own the window can take a patient of one sample a pixel without a detour; it must not need it
    for (const int depth_bits : {kDepthBits, 0}) {
        SDL_GL_SetAttribute(SDL_GL_DEPTH_SIZE, depth_bits);
        window_ = SDL_CreateWindow(options.title.c_str(), SDL_WINDOWPOS_CENTERED, SDL_WINDOWPOS_CENTERED, options.width,
                                   options.height, flags);
        if (window_ != nullptr) context_ = SDL_GL_CreateContext(window_);
        if (context_ != nullptr || depth_bits == 0) break;
        if (window_ != nullptr) SDL_DestroyWindow(window_);
        window_ = nullptr;
    }
    if (context_ == nullptr) {
        const char* driver = SDL_GetCurrentVideoDriver();
        const std::string found = std::string("no such context (") + SDL_GetError() + "; video driver " +
                                  (driver != nullptr ? driver : "none") + ")";
        if (window_ != nullptr) SDL_DestroyWindow(window_);
        SDL_Quit();
        refuse(found);
    }
    const int loaded = gladLoadGL(reinterpret_cast<GLADloadfunc>(SDL_GL_GetProcAddress));
    if (loaded < GLAD_MAKE_VERSION(kMajor, kMinor)) {
        const std::string found = loaded == 0 ? "no GL functions" : "OpenGL " + gl_text(GL_VERSION);
        SDL_GL_DeleteContext(context_);
        SDL_DestroyWindow(window_);
        SDL_Quit();
        refuse(found);
    }
    renderer_ = gl_text(GL_RENDERER);
    for (const char* name : {"llvmpipe", "softpipe", "SWR"})
        software_ = software_ || renderer_.find(name) != std::string::npos;
    int depth_bits = 0;
    has_depth_ = SDL_GL_GetAttribute(SDL_GL_DEPTH_SIZE, &depth_bits) == 0 && depth_bits >= kDepthBits;
    SDL_GL_SetSwapInterval(software_ ? 0 : 1);
    SDL_SetWindowMinimumSize(window_, 1024, 640);
}

Window::~Window() {
    SDL_GL_DeleteContext(context_);
    SDL_DestroyWindow(window_);
    SDL_Quit();
}

int Window::width() const {
    int width = 0, height = 0;
    SDL_GL_GetDrawableSize(window_, &width, &height);
    return width;
}

int Window::height() const {
    int width = 0, height = 0;
    SDL_GL_GetDrawableSize(window_, &width, &height);
    return height;
}

void Window::swap() { SDL_GL_SwapWindow(window_); }

Picture read_picture(int width, int height) {
    Picture out{width, height, {}};
    const auto row = static_cast<std::size_t>(width) * 3;
    std::vector<unsigned char> upside_down(row * static_cast<std::size_t>(height));
    PK_GL(glPixelStorei(GL_PACK_ALIGNMENT, 1));
    PK_GL(glReadPixels(0, 0, width, height, GL_RGB, GL_UNSIGNED_BYTE, upside_down.data()));
    out.rgb.resize(upside_down.size());
    for (std::size_t y = 0; y < static_cast<std::size_t>(height); ++y)
        std::memcpy(&out.rgb[y * row], &upside_down[(static_cast<std::size_t>(height) - 1 - y) * row], row);
    return out;
}

void write_png(const Picture& picture, const std::string& file) {
    if (stbi_write_png(file.c_str(), picture.width, picture.height, 3, picture.rgb.data(), picture.width * 3) == 0)
        throw std::runtime_error(file + ": the picture cannot be written there");
}

}  // namespace gl
