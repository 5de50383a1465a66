#pragma once

#include <glad/gl.h>

#include <array>
#include <cstddef>
#include <optional>
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

/// How long the card works on each frame, told a few frames later: nothing waits for it.
class CardClock {
 public:
    CardClock() = default;
    ~CardClock();
    CardClock(const CardClock&) = delete;
    CardClock& operator=(const CardClock&) = delete;

    /// Around what is drawn off the screen, so that no wait for the screen is counted.
    void begin();
    void end();
    /// The oldest frame that the card is done with and that was not told yet, ms.
    [[nodiscard]] std::optional<double> take();

 private:
    static constexpr std::size_t kUnderWay = 4;  ///< frames; more are not measured
    std::array<std::array<GLuint, 2>, kUnderWay> stamps_{};
    std::size_t oldest_ = 0, count_ = 0;
    bool open_ = false;
};

}  // namespace gl
