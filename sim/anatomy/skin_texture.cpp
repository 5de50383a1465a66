#include "sim/anatomy/skin_texture.hpp"

#include <array>

#include "sim/anatomy/hairs.hpp"
#include "sim/anatomy/skin_parts.hpp"
#include "sim/core/errors.hpp"

/// All amounts drawn by eye (assumed).

namespace sim {
namespace {

using glm::vec2;
using skin::bell;
using skin::bump;
using skin::clamp01;
using skin::ramp;
using skin::square;

std::uint8_t byte(float v) { return static_cast<std::uint8_t>(255.0f * clamp01(v) + 0.5f); }

/// One channel with a pen.
class Sheet {
 public:
    Sheet(int size, float low_x, float low_y, float side)
        : size_(size),
          low_(low_x, low_y),
          pixel_(side / static_cast<float>(size)),
          value_(static_cast<std::size_t>(size * size)) {}

    [[nodiscard]] vec2 place(int column, int row) const { return low_ + pixel_ * (vec2(column, row) + 0.5f); }
    [[nodiscard]] float& at(int column, int row) { return value_[static_cast<std::size_t>(row * size_ + column)]; }
    [[nodiscard]] float at(int column, int row) const { return value_[static_cast<std::size_t>(row * size_ + column)]; }
    [[nodiscard]] float held(int column, int row) const {
        return at(std::clamp(column, 0, size_ - 1), std::clamp(row, 0, size_ - 1));
    }
    [[nodiscard]] float pixel_mm() const { return pixel_; }

    struct Stroke {
        vec2 from{}, to{};
        float bend = 0.0f;  ///< sideways, as a share of the length
        float width_mm = 0.2f;
        float amount = 1.0f;
        float taper = 0.75f;  ///< share of the width lost at the end
        float soft_mm = 0.13f;
    };

    /// A soft tapering line; where it lies already darker the darker stays.
    void draw(const Stroke& s) {
        const int dabs = std::max(22, static_cast<int>(glm::length(s.to - s.from) / (0.4f * s.width_mm)));
        const vec2 along = s.to - s.from;
        const vec2 across(-along.y, along.x);
        for (int k = 0; k < dabs; ++k) {
            const float f = static_cast<float>(k) / static_cast<float>(dabs - 1);
            dab(s.from + along * f + across * (s.bend * 4.0f * f * (1.0f - f)), s.width_mm * (1.0f - s.taper * f),
                s.soft_mm, s.amount);
        }
    }

 private:
    void dab(const vec2& centre, float radius, float soft, float amount) {
        const int reach = static_cast<int>(std::ceil((radius + soft) / pixel_)) + 1;
        const int column = static_cast<int>((centre.x - low_.x) / pixel_);
        const int row = static_cast<int>((centre.y - low_.y) / pixel_);
        for (int j = std::max(0, row - reach); j <= std::min(size_ - 1, row + reach); ++j) {
            for (int i = std::max(0, column - reach); i <= std::min(size_ - 1, column + reach); ++i) {
                const float cover = amount * ramp(radius + soft, radius - soft, glm::length(place(i, j) - centre));
                at(i, j) = std::max(at(i, j), cover);
            }
        }
    }

    int size_;
    vec2 low_;
    float pixel_;
    std::vector<float> value_;
};

constexpr float kHairSoftMm = 0.10f;
constexpr float kGreyShare = 0.45f;  // of a stroke that others lie over

class FacePainter {
 public:
    FacePainter(const SkinField& field, int size)
        : form_(field.form()),
          melanin_(static_cast<float>(field.parameters().melanin)),
          size_(size),
          random_(field.parameters().asymmetry_seed + 11U) {}

    FacePaint paint() {
        for (int row = 0; row < size_; ++row) {
            for (int column = 0; column < size_; ++column) {
                lips(column, row);
                lids(column, row);
                pores(column, row);
            }
        }
        brows();
        spots();
        wrinkles();
        return {colour_image(), relief_image()};
    }

 private:
    [[nodiscard]] Sheet sheet() const { return {size_, PaintWindow::kLowX, PaintWindow::kLowY, PaintWindow::kSide}; }
    float chance() { return static_cast<float>(random_.uniform()); }
    [[nodiscard]] float laxity() const { return 0.5f * (form_.left.laxity + form_.right.laxity); }

    void lips(int column, int row) {
        const vec2 p = hair_.place(column, row);
        const float x = std::fabs(p.x) * skin::kMouthUnitMm / skin::mouth_half_width(form_);
        if (x > 28.0f || p.y > -32.0f || p.y < -63.0f) return;
        const float above = p.y - skin::mouth_line_y(x);
        const vec2 height = skin::lip_heights(form_, x);
        const bool upper = above > 0.0f;
        float red =
            upper ? ramp(height.x + 0.7f, height.x - 0.9f, above) : ramp(height.y + 1.2f, height.y - 1.6f, -above);
        red *= ramp(26.3f, 23.0f, x);
        const float lines = 0.5f + 0.5f * std::sin(p.x * 5.2f + 1.4f * std::sin(p.x * 1.7f) + 0.25f * above);
        const float dark = ramp(0.35f, 0.75f, melanin_);
        blood_.at(column, row) += red * (0.98f + 0.10f * lines - 0.40f * form_.male);
        // in dark skin the upper lip is brown and the inner lower lip rosier
        const float inner = upper ? 0.0f : ramp(0.75f, 0.15f, -above / std::max(height.y, 1.0f));
        melanin_change_.at(column, row) += red * (0.06f + dark * (upper ? 0.16f : 0.12f - 0.40f * inner));
        blood_.at(column, row) += red * dark * 0.35f * inner;
        wet_.at(column, row) += red * (0.85f - 0.45f * form_.male - 0.2f * form_.age);
        height_.at(column, row) += 0.05f * red * lines;
        const float shut = bump(above, 0.5f) * ramp(26.6f, 23.5f, x);
        hair_.at(column, row) = std::max(hair_.at(column, row), 0.42f * shut);
        blood_.at(column, row) += 0.5f * bump(above, 1.4f) * ramp(26.6f, 24.0f, x);
    }

    void lids(int column, int row) {
        const vec2 p = hair_.place(column, row);
        const float x = std::fabs(p.x);
        melanin_change_.at(column, row) +=
            0.09f * bell(x - 5.6f, 2.1f) * bell(p.y + 25.2f + 2.0f * form_.male, 1.4f);  // nostril's shade
        if (p.y < 0.0f || p.y > 28.0f) return;
        const float above = p.y - skin::lid_line_y(x);
        const float along = (x - 30.5f) / 15.2f;
        const float within = ramp(1.02f, 0.88f, std::fabs(along));
        // the closed margins, and under them what the lashes darken: all that is seen of lashes from afar
        const float line = (0.86f - 0.36f * form_.male) * bump(above + 0.35f, 0.46f - 0.14f * form_.male);
        const float roots = 0.5f + 0.5f * std::sin(11.0f * p.x + 2.0f * std::sin(2.3f * p.x));
        const float lashes = (0.34f - 0.18f * form_.male) * (0.6f + 0.4f * roots) * bump(above + 1.3f, 1.1f);
        const float hair = within * std::max(line, lashes) * (0.65f + 0.35f * ramp(-0.9f, 0.5f, along));
        hair_.at(column, row) = std::max(hair_.at(column, row), hair);
        blood_.at(column, row) +=
            0.30f * within * bump(above + 0.5f, 1.6f) + 0.35f * bell(x - 15.2f, 1.4f) * bell(p.y - 9.6f, 1.3f);
        melanin_change_.at(column, row) += 0.10f * bell(x - 31.0f, 12) * bell(above - 6.0f, 4) +
                                           (0.05f + 0.06f * laxity()) * bell(x - 26.0f, 10) * bell(above + 6.5f, 3.2f);
    }

    void pores(int column, int row) {
        const vec2 p = hair_.place(column, row);
        const float x = std::fabs(p.x);
        const float nose = bell(x, 13) * bell(p.y + 14.0f, 11);
        const float cheek = bell(x - 22.0f, 11) * bell(p.y + 12.0f, 11);
        const float chin = bell(x, 14) * bell(p.y + 70.0f, 9);
        const float brow = bell(x, 22) * bell(p.y - 44.0f, 14);
        pores_.at(column, row) =
            clamp01(0.9f * nose + 0.8f * cheek + 0.7f * chin + 0.45f * brow) * (0.8f + 0.35f * form_.male);
    }

    /// Fine enough to be told apart: a few pixels of the picture across with its soft edge.
    void brows() {
        const float width_mm = 0.095f + 0.025f * form_.male;
        for (const BrowHair& hair : brow_hairs(form_, random_)) {
            hair_.draw({hair.from, hair.to, hair.bend, width_mm, hair.strength, 0.75f, kHairSoftMm});
            if (hair.grey) grey_.draw({hair.from, hair.to, hair.bend, width_mm, kGreyShare, 0.6f, kHairSoftMm});
        }
    }

    void spots() {
        constexpr float kFrontMm = 46.0f;  // farther out the frontal picture is stretched over the side of the head
        const int freckles = static_cast<int>(90.0f * clamp01(1.0f - 2.2f * melanin_) + 70.0f * form_.age);
        for (int k = 0; k < freckles; ++k) {
            const float x = kFrontMm * (2.0f * chance() - 1.0f);
            const float y = -30.0f + 80.0f * chance();
            const float radius = 0.2f + (0.38f + 0.35f * form_.age) * square(chance());
            melanin_change_.draw({{x, y}, {x + 0.1f, y}, 0.0f, radius, 0.04f + 0.07f * chance(), 0.0f});
        }
    }

    /// A groove of the given depth along a stroke.
    void groove(const vec2& from, const vec2& to, float bend, float width_mm, float depth_mm) {
        if (depth_mm < 0.003f) return;
        grooves_.draw({from, to, bend, width_mm, depth_mm, 0.6f});
        grooves_.draw({to, from, -bend, width_mm, depth_mm, 0.6f});
    }

    void wrinkles() {
        const float age = form_.age;
        for (int side = -1; side <= 1; side += 2) {
            const float s = static_cast<float>(side);
            const float lax = side > 0 ? form_.left.laxity : form_.right.laxity;
            const float worn = 0.5f * age + 0.5f * lax;
            for (int k = 0; k < 6; ++k) {  // beside the outer corner of the eye
                const float rise = 0.75f - 0.3f * static_cast<float>(k);
                const float y = 10.0f + 1.8f * (2.5f - static_cast<float>(k));
                const float length = 5.0f + 6.0f * chance();
                groove({s * 48.5f, y}, {s * (48.5f + length), y + length * std::sin(rise)},
                       s * (0.15f * chance() - 0.05f), 0.35f, (0.07f + 0.09f * chance()) * worn);
            }
            for (int k = 0; k < 3; ++k) {  // below the lid
                const float y = 1.5f - 2.6f * static_cast<float>(k);
                groove({s * (19.0f + 2.0f * chance()), y}, {s * (41.0f + 3.0f * chance()), y + 2.5f}, s * -0.10f, 0.3f,
                       0.12f * worn);
            }
            for (int k = 0; k < 7; ++k) {  // around the lips, upright
                const float x = 3.5f + 3.1f * static_cast<float>(k) + 0.8f * chance();
                const float top = -38.5f - 0.22f * x;
                groove({s * x, top + 5.0f * chance()}, {s * (x - 0.4f), top - 3.5f}, 0.0f, 0.25f,
                       0.16f * age * (1.0f - 0.6f * form_.male));
            }
            groove({s * (5.5f + chance()), 27.0f}, {s * 7.0f, 37.0f}, s * -0.04f, 0.45f,
                   0.16f * age + 0.05f * form_.male);  // frown
        }
        for (int k = 0; k < 4; ++k) {  // forehead
            const float y = 45.0f + 6.5f * static_cast<float>(k) + 1.5f * chance();
            const float depth = (0.20f - 0.02f * static_cast<float>(k)) * age;
            const float reach = 36.0f + 8.0f * chance();
            groove({-reach, y - 1.0f}, {-1.0f, y + 1.2f * chance()}, 0.06f, 0.5f, depth);
            groove({1.0f, y + 1.2f * chance()}, {reach, y - 1.0f}, 0.06f, 0.5f, depth);
        }
    }

    [[nodiscard]] TextureImage colour_image() const {
        return image([&](int c, int r) {
            return std::array{hair_.at(c, r), 0.6f * blood_.at(c, r), 2.0f * std::max(0.0f, melanin_change_.at(c, r)),
                              wet_.at(c, r)};
        });
    }

    [[nodiscard]] TextureImage relief_image() const {
        const float per_mm = 0.5f / hair_.pixel_mm();
        const auto h = [&](int c, int r) { return height_.held(c, r) - grooves_.held(c, r); };
        return image([&](int c, int r) {
            return std::array{0.5f + per_mm * (h(c + 1, r) - h(c - 1, r)), 0.5f + per_mm * (h(c, r + 1) - h(c, r - 1)),
                              pores_.at(c, r), grey_.at(c, r)};
        });
    }

    template <class Pixel>
    [[nodiscard]] TextureImage image(const Pixel& pixel) const {
        TextureImage out{size_, {}};
        out.rgba.reserve(static_cast<std::size_t>(size_ * size_ * 4));
        for (int row = 0; row < size_; ++row) {
            for (int column = 0; column < size_; ++column) {
                for (const float v : pixel(column, row)) out.rgba.push_back(byte(v));
            }
        }
        return out;
    }

    const skin::Form& form_;
    float melanin_;
    int size_;
    Random random_;
    Sheet hair_ = sheet(), blood_ = sheet(), melanin_change_ = sheet(), wet_ = sheet();
    Sheet height_ = sheet(), grooves_ = sheet(), pores_ = sheet(), grey_ = sheet();
};

/// Scattered points in a tiling grid, one a cell, with a random rank each.
class Cells {
 public:
    static constexpr int kSide = 30;

    explicit Cells(Random& random) {
        for (Cell& cell : cells_)
            cell = {vec2(random.uniform(), random.uniform()), static_cast<float>(random.uniform())};
    }

    struct Nearest {
        float first = 9.0f, second = 9.0f;  ///< distances, in cells
        float rank = 0.0f;                  ///< of the nearest
    };
    [[nodiscard]] Nearest nearest(const vec2& p) const {
        const glm::ivec2 home(p);
        Nearest out;
        for (int j = -1; j <= 1; ++j) {
            for (int i = -1; i <= 1; ++i) {
                const glm::ivec2 at = home + glm::ivec2(i, j);
                const Cell& cell =
                    cells_[static_cast<std::size_t>((at.y + kSide) % kSide * kSide + (at.x + kSide) % kSide)];
                const float d = glm::length(vec2(at) + cell.place - p);
                if (d < out.first) {
                    out.second = out.first;
                    out.first = d;
                    out.rank = cell.rank;
                } else {
                    out.second = std::min(out.second, d);
                }
            }
        }
        return out;
    }

 private:
    struct Cell {
        vec2 place{};
        float rank = 0.0f;
    };
    std::array<Cell, kSide * kSide> cells_;
};

/// Smooth noise that repeats every `period` units.
class TilingNoise {
 public:
    TilingNoise(int period, Random& random) : period_(period), value_(static_cast<std::size_t>(period * period)) {
        for (float& v : value_) v = static_cast<float>(random.uniform());
    }
    [[nodiscard]] float at(const vec2& p) const {
        const glm::ivec2 i(glm::floor(p));
        const vec2 f = p - vec2(i);
        const vec2 t = f * f * (3.0f - 2.0f * f);
        return glm::mix(glm::mix(node(i.x, i.y), node(i.x + 1, i.y), t.x),
                        glm::mix(node(i.x, i.y + 1), node(i.x + 1, i.y + 1), t.x), t.y);
    }

 private:
    [[nodiscard]] float node(int x, int y) const {
        return value_[static_cast<std::size_t>(y % period_ * period_ + x % period_)];
    }
    int period_;
    std::vector<float> value_;
};

}  // namespace

FacePaint paint_face(const SkinField& field, int size) {
    SIM_ASSERT(size > 0);
    return FacePainter(field, size).paint();
}

TextureImage skin_detail(int size) {
    SIM_ASSERT(size > 0);
    Random random(5);
    const Cells cells(random);
    constexpr int kSide = Cells::kSide;
    const TilingNoise fine(kSide / 2, random), coarse(kSide / 5, random), medium(kSide / 2, random);
    std::vector<float> height(static_cast<std::size_t>(size * size)), mottle(height), stubble(height);
    for (int row = 0; row < size; ++row) {
        for (int column = 0; column < size; ++column) {
            const vec2 p = static_cast<float>(kSide) * (vec2(column, row) + 0.5f) / static_cast<float>(size);
            const Cells::Nearest near = cells.nearest(p);
            const std::size_t i = static_cast<std::size_t>(row * size + column);
            const float crease = ramp(0.22f, 0.0f, near.second - near.first);
            const float pore = near.rank > 0.45f ? ramp(0.32f, 0.08f, near.first) : 0.0f;
            height[i] = -0.55f * crease - 0.9f * pore + 0.5f * fine.at(0.5f * p);
            mottle[i] = 0.6f * coarse.at(p / 5.0f) + 0.4f * medium.at(p / 2.0f);
            stubble[i] = near.rank > 0.12f ? ramp(0.34f, 0.14f, near.first) * (0.5f + 0.5f * near.rank) : 0.0f;
        }
    }
    TextureImage out{size, {}};
    out.rgba.reserve(static_cast<std::size_t>(size * size * 4));
    const auto h = [&](int column, int row) {
        return height[static_cast<std::size_t>((row + size) % size * size + (column + size) % size)];
    };
    for (int row = 0; row < size; ++row) {
        for (int column = 0; column < size; ++column) {
            const std::size_t i = static_cast<std::size_t>(row * size + column);
            out.rgba.push_back(byte(0.5f + 0.5f * (h(column + 1, row) - h(column - 1, row))));
            out.rgba.push_back(byte(0.5f + 0.5f * (h(column, row + 1) - h(column, row - 1))));
            out.rgba.push_back(byte(mottle[i]));
            out.rgba.push_back(byte(stubble[i]));
        }
    }
    return out;
}

}  // namespace sim
