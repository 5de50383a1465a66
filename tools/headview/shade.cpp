#include "tools/headview/shade.hpp"

#include <algorithm>
#include <cmath>

#include <glm/common.hpp>
#include <glm/geometric.hpp>
#include <glm/vec4.hpp>

/// Tuned by eye (assumed), the skin's optical densities included.

namespace headview {
namespace {

using glm::vec2;
using glm::vec3;
using glm::vec4;

const vec3 kKeyFrom = glm::normalize(vec3(0.45f, 0.62f, 0.80f));
const vec3 kFillFrom = glm::normalize(vec3(-0.85f, 0.10f, 0.50f));
const vec3 kBackFrom = glm::normalize(vec3(0.20f, 0.55f, -0.85f));
const vec3 kKey = vec3(1.0f, 0.955f, 0.895f) * 1.22f;
const vec3 kFill = vec3(0.86f, 0.92f, 1.0f) * 0.30f;
const vec3 kBack = vec3(1.0f, 0.98f, 0.95f) * 0.28f;
const vec3 kFromEye(0.15f, 0.16f, 0.17f);

float smooth(float from, float to, float v) {
    const float t = glm::clamp((v - from) / (to - from), 0.0f, 1.0f);
    return t * t * (3.0f - 2.0f * t);
}

vec3 power(const vec3& v, const vec3& p) { return {std::pow(v.x, p.x), std::pow(v.y, p.y), std::pow(v.z, p.z)}; }
vec3 fade(const vec3& density) { return {std::exp(-density.x), std::exp(-density.y), std::exp(-density.z)}; }

const vec3 kGreyHair(0.42f, 0.41f, 0.40f);
vec3 dark_hair(float melanin) {
    return glm::mix(vec3(0.060f, 0.034f, 0.020f), vec3(0.010f, 0.008f, 0.007f), smooth(0.08f, 0.5f, melanin));
}

/// Diffuse light that bleeds past the terminator by `wrap` in each colour.
vec3 wrapped(float cosine, const vec3& wrap) {
    return glm::clamp((vec3(cosine) + wrap) / ((1.0f + wrap) * (1.0f + wrap)), 0.0f, 1.0f);
}

vec3 surroundings(const vec3& n) {
    const float up = 0.5f + 0.5f * glm::dot(n, glm::normalize(vec3(0.0f, 0.6f, 0.8f)));
    return glm::mix(vec3(0.17f, 0.155f, 0.145f), vec3(0.285f, 0.295f, 0.305f), up);
}

vec3 shown(const vec3& c) {
    const vec3 curve = c * (2.51f * c + 0.03f) / (c * (2.43f * c + 0.59f) + 0.14f) * 1.05f;
    return power(glm::clamp(curve, 0.0f, 1.0f), vec3(1.0f / 2.2f));
}

/// Trowbridge-Reitz gloss with Schlick's Fresnel term.
float gloss(const vec3& n, const vec3& to_light, const vec3& to_eye, float roughness) {
    constexpr float kReflectance = 0.028f;
    const vec3 h = glm::normalize(to_light + to_eye);
    const float nh = std::max(glm::dot(n, h), 0.0f);
    const float nv = std::max(glm::dot(n, to_eye), 1e-3f);
    const float nl = std::max(glm::dot(n, to_light), 0.0f);
    const float a2 = roughness * roughness * roughness * roughness;
    const float base = nh * nh * (a2 - 1.0f) + 1.0f;
    const float spread = a2 / (3.14159f * base * base);
    const float k = (roughness + 1.0f) * (roughness + 1.0f) / 8.0f;
    const float hidden = 1.0f / ((nv * (1.0f - k) + k) * (nl * (1.0f - k) + k));
    const float fresnel =
        kReflectance + (1.0f - kReflectance) * std::pow(1.0f - std::max(glm::dot(h, to_eye), 0.0f), 5.0f);
    return 0.25f * spread * hidden * fresnel * nl;
}

vec4 texel(const sim::TextureImage& image, int x, int y) {
    const std::uint8_t* p = &image.rgba[static_cast<std::size_t>(4 * (y * image.size + x))];
    return vec4(p[0], p[1], p[2], p[3]) / 255.0f;
}

/// Bilinear; `uv` in pixels; repeats if `tiles`, else holds its border.
vec4 sample(const sim::TextureImage& image, vec2 uv, bool tiles) {
    uv -= 0.5f;
    const vec2 whole = glm::floor(uv);
    const vec2 t = uv - whole;
    const auto at = [&](int dx, int dy) {
        const auto wrap = [&](int i) {
            return tiles ? (i % image.size + image.size) % image.size : std::clamp(i, 0, image.size - 1);
        };
        return texel(image, wrap(static_cast<int>(whole.x) + dx), wrap(static_cast<int>(whole.y) + dy));
    };
    return glm::mix(glm::mix(at(0, 0), at(1, 0), t.x), glm::mix(at(0, 1), at(1, 1), t.x), t.y);
}

template <class Vertex, class T>
T between(const std::vector<Vertex>& v, const Fragment& f, T Vertex::*member) {
    return v[f.a].*member * f.u + v[f.b].*member * f.v + v[f.c].*member * f.w;
}

float between(const std::vector<float>& v, const Fragment& f) { return v[f.a] * f.u + v[f.b] * f.v + v[f.c] * f.w; }

template <class Mesh>
std::vector<float> lit_by_key(const Mesh& mesh, const sim::OcclusionGrid& scene, const sim::ParallelFor& parallel) {
    std::vector<vec3> position, normal;
    for (const auto& v : mesh.vertices) {
        position.push_back(v.position_mm);
        normal.push_back(v.normal);
    }
    return sim::soft_shadow(scene, position, normal, kKeyFrom, parallel);
}

/// Fine relief and mottling, laid on from three sides.
struct Detail {
    vec3 slope{};
    float mottling = 0.0f, stubble = 0.0f;
};
Detail detail_at(const sim::TextureImage& image, const vec3& rest, const vec3& n) {
    vec3 weight = glm::max(glm::abs(n) - 0.35f, 0.0f);
    weight /= weight.x + weight.y + weight.z;
    const vec3 q = rest * (static_cast<float>(image.size) / sim::kSkinDetailTileMm);
    const vec4 x = sample(image, {q.z, q.y}, true);
    const vec4 y = sample(image, {q.x, q.z}, true);
    const vec4 z = sample(image, {q.x, q.y}, true);
    const vec4 mean = x * weight.x + y * weight.y + z * weight.z;
    return {vec3(0, x.g - 0.5f, x.r - 0.5f) * weight.x + vec3(y.r - 0.5f, 0, y.g - 0.5f) * weight.y +
                vec3(z.r - 0.5f, z.g - 0.5f, 0) * weight.z,
            mean.b - 0.5f, mean.a};
}

}  // namespace

SkinShader::SkinShader(const sim::SkinMesh& mesh, const sim::SkinField& field, const sim::OcclusionGrid& scene,
                       const vec3& eye_mm, const sim::ParallelFor& parallel)
    : mesh_(mesh),
      head_(field.parameters()),
      eye_(eye_mm),
      paint_(sim::paint_face(field, 1024)),
      detail_(sim::skin_detail(256)),
      lit_(lit_by_key(mesh, scene, parallel)) {}

vec3 SkinShader::operator()(const Fragment& f) const {
    const auto& v = mesh_.vertices;
    using V = sim::SkinVertex;
    const vec3 rest = between(v, f, &V::rest_mm);
    const vec3 smooth_normal = glm::normalize(between(v, f, &V::normal));
    const vec3 to_eye = glm::normalize(eye_ - between(v, f, &V::position_mm));
    const auto paint = [&](float sim::SkinPaint::*m) {
        return v[f.a].paint.*m * f.u + v[f.b].paint.*m * f.v + v[f.c].paint.*m * f.w;
    };
    const float melanin = static_cast<float>(head_.melanin);

    // the painted face, seen from the front
    const vec2 uv = (vec2(rest) - vec2(sim::PaintWindow::kLowX, sim::PaintWindow::kLowY)) / sim::PaintWindow::kSide;
    const bool painted = rest.z > 40.0f && uv.x > 0.0f && uv.x < 1.0f && uv.y > 0.0f && uv.y < 1.0f;
    const float cover = painted ? smooth(0.05f, 0.28f, smooth_normal.z) : 0.0f;
    const float pixels = static_cast<float>(paint_.colour.size);
    const vec4 colour = sample(paint_.colour, uv * pixels, false) * cover;
    const vec4 relief = sample(paint_.relief, uv * pixels, false);

    const Detail detail = detail_at(detail_, rest, smooth_normal);
    const float coarse = std::max(paint(&sim::SkinPaint::pores), relief.b * cover);
    vec3 slope = (0.55f + 1.5f * coarse) * (1.0f - 0.8f * colour.a) * detail.slope;
    slope += vec3(relief.r - 0.5f, relief.g - 0.5f, 0.0f) * cover;
    const vec3 n = glm::normalize(smooth_normal - (slope - smooth_normal * glm::dot(slope, smooth_normal)));

    const float m = melanin + (paint(&sim::SkinPaint::melanin) + 0.5f * colour.b) * (1.0f - 0.65f * melanin) +
                    0.05f * detail.mottling;
    const float b = 0.55f * static_cast<float>(head_.blood) +
                    (0.55f * paint(&sim::SkinPaint::blood) + colour.g / 0.6f) * (1.0f - 0.45f * melanin) +
                    0.22f * detail.mottling;
    vec3 albedo = fade(vec3(0.30f, 0.70f, 1.02f) + m * vec3(1.95f, 2.30f, 2.62f) + b * vec3(0.12f, 0.62f, 0.52f));
    const vec3 hair = glm::mix(dark_hair(melanin), kGreyHair, relief.a * cover);
    const float beard = paint(&sim::SkinPaint::beard);
    albedo = glm::mix(albedo, albedo * vec3(0.46f, 0.52f, 0.60f), 0.75f * beard);
    albedo = glm::mix(albedo, dark_hair(melanin), 0.62f * beard * detail.stubble);
    albedo = glm::mix(albedo, hair, colour.r);

    const float lit = between(lit_, f);
    const float ambient = between(v, f, &V::ambient);
    const float ridge = glm::clamp(between(v, f, &V::curvature_per_mm) * 6.0f + 0.25f, 0.0f, 1.0f);
    const vec3 wrap = glm::mix(vec3(0.19f, 0.09f, 0.07f), vec3(0.50f, 0.22f, 0.15f), ridge);
    const vec3 shadow = power(vec3(lit), vec3(0.85f, 1.0f, 1.04f));
    vec3 out = albedo * (wrapped(glm::dot(n, kKeyFrom), wrap) * shadow * kKey +
                         wrapped(glm::dot(n, kFillFrom), wrap) * kFill + wrapped(glm::dot(n, kBackFrom), wrap) * kBack +
                         surroundings(n) + wrapped(glm::dot(n, to_eye), wrap) * kFromEye);
    out *= power(vec3(ambient), glm::mix(vec3(0.90f, 1.02f, 1.05f), vec3(1.0f), melanin));
    const float open = glm::clamp(1.5f * ambient - 0.4f, 0.0f, 1.0f) * (1.0f - 0.7f * colour.r) * (1.0f - 0.4f * beard);
    const float roughness =
        0.47f + 0.05f * coarse - 0.14f * colour.a + 0.05f * static_cast<float>(head_.age_years - 30.0) / 45.0f;
    out += open * (gloss(n, kKeyFrom, to_eye, roughness) * 1.7f * lit * kKey +
                   gloss(n, kFillFrom, to_eye, roughness) * 1.6f * kFill +
                   gloss(n, kBackFrom, to_eye, roughness) * 1.4f * kBack);
    const float rim = 1.0f - std::max(glm::dot(smooth_normal, to_eye), 0.0f);
    out += open * (albedo * 0.20f + 0.03f) * rim * rim * rim * rim;
    return shown(out);
}

vec3 HairShader::operator()(const Fragment& f) const {
    const vec3 n = glm::normalize(between(mesh_.vertices, f, &sim::HairVertex::normal));
    const sim::HairKind kind = mesh_.vertices[f.a].kind;
    const vec3 dye = kind == sim::HairKind::lash   ? dark_hair(melanin_)
                     : kind == sim::HairKind::brow ? 2.2f * dark_hair(melanin_)
                                                   : 0.5f * kGreyHair;
    const vec3 wrap(0.10f);
    return shown(dye * (wrapped(glm::dot(n, kKeyFrom), wrap) * kKey + wrapped(glm::dot(n, kFillFrom), wrap) * kFill +
                        wrapped(glm::dot(n, kBackFrom), wrap) * kBack + surroundings(n)));
}

ClothShader::ClothShader(const sim::ClothMesh& mesh, const sim::OcclusionGrid& scene, const vec3& colour,
                         const vec3& eye_mm, const sim::ParallelFor& parallel)
    : mesh_(mesh), colour_(colour), eye_(eye_mm), lit_(lit_by_key(mesh, scene, parallel)) {}

vec3 ClothShader::operator()(const Fragment& f) const {
    const auto& v = mesh_.vertices;
    const vec3 n = glm::normalize(between(v, f, &sim::ClothVertex::normal));
    const vec3 to_eye = glm::normalize(eye_ - between(v, f, &sim::ClothVertex::position_mm));
    const float ambient = between(v, f, &sim::ClothVertex::ambient);
    const vec3 wrap(0.22f);
    vec3 out = colour_ * (wrapped(glm::dot(n, kKeyFrom), wrap) * between(lit_, f) * kKey +
                          wrapped(glm::dot(n, kFillFrom), wrap) * kFill +
                          wrapped(glm::dot(n, kBackFrom), wrap) * kBack + surroundings(n));
    out *= 0.05f + 0.95f * ambient;
    const float rim = 1.0f - std::max(glm::dot(n, to_eye), 0.0f);
    return shown(out + ambient * colour_ * 0.14f * rim * rim * rim);
}

}  // namespace headview
