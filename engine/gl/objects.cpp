#include "engine/gl/objects.hpp"

#include <glm/gtc/type_ptr.hpp>
#include <stdexcept>

#include "engine/gl/check.hpp"
#include "sim/core/errors.hpp"

namespace gl {

void free_buffer(GLuint name) { PK_GL(glDeleteBuffers(1, &name)); }
void free_vertex_array(GLuint name) { PK_GL(glDeleteVertexArrays(1, &name)); }
void free_texture(GLuint name) { PK_GL(glDeleteTextures(1, &name)); }
void free_program(GLuint name) { PK_GL(glDeleteProgram(name)); }
void free_framebuffer(GLuint name) { PK_GL(glDeleteFramebuffers(1, &name)); }
void free_renderbuffer(GLuint name) { PK_GL(glDeleteRenderbuffers(1, &name)); }

namespace {

template <typename Owner>
Owner generate(void (*make)(GLsizei, GLuint*)) {
    GLuint name = 0;
    PK_GL(make(1, &name));
    return Owner(name);
}

GLuint compile(const std::string& name, GLenum stage, const std::string& source) {
    const GLuint shader = glCreateShader(stage);
    const char* text = source.c_str();
    PK_GL(glShaderSource(shader, 1, &text, nullptr));
    PK_GL(glCompileShader(shader));
    GLint compiled = 0;
    PK_GL(glGetShaderiv(shader, GL_COMPILE_STATUS, &compiled));
    if (compiled == GL_FALSE) {
        std::string log(4096, '\0');
        GLsizei length = 0;
        PK_GL(glGetShaderInfoLog(shader, static_cast<GLsizei>(log.size()), &length, log.data()));
        log.resize(static_cast<std::size_t>(length));
        glDeleteShader(shader);
        throw std::runtime_error("shader " + name + " does not compile: " + log);
    }
    return shader;
}

}  // namespace

Mesh::Mesh(std::span<const std::byte> vertices, std::size_t stride, std::span<const Attribute> attributes,
           std::span<const std::uint32_t> triangles, GLenum usage)
    : array_(generate<VertexArray>(glGenVertexArrays)),
      vertices_(generate<Buffer>(glGenBuffers)),
      triangles_(generate<Buffer>(glGenBuffers)),
      usage_(usage) {
    replace(vertices, triangles);
    PK_GL(glBindVertexArray(array_.name()));
    for (std::size_t i = 0; i < attributes.size(); ++i) {
        const auto index = static_cast<GLuint>(i);
        PK_GL(glEnableVertexAttribArray(index));
        // GL takes the offset as a pointer for reasons of age
        const bool bytes = attributes[i].number == Number::byte_share;
        PK_GL(glVertexAttribPointer(index, attributes[i].components,
                                    static_cast<GLenum>(bytes ? GL_UNSIGNED_BYTE : GL_FLOAT),
                                    static_cast<GLboolean>(bytes ? GL_TRUE : GL_FALSE), static_cast<GLsizei>(stride),
                                    reinterpret_cast<const void*>(attributes[i].offset)));
    }
}

void Mesh::replace(std::span<const std::byte> vertices, std::span<const std::uint32_t> triangles) {
    PK_GL(glBindVertexArray(array_.name()));
    PK_GL(glBindBuffer(GL_ARRAY_BUFFER, vertices_.name()));
    PK_GL(glBufferData(GL_ARRAY_BUFFER, static_cast<GLsizeiptr>(vertices.size_bytes()), vertices.data(), usage_));
    PK_GL(glBindBuffer(GL_ELEMENT_ARRAY_BUFFER, triangles_.name()));
    PK_GL(glBufferData(GL_ELEMENT_ARRAY_BUFFER, static_cast<GLsizeiptr>(triangles.size_bytes()), triangles.data(),
                       usage_));
    count_ = static_cast<GLsizei>(triangles.size());
}

void Mesh::replace_vertices(std::size_t first, std::span<const std::byte> vertices, std::size_t stride) {
    PK_GL(glBindBuffer(GL_ARRAY_BUFFER, vertices_.name()));
    PK_GL(glBufferSubData(GL_ARRAY_BUFFER, static_cast<GLintptr>(first * stride),
                          static_cast<GLsizeiptr>(vertices.size_bytes()), vertices.data()));
}

void Mesh::draw() const {
    if (count_ == 0) return;
    PK_GL(glBindVertexArray(array_.name()));
    PK_GL(glDrawElements(GL_TRIANGLES, count_, GL_UNSIGNED_INT, nullptr));
}

void Mesh::draw(std::uint32_t first, std::uint32_t count, std::uint32_t base) const {
    SIM_ASSERT(first + count <= static_cast<std::uint32_t>(count_));
    if (count == 0) return;
    PK_GL(glBindVertexArray(array_.name()));
    // GL takes the offset as a pointer for reasons of age
    PK_GL(glDrawElementsBaseVertex(GL_TRIANGLES, static_cast<GLsizei>(count), GL_UNSIGNED_INT,
                                   reinterpret_cast<const void*>(first * sizeof(std::uint32_t)),
                                   static_cast<GLint>(base)));
}

void Mesh::draw_picked(std::span<const std::uint32_t> triangles) {
    if (triangles.empty()) return;
    if (!picked_) picked_ = generate<Buffer>(glGenBuffers);
    PK_GL(glBindVertexArray(array_.name()));
    PK_GL(glBindBuffer(GL_ELEMENT_ARRAY_BUFFER, picked_.name()));
    PK_GL(glBufferData(GL_ELEMENT_ARRAY_BUFFER, static_cast<GLsizeiptr>(triangles.size_bytes()), triangles.data(),
                       GL_STREAM_DRAW));
    PK_GL(glDrawElements(GL_TRIANGLES, static_cast<GLsizei>(triangles.size()), GL_UNSIGNED_INT, nullptr));
    PK_GL(glBindBuffer(GL_ELEMENT_ARRAY_BUFFER, triangles_.name()));
}

Program::Program(const std::string& name, const std::string& vertex_source, const std::string& fragment_source) {
    const GLuint vertex = compile(name + " (vertex)", GL_VERTEX_SHADER, vertex_source);
    const GLuint fragment = compile(name + " (fragment)", GL_FRAGMENT_SHADER, fragment_source);
    program_ = Handle<free_program>(glCreateProgram());
    for (const GLuint shader : {vertex, fragment}) {
        PK_GL(glAttachShader(program_.name(), shader));
        PK_GL(glDeleteShader(shader));
    }
    PK_GL(glLinkProgram(program_.name()));
    GLint linked = 0;
    PK_GL(glGetProgramiv(program_.name(), GL_LINK_STATUS, &linked));
    if (linked == GL_FALSE) throw std::runtime_error("shader " + name + " does not link");

    GLint count = 0;
    PK_GL(glGetProgramiv(program_.name(), GL_ACTIVE_UNIFORMS, &count));
    for (GLint i = 0; i < count; ++i) {
        char text[128];
        GLint size = 0;
        GLenum type = 0;
        PK_GL(glGetActiveUniform(program_.name(), static_cast<GLuint>(i), sizeof text, nullptr, &size, &type, text));
        uniforms_.emplace_back(text, glGetUniformLocation(program_.name(), text));
    }
}

GLint Program::location(const char* uniform) const {
    for (const auto& [name, at] : uniforms_)
        if (name == uniform) return at;
    return -1;  // GL ignores it: a variant of a shader need not use all that others do
}

void Program::use() const { PK_GL(glUseProgram(program_.name())); }
void Program::set(const char* uniform, int value) const { PK_GL(glUniform1i(location(uniform), value)); }
void Program::set(const char* uniform, float value) const { PK_GL(glUniform1f(location(uniform), value)); }
void Program::set(const char* uniform, std::span<const float> values) const {
    PK_GL(glUniform1fv(location(uniform), static_cast<GLsizei>(values.size()), values.data()));
}
void Program::set(const char* uniform, const glm::vec3& value) const {
    PK_GL(glUniform3fv(location(uniform), 1, glm::value_ptr(value)));
}
void Program::set(const char* uniform, const glm::vec4& value) const {
    PK_GL(glUniform4fv(location(uniform), 1, glm::value_ptr(value)));
}
void Program::set(const char* uniform, const glm::mat3& value) const {
    PK_GL(glUniformMatrix3fv(location(uniform), 1, GL_FALSE, glm::value_ptr(value)));
}
void Program::set(const char* uniform, const glm::mat4& value) const {
    PK_GL(glUniformMatrix4fv(location(uniform), 1, GL_FALSE, glm::value_ptr(value)));
}

namespace {

void set_sampling(GLint minify, GLint wrap) {
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, minify));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_LINEAR));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_S, wrap));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_T, wrap));
}

}  // namespace

Texture make_texture(int width, int height, std::span<const std::uint8_t> pixels, Wrap wrap) {
    SIM_ASSERT(pixels.size() == static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 4);
    Texture texture = generate<Texture>(glGenTextures);
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glPixelStorei(GL_UNPACK_ALIGNMENT, 1));
    PK_GL(glTexImage2D(GL_TEXTURE_2D, 0, GL_RGBA8, width, height, 0, GL_RGBA, GL_UNSIGNED_BYTE, pixels.data()));
    PK_GL(glGenerateMipmap(GL_TEXTURE_2D));
    set_sampling(GL_LINEAR_MIPMAP_LINEAR, wrap == Wrap::repeat ? GL_REPEAT : GL_CLAMP_TO_EDGE);
    return texture;
}

void show_one_size(const Texture& texture, int level, bool blended) {
    const GLint filter = blended ? GL_LINEAR : GL_NEAREST;
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_BASE_LEVEL, level));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAX_LEVEL, level));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, filter));
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, filter));
}

Texture make_picture_texture(int width, int height) {
    Texture texture = generate<Texture>(glGenTextures);
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glTexImage2D(GL_TEXTURE_2D, 0, GL_RGBA8, width, height, 0, GL_RGBA, GL_UNSIGNED_BYTE, nullptr));
    set_sampling(GL_NEAREST, GL_CLAMP_TO_EDGE);
    PK_GL(glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_NEAREST));
    return texture;
}

void replace_picture(const Texture& texture, int width, int height, std::span<const std::uint8_t> pixels) {
    SIM_ASSERT(pixels.size() == static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 4);
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glPixelStorei(GL_UNPACK_ALIGNMENT, 1));
    PK_GL(glTexSubImage2D(GL_TEXTURE_2D, 0, 0, 0, width, height, GL_RGBA, GL_UNSIGNED_BYTE, pixels.data()));
}

void copy_from_framebuffer(const Texture& texture, int x, int y, int width, int height) {
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glCopyTexSubImage2D(GL_TEXTURE_2D, 0, 0, 0, x, y, width, height));
}

Texture make_float_texture(int width, int height) {
    Texture texture = generate<Texture>(glGenTextures);
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glTexImage2D(GL_TEXTURE_2D, 0, GL_RGBA16F, width, height, 0, GL_RGBA, GL_FLOAT, nullptr));
    set_sampling(GL_LINEAR, GL_CLAMP_TO_EDGE);
    return texture;
}

void replace_rows(const Texture& texture, int width, int first_row, std::span<const glm::vec4> texels) {
    SIM_ASSERT(width > 0 && texels.size() % static_cast<std::size_t>(width) == 0);
    const auto rows = static_cast<GLsizei>(texels.size() / static_cast<std::size_t>(width));
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
    PK_GL(glPixelStorei(GL_UNPACK_ALIGNMENT, 4));
    PK_GL(glTexSubImage2D(GL_TEXTURE_2D, 0, 0, first_row, width, rows, GL_RGBA, GL_FLOAT, texels.data()));
}

void bind(const Texture& texture, int unit) {
    PK_GL(glActiveTexture(GL_TEXTURE0 + static_cast<GLenum>(unit)));
    PK_GL(glBindTexture(GL_TEXTURE_2D, texture.name()));
}

Canvas::Canvas(int width, int height, int samples)
    : width_(width), height_(height), samples_(samples > 1 ? samples : 0) {
    const auto storage = [&](const Renderbuffer& buffer, int samples_wanted, GLenum format) {
        PK_GL(glBindRenderbuffer(GL_RENDERBUFFER, buffer.name()));
        PK_GL(glRenderbufferStorageMultisample(GL_RENDERBUFFER, samples_wanted, format, width, height));
    };
    framebuffer_ = generate<Framebuffer>(glGenFramebuffers);
    colour_ = generate<Renderbuffer>(glGenRenderbuffers);
    depth_ = generate<Renderbuffer>(glGenRenderbuffers);
    storage(colour_, samples_, GL_RGBA8);
    storage(depth_, samples_, GL_DEPTH_COMPONENT24);
    PK_GL(glBindFramebuffer(GL_FRAMEBUFFER, framebuffer_.name()));
    PK_GL(glFramebufferRenderbuffer(GL_FRAMEBUFFER, GL_COLOR_ATTACHMENT0, GL_RENDERBUFFER, colour_.name()));
    PK_GL(glFramebufferRenderbuffer(GL_FRAMEBUFFER, GL_DEPTH_ATTACHMENT, GL_RENDERBUFFER, depth_.name()));
    if (glCheckFramebufferStatus(GL_FRAMEBUFFER) != GL_FRAMEBUFFER_COMPLETE)
        throw std::runtime_error("the graphics driver refuses an off-screen picture of " + std::to_string(width) +
                                 " x " + std::to_string(height) + " pixels");
    if (samples_ == 0) return;
    // a multisampled picture can only be copied at its own size: stretch from a resolved one
    resolved_ = generate<Framebuffer>(glGenFramebuffers);
    resolved_colour_ = generate<Renderbuffer>(glGenRenderbuffers);
    storage(resolved_colour_, 0, GL_RGBA8);
    PK_GL(glBindFramebuffer(GL_FRAMEBUFFER, resolved_.name()));
    PK_GL(glFramebufferRenderbuffer(GL_FRAMEBUFFER, GL_COLOR_ATTACHMENT0, GL_RENDERBUFFER, resolved_colour_.name()));
}

void Canvas::bind() const {
    PK_GL(glBindFramebuffer(GL_FRAMEBUFFER, framebuffer_.name()));
    PK_GL(glViewport(0, 0, width_, height_));
}

void Canvas::show(GLuint framebuffer, int x, int y, int width, int height) {
    const bool stretched = width != width_ || height != height_;
    PK_GL(glBindFramebuffer(GL_READ_FRAMEBUFFER, framebuffer_.name()));
    if (samples_ > 0 && (stretched || !resolve_into(framebuffer, x, y))) {
        PK_GL(glBindFramebuffer(GL_DRAW_FRAMEBUFFER, resolved_.name()));
        PK_GL(glBlitFramebuffer(0, 0, width_, height_, 0, 0, width_, height_, GL_COLOR_BUFFER_BIT, GL_NEAREST));
        PK_GL(glBindFramebuffer(GL_READ_FRAMEBUFFER, resolved_.name()));
    }
    if (samples_ == 0 || stretched || !*straight_) {
        PK_GL(glBindFramebuffer(GL_DRAW_FRAMEBUFFER, framebuffer));
        PK_GL(glBlitFramebuffer(0, 0, width_, height_, x, y, x + width, y + height, GL_COLOR_BUFFER_BIT,
                                static_cast<GLenum>(stretched ? GL_LINEAR : GL_NEAREST)));
    }
    PK_GL(glBindFramebuffer(GL_FRAMEBUFFER, framebuffer));
}

/// In one step where the other framebuffer keeps its pixels as this one does; a driver says so once.
bool Canvas::resolve_into(GLuint framebuffer, int x, int y) {
    if (straight_ && !*straight_) return false;
    PK_GL(glBindFramebuffer(GL_DRAW_FRAMEBUFFER, framebuffer));
    glBlitFramebuffer(0, 0, width_, height_, x, y, x + width_, y + height_, GL_COLOR_BUFFER_BIT, GL_NEAREST);
    if (!straight_) straight_ = glGetError() == GL_NO_ERROR;
    return *straight_;
}

}  // namespace gl
