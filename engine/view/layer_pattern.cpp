#include "engine/view/layer_pattern.hpp"

#include <cmath>
#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include "sim/core/random.hpp"
#include "sim/core/vec.hpp"

namespace view {

namespace {

constexpr int kPixels = 256;
constexpr int kSmallLobules = 16, kLargeLobules = 9, kNoiseCells = 12;  // along a tile

/// Random values on a square lattice that repeats.
class Lattice {
 public:
    Lattice(int cells, std::uint64_t seed) : cells_(cells) {
        sim::Random random(seed);
        for (int i = 0; i < cells * cells; ++i) {
            const auto x = static_cast<float>(random.uniform(0.0, 1.0));
            value_.emplace_back(x, static_cast<float>(random.uniform(0.0, 1.0)));
        }
    }
    [[nodiscard]] glm::vec2 at(int x, int y) const {
        const auto wrap = [this](int i) { return static_cast<std::size_t>((i % cells_ + cells_) % cells_); };
        return value_[wrap(y) * static_cast<std::size_t>(cells_) + wrap(x)];
    }
    /// How much farther the second nearest of scattered centres is than the nearest: 0 on the septum between two.
    [[nodiscard]] float septum(const glm::vec2& share) const {
        const glm::vec2 p = share * static_cast<float>(cells_);
        const int cx = static_cast<int>(std::floor(p.x)), cy = static_cast<int>(std::floor(p.y));
        float first = 9.0f, second = 9.0f;
        for (int y = cy - 1; y <= cy + 1; ++y)
            for (int x = cx - 1; x <= cx + 1; ++x) {
                const glm::vec2 centre = glm::vec2(x, y) + 0.15f + 0.7f * at(x, y);
                const float away = glm::length(centre - p);
                second = std::min(second, std::max(first, away));
                first = std::min(first, away);
            }
        return second - first;
    }
    [[nodiscard]] float noise(const glm::vec2& share) const {
        const glm::vec2 p = share * static_cast<float>(cells_);
        const int x = static_cast<int>(std::floor(p.x)), y = static_cast<int>(std::floor(p.y));
        glm::vec2 f = p - glm::floor(p);
        f = f * f * (3.0f - 2.0f * f);
        return glm::mix(glm::mix(at(x, y).x, at(x + 1, y).x, f.x), glm::mix(at(x, y + 1).x, at(x + 1, y + 1).x, f.x),
                        f.y);
    }

 private:
    int cells_;
    std::vector<glm::vec2> value_;
};

std::uint8_t byte_of(float share) {
    return static_cast<std::uint8_t>(std::lround(glm::clamp(share, 0.0f, 1.0f) * 255.0f));
}

}  // namespace

std::shared_ptr<const Image> layer_pattern_image() {
    const Lattice small(kSmallLobules, 1), large(kLargeLobules, 2), cells(kNoiseCells, 3);
    auto image = std::make_shared<Image>();
    image->width = image->height = kPixels;
    image->rgba.reserve(static_cast<std::size_t>(kPixels) * kPixels * 4);
    for (int y = 0; y < kPixels; ++y)
        for (int x = 0; x < kPixels; ++x) {
            const glm::vec2 share = glm::vec2(x, y) / static_cast<float>(kPixels);
            const float noise = cells.noise(share);
            // whole waves across a tile, or it would not repeat
            constexpr float kWavesUp = 19.0f, kWavesAlong = 5.0f;
            const auto turn = static_cast<float>(2.0 * sim::kPi);
            const float fibres =
                0.5f + 0.5f * std::sin(turn * (kWavesUp * share.y + kWavesAlong * share.x) + 2.5f * noise);
            for (const float value : {1.0f - glm::smoothstep(0.02f, 0.16f, small.septum(share)),
                                      1.0f - glm::smoothstep(0.02f, 0.14f, large.septum(share)), fibres, noise})
                image->rgba.push_back(byte_of(value));
        }
    return image;
}

}  // namespace view
