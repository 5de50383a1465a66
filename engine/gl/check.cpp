#include "engine/gl/check.hpp"

#include <glad/gl.h>

#include <cstdio>
#include <cstdlib>

namespace gl {

void expect_no_error(const char* call, const char* file, int line) {
    const GLenum error = glGetError();
    if (error == GL_NO_ERROR) return;
    std::fprintf(stderr, "%s:%d: GL error 0x%04x from %s\n", file, line, error, call);
    std::abort();
}

}  // namespace gl
