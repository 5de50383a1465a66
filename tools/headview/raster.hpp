#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include <glm/mat4x4.hpp>
#include <glm/vec3.hpp>

/// Triangles to pixels on the CPU.

namespace headview {

struct Picture {
    int width = 0, height = 0;
    std::vector<glm::vec3> colour;  ///< display values 0..1, first row on top
    std::vector<float> depth;

    Picture(int w, int h);
};

struct Camera {
    glm::mat4 to_clip{};
    glm::vec3 eye_mm{};
};
/// @param azimuth_rad 0 from the front, > 0 towards the patient's left  @param target_mm middle of the picture
[[nodiscard]] Camera camera(float azimuth_rad, float elevation_rad, float height_mm, const glm::vec3& target_mm,
                            float aspect);

/// Where in a triangle a pixel lies.
struct Fragment {
    std::uint32_t a, b, c;
    float u, v, w;  ///< weights of the corners
};
using Shade = std::function<glm::vec3(const Fragment&)>;

/// Draws front faces nearer than what the picture holds.
void draw(const std::vector<glm::vec3>& position_mm, const std::vector<std::uint32_t>& triangles, const Camera& camera,
          const Shade& shade, Picture& picture);

/// Averages `factor` x `factor` pixels into `out` at (left, top).
void reduce(const Picture& from, int factor, int left, int top, Picture& out);

}  // namespace headview
