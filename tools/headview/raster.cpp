#include "tools/headview/raster.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <glm/geometric.hpp>
#include <glm/gtc/matrix_transform.hpp>
#include <glm/vec2.hpp>
#include <glm/vec4.hpp>

namespace headview {
namespace {

constexpr float kDistanceMm = 900.0f;
const glm::vec3 kPaperTop(0.965f, 0.955f, 0.935f);
const glm::vec3 kPaperBottom(0.885f, 0.865f, 0.83f);

struct Projected {
    glm::vec2 pixel{};
    float depth = 0.0f, inverse_w = 0.0f;
};

float twice_area(const glm::vec2& a, const glm::vec2& b, const glm::vec2& c) {
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

}  // namespace

Picture::Picture(int w, int h)
    : width(w),
      height(h),
      colour(static_cast<std::size_t>(w * h)),
      depth(colour.size(), std::numeric_limits<float>::max()) {
    for (std::size_t i = 0; i < colour.size(); ++i) {
        const float down = static_cast<float>(i / static_cast<std::size_t>(w)) / static_cast<float>(h);
        colour[i] = glm::mix(kPaperTop, kPaperBottom, down);
    }
}

Camera camera(float azimuth_rad, float elevation_rad, float height_mm, const glm::vec3& target_mm, float aspect) {
    const glm::vec3 away(std::sin(azimuth_rad) * std::cos(elevation_rad), std::sin(elevation_rad),
                         std::cos(azimuth_rad) * std::cos(elevation_rad));
    Camera out;
    out.eye_mm = target_mm + kDistanceMm * away;
    const float field = 2.0f * std::atan(0.5f * height_mm / kDistanceMm);
    out.to_clip =
        glm::perspective(field, aspect, 300.0f, 2000.0f) * glm::lookAt(out.eye_mm, target_mm, glm::vec3(0, 1, 0));
    return out;
}

void draw(const std::vector<glm::vec3>& position_mm, const std::vector<std::uint32_t>& triangles, const Camera& camera,
          const Shade& shade, Picture& picture) {
    std::vector<Projected> at(position_mm.size());
    const glm::vec2 size(picture.width, picture.height);
    for (std::size_t i = 0; i < at.size(); ++i) {
        const glm::vec4 clip = camera.to_clip * glm::vec4(position_mm[i], 1.0f);
        at[i].inverse_w = 1.0f / clip.w;
        at[i].depth = clip.z * at[i].inverse_w;
        at[i].pixel = (glm::vec2(clip.x, -clip.y) * at[i].inverse_w * 0.5f + 0.5f) * size;
    }
    for (std::size_t t = 0; t < triangles.size(); t += 3) {
        const Projected& a = at[triangles[t]];
        const Projected& b = at[triangles[t + 1]];
        const Projected& c = at[triangles[t + 2]];
        const float area = twice_area(a.pixel, b.pixel, c.pixel);
        if (area >= 0.0f) continue;  // rows run down, so front faces turn clockwise
        const glm::vec2 low = glm::min(a.pixel, glm::min(b.pixel, c.pixel));
        const glm::vec2 high = glm::max(a.pixel, glm::max(b.pixel, c.pixel));
        for (int y = std::max(0, static_cast<int>(low.y)); y <= std::min(picture.height - 1, static_cast<int>(high.y));
             ++y) {
            for (int x = std::max(0, static_cast<int>(low.x));
                 x <= std::min(picture.width - 1, static_cast<int>(high.x)); ++x) {
                const glm::vec2 p(static_cast<float>(x) + 0.5f, static_cast<float>(y) + 0.5f);
                glm::vec3 k(twice_area(b.pixel, c.pixel, p), twice_area(c.pixel, a.pixel, p),
                            twice_area(a.pixel, b.pixel, p));
                k /= area;
                if (k.x < 0.0f || k.y < 0.0f || k.z < 0.0f) continue;
                const std::size_t i = static_cast<std::size_t>(y * picture.width + x);
                const float depth = k.x * a.depth + k.y * b.depth + k.z * c.depth;
                if (depth >= picture.depth[i]) continue;
                picture.depth[i] = depth;
                k *= glm::vec3(a.inverse_w, b.inverse_w, c.inverse_w);
                k /= k.x + k.y + k.z;
                picture.colour[i] = shade({triangles[t], triangles[t + 1], triangles[t + 2], k.x, k.y, k.z});
            }
        }
    }
}

void reduce(const Picture& from, int factor, int left, int top, Picture& out) {
    for (int y = 0; y < from.height / factor; ++y) {
        for (int x = 0; x < from.width / factor; ++x) {
            glm::vec3 sum(0.0f);
            for (int k = 0; k < factor * factor; ++k) {
                sum += from.colour[static_cast<std::size_t>((y * factor + k / factor) * from.width + x * factor +
                                                            k % factor)];
            }
            out.colour[static_cast<std::size_t>((top + y) * out.width + left + x)] =
                sum / static_cast<float>(factor * factor);
        }
    }
}

}  // namespace headview
