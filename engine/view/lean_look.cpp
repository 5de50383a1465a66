#include "engine/view/lean_look.hpp"

#include <algorithm>
#include <cmath>
#include <glm/common.hpp>
#include <glm/exponential.hpp>
#include <glm/geometric.hpp>

#include "sim/core/errors.hpp"

namespace view {

namespace {

// as in assets/shaders/light.glsl
constexpr glm::vec3 kBaseDensity{0.30f, 0.70f, 1.02f}, kMelaninDensity{1.95f, 2.30f, 2.62f},
    kBloodDensity{0.12f, 0.62f, 0.52f};
constexpr float kGamma = 2.2f;
// the mean of what the window lights is about 1.3 of its own strength; by eye
constexpr float kSlopeGain = 0.95f;
constexpr glm::vec2 kWindowAcross{0.4029f, 0.5552f};  // the window's direction in the face's plane
constexpr float kPoreSlope = 1.35f;                   // as skin.frag for pores of middling size

float share(std::uint8_t byte) { return static_cast<float>(byte) / 255.0f; }

std::uint8_t byte_of(float share) {
    return static_cast<std::uint8_t>(std::lround(glm::clamp(share, 0.0f, 1.0f) * 255.0f));
}

void put(std::uint8_t* to, const glm::vec3& colour, float rest) {
    for (int k = 0; k < 3; ++k) to[k] = byte_of(colour[k]);
    to[3] = byte_of(rest);
}

glm::vec3 on_screen(const glm::vec3& factor) {
    return glm::pow(glm::max(factor, glm::vec3(0.0f)), glm::vec3(1.0f / kGamma));
}

std::shared_ptr<Image> like(const Image& image) {
    auto out = std::make_shared<Image>();
    out->width = image.width;
    out->height = image.height;
    out->rgba.resize(image.rgba.size());
    return out;
}

/// Mottling and the light on pores; the last channel keeps the dots of shaved hair.
std::shared_ptr<const Image> lean_detail(const Image& detail) {
    auto out = like(detail);
    for (std::size_t i = 0; i + 3 < detail.rgba.size(); i += 4) {
        const std::uint8_t* from = &detail.rgba[i];
        const float mottling = share(from[2]) - 0.5f;
        const glm::vec2 slope = kPoreSlope * glm::vec2(share(from[0]) - 0.5f, share(from[1]) - 0.5f);
        const glm::vec3 density = mottling * (0.05f * kMelaninDensity + 0.22f * kBloodDensity);
        const float lit = 1.0f - kSlopeGain * glm::dot(slope, kWindowAcross);
        put(&out->rgba[i], on_screen(glm::exp(-density) * lit) / kLeanDetailScale, share(from[3]));
    }
    return out;
}

/// Paint, lines and hair as factors of plain skin; the last channel is wetness.
std::shared_ptr<const Image> lean_face(const Image& face, const Image& relief, const SkinTone& tone) {
    SIM_ASSERT(face.rgba.size() == relief.rgba.size());
    const glm::vec3 plain =
        glm::exp(-(kBaseDensity + tone.melanin * kMelaninDensity + 0.55f * tone.blood * kBloodDensity));
    const glm::vec3 dark_hair = glm::mix(glm::vec3(0.060f, 0.034f, 0.020f), glm::vec3(0.010f, 0.008f, 0.007f),
                                         glm::smoothstep(0.08f, 0.5f, tone.melanin));
    auto out = like(face);
    for (std::size_t i = 0; i + 3 < face.rgba.size(); i += 4) {
        const std::uint8_t *paint = &face.rgba[i], *lines = &relief.rgba[i];
        const float melanin = 0.5f * share(paint[2]) * (0.35f + 0.65f * (1.0f - tone.melanin));
        const float blood = share(paint[1]) / 0.6f * (1.0f - 0.45f * tone.melanin);
        glm::vec3 factor = glm::exp(-(melanin * kMelaninDensity + blood * kBloodDensity));
        // no slope is stored as 128, and must change nothing
        const glm::vec2 slope(share(lines[0]) - share(128), share(lines[1]) - share(128));
        factor *= 1.0f - kSlopeGain * glm::dot(slope, kWindowAcross);
        const glm::vec3 hair = glm::mix(dark_hair, glm::vec3(0.42f, 0.41f, 0.40f), share(lines[3]));
        factor = glm::mix(factor, hair / plain, share(paint[0]));
        put(&out->rgba[i], on_screen(factor), share(paint[3]));
    }
    return out;
}

}  // namespace

void work_out_lean_images(SkinImages& images, const SkinTone& tone) {
    SIM_ASSERT(images.detail);
    images.lean_detail = lean_detail(*images.detail);
    if (images.face && images.relief) images.lean_face = lean_face(*images.face, *images.relief, tone);
}

PaintedPlaces::PaintedPlaces(const SkinImages& images)
    : window_mm_(images.face_window_mm), painted_(static_cast<std::size_t>(kCells) * kCells, false) {
    SIM_ASSERT(images.lean_face);
    const Image& face = *images.lean_face;
    constexpr std::uint8_t kPlain = 254, kDry = 1;  // a rounding away from a factor of 1, and from no wetness
    for (int y = 0; y < face.height; ++y)
        for (int x = 0; x < face.width; ++x) {
            const std::uint8_t* texel =
                &face.rgba[4 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(face.width) +
                                static_cast<std::size_t>(x))];
            if (texel[0] >= kPlain && texel[1] >= kPlain && texel[2] >= kPlain && texel[3] <= kDry) continue;
            // a picture that is shown small blends with its neighbourhood
            const int cell_x = x * kCells / face.width, cell_y = y * kCells / face.height;
            for (int cy = std::max(0, cell_y - 1); cy <= std::min(kCells - 1, cell_y + 1); ++cy)
                for (int cx = std::max(0, cell_x - 1); cx <= std::min(kCells - 1, cell_x + 1); ++cx)
                    painted_[static_cast<std::size_t>(cy) * kCells + static_cast<std::size_t>(cx)] = true;
        }
}

bool PaintedPlaces::fall_on(std::span<const SurfaceVertex> vertices, std::span<const std::uint32_t> triangles) const {
    // as lean_surface.vert: nothing is laid on what turns away from the front or lies behind the face
    constexpr float kLeastNormal = 0.05f, kLeastMm = 40.0f;
    const auto cell = [](float share) { return std::clamp(static_cast<int>(share * kCells), 0, kCells - 1); };
    for (std::size_t t = 0; t + 2 < triangles.size(); t += 3) {
        glm::vec2 low(1e9f), high(-1e9f);
        bool seen = false;
        for (std::size_t k = 0; k < 3; ++k) {
            const SurfaceVertex& vertex = vertices[triangles[t + k]];
            const glm::vec2 at = (glm::vec2(vertex.rest_mm) - glm::vec2(window_mm_)) / window_mm_.z;
            low = glm::min(low, at);
            high = glm::max(high, at);
            seen = seen || (vertex.normal.z > kLeastNormal && vertex.rest_mm.z > kLeastMm);
        }
        if (!seen) continue;
        for (int cy = cell(low.y); cy <= cell(high.y); ++cy)
            for (int cx = cell(low.x); cx <= cell(high.x); ++cx)
                if (painted_[static_cast<std::size_t>(cy) * kCells + static_cast<std::size_t>(cx)]) return true;
    }
    return false;
}

}  // namespace view
