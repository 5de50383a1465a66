#pragma once

#include <glad/gl.h>

#include <cstddef>
#include <vector>

namespace gl {

/// How long the card itself works on each part of a frame, from time stamps that it sets between them.
///
/// The stamps of a frame must be read before the next one begins.
class CardWatch {
 public:
    CardWatch() = default;
    ~CardWatch();
    CardWatch(const CardWatch&) = delete;
    CardWatch& operator=(const CardWatch&) = delete;

    /// A frame begins here.
    void begin();
    /// A part of it ends here.
    void lap();
    /// Waits for the card. @return between begin() and each lap() in turn, ms
    [[nodiscard]] std::vector<double> ms();

 private:
    std::vector<GLuint> stamps_;
    std::size_t used_ = 0;
};

}  // namespace gl
