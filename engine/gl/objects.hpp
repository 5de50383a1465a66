#pragma once

#include <glad/gl.h>

#include <cstdint>
#include <glm/mat3x3.hpp>
#include <glm/mat4x4.hpp>
#include <glm/vec2.hpp>
#include <glm/vec3.hpp>
#include <glm/vec4.hpp>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

/// Owners of what lives on the graphics card: move-only, freed when they go. All need a current context.

namespace gl {

/// A GL name and how it is freed.
template <void (*Free)(GLuint)>
class Handle {
 public:
    Handle() = default;
    explicit Handle(GLuint name) : name_(name) {}
    ~Handle() { reset(); }
    Handle(Handle&& other) noexcept : name_(std::exchange(other.name_, 0u)) {}
    Handle& operator=(Handle&& other) noexcept {
        if (this != &other) {
            reset();
            name_ = std::exchange(other.name_, 0u);
        }
        return *this;
    }
    Handle(const Handle&) = delete;
    Handle& operator=(const Handle&) = delete;

    [[nodiscard]] GLuint name() const { return name_; }
    explicit operator bool() const { return name_ != 0; }
    void reset() {
        if (name_ != 0) Free(std::exchange(name_, 0u));
    }

 private:
    GLuint name_ = 0;
};

void free_buffer(GLuint name);
void free_vertex_array(GLuint name);
void free_texture(GLuint name);
void free_program(GLuint name);
void free_framebuffer(GLuint name);
void free_renderbuffer(GLuint name);

using Buffer = Handle<free_buffer>;
using VertexArray = Handle<free_vertex_array>;
using Texture = Handle<free_texture>;
using Framebuffer = Handle<free_framebuffer>;
using Renderbuffer = Handle<free_renderbuffer>;

enum class Number { real, byte_share };  ///< byte_share: 0..255 for 0..1

/// One attribute of an interleaved vertex.
struct Attribute {
    int components = 3;
    std::size_t offset = 0;
    Number number = Number::real;
};

/// Interleaved vertices and the triangles between them.
class Mesh {
 public:
    Mesh() = default;
    Mesh(std::span<const std::byte> vertices, std::size_t stride, std::span<const Attribute> attributes,
         std::span<const std::uint32_t> triangles, GLenum usage = GL_STATIC_DRAW);

    /// Put other vertices and triangles in the same place; the layout stays.
    void replace(std::span<const std::byte> vertices, std::span<const std::uint32_t> triangles);
    /// Other vertices from this one on. @pre there are as many
    void replace_vertices(std::size_t first, std::span<const std::byte> vertices, std::size_t stride);
    void draw() const;
    /// A part of the triangles. @param first, count in indices  @param base added to each index
    void draw(std::uint32_t first, std::uint32_t count, std::uint32_t base = 0) const;
    /// These triangles of its vertices, in place of its own for once.
    void draw_picked(std::span<const std::uint32_t> triangles);

 private:
    VertexArray array_;
    Buffer vertices_, triangles_, picked_;
    GLsizei count_ = 0;
    GLenum usage_ = GL_STATIC_DRAW;
};

/// A linked program with its uniforms looked up once.
class Program {
 public:
    Program() = default;
    /// @throws std::runtime_error with `name` and the compiler's words
    Program(const std::string& name, const std::string& vertex_source, const std::string& fragment_source);

    void use() const;
    void set(const char* uniform, int value) const;
    void set(const char* uniform, float value) const;
    void set(const char* uniform, std::span<const float> values) const;
    void set(const char* uniform, const glm::vec3& value) const;
    void set(const char* uniform, const glm::vec4& value) const;
    void set(const char* uniform, const glm::mat3& value) const;
    void set(const char* uniform, const glm::mat4& value) const;

 private:
    [[nodiscard]] GLint location(const char* uniform) const;

    Handle<free_program> program_;
    std::vector<std::pair<std::string, GLint>> uniforms_;
};

enum class Wrap { repeat, clamp };
/// @param pixels RGBA, width * height * 4
[[nodiscard]] Texture make_texture(int width, int height, std::span<const std::uint8_t> pixels, Wrap wrap);
/// From now on this one of its sizes is looked up wherever it is shown: for processors, which would take long to find
/// the best one for each pixel. @param level 0: its own size, each further one half of that @param blended its texels
void show_one_size(const Texture& texture, int level, bool blended);
/// For a picture that is shown at its own size; nothing in it yet.
[[nodiscard]] Texture make_picture_texture(int width, int height);
/// Puts pixels into one of that size. @param pixels RGBA, width * height * 4, rows from the top
void replace_picture(const Texture& texture, int width, int height, std::span<const std::uint8_t> pixels);
/// Of the bound framebuffer, y counted from the bottom.
void copy_from_framebuffer(const Texture& texture, int x, int y, int width, int height);
/// Four half floats a texel, blended between texels; nothing in them yet.
[[nodiscard]] Texture make_float_texture(int width, int height);
/// @param texels whole rows of it
void replace_rows(const Texture& texture, int width, int first_row, std::span<const glm::vec4> texels);
void bind(const Texture& texture, int unit);

/// An off-screen picture with depth; several samples a pixel are resolved when it is shown.
class Canvas {
 public:
    Canvas() = default;
    /// @param samples 0 for one sample a pixel (1 is not the same: some drivers round it up to 4)
    Canvas(int width, int height, int samples);

    [[nodiscard]] int width() const { return width_; }
    [[nodiscard]] int height() const { return height_; }
    [[nodiscard]] int samples() const { return samples_; }
    void bind() const;
    /// Copy into a rectangle of another framebuffer (the same one each time), stretching if the sizes differ. y counts
    /// from the bottom.
    void show(GLuint framebuffer, int x, int y, int width, int height);

 private:
    bool resolve_into(GLuint framebuffer, int x, int y);

    int width_ = 0, height_ = 0, samples_ = 0;
    Renderbuffer colour_, depth_, resolved_colour_;
    Framebuffer framebuffer_, resolved_;
    std::optional<bool>
        straight_;  ///< whether samples can be brought there in one step; not known before the first time
};

}  // namespace gl
