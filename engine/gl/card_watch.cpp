#include "engine/gl/card_watch.hpp"

#include "engine/gl/check.hpp"

namespace gl {

CardWatch::~CardWatch() {
    if (!stamps_.empty()) PK_GL(glDeleteQueries(static_cast<GLsizei>(stamps_.size()), stamps_.data()));
}

void CardWatch::begin() {
    used_ = 0;
    lap();
}

void CardWatch::lap() {
    if (used_ == stamps_.size()) {
        GLuint name = 0;
        PK_GL(glGenQueries(1, &name));
        stamps_.push_back(name);
    }
    PK_GL(glQueryCounter(stamps_[used_++], GL_TIMESTAMP));
}

std::vector<double> CardWatch::ms() {
    std::vector<double> out;
    GLuint64 last_ns = 0;
    for (std::size_t i = 0; i < used_; ++i) {
        GLuint64 now_ns = 0;
        PK_GL(glGetQueryObjectui64v(stamps_[i], GL_QUERY_RESULT, &now_ns));
        if (i > 0) out.push_back(1e-6 * static_cast<double>(now_ns - last_ns));
        last_ns = now_ns;
    }
    return out;
}

}  // namespace gl
