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

CardClock::~CardClock() {
    for (const auto& pair : stamps_)
        if (pair[0] != 0) PK_GL(glDeleteQueries(2, pair.data()));
}

void CardClock::begin() {
    open_ = count_ < kUnderWay;
    if (!open_) return;
    std::array<GLuint, 2>& pair = stamps_[(oldest_ + count_) % kUnderWay];
    if (pair[0] == 0) PK_GL(glGenQueries(2, pair.data()));
    PK_GL(glQueryCounter(pair[0], GL_TIMESTAMP));
}

void CardClock::end() {
    if (!open_) return;
    PK_GL(glQueryCounter(stamps_[(oldest_ + count_) % kUnderWay][1], GL_TIMESTAMP));
    ++count_;
    open_ = false;
}

std::optional<double> CardClock::take() {
    if (count_ == 0) return std::nullopt;
    const std::array<GLuint, 2>& pair = stamps_[oldest_];
    GLint there = 0;
    PK_GL(glGetQueryObjectiv(pair[1], GL_QUERY_RESULT_AVAILABLE, &there));
    if (there == GL_FALSE) return std::nullopt;
    std::array<GLuint64, 2> at_ns{};
    for (std::size_t i = 0; i < 2; ++i) PK_GL(glGetQueryObjectui64v(pair[i], GL_QUERY_RESULT, &at_ns[i]));
    oldest_ = (oldest_ + 1) % kUnderWay;
    --count_;
    return 1e-6 * static_cast<double>(at_ns[1] - at_ns[0]);
}

}  // namespace gl
