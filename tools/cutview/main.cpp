/// Pictures of a head's inside, drawn on the CPU from the same queries that the simulator asks: plane cuts coloured by
/// layer, and the bone, the floor and the SMAS seen from outside. For looking at what was built, not for trainees.
///
///   cutview OUT_FOLDER [scale] [patient] [cuts]   the shipped patients, scale in pixels per millimetre (default 4);
///                                                 with `cuts` the plane cuts alone: surfaces take minutes

#include <cairo.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <string>
#include <string_view>

#include <glm/common.hpp>
#include <glm/vec2.hpp>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/parameters.hpp"
#include "sim/anatomy/skin_field.hpp"
#include "tests/support/heads.hpp"

namespace {

using sim::HeadTissue;
using sim::kMm;
using sim::Layer;
using sim::LayerPoint;
using sim::Vec3;

constexpr Vec3 kAir{0.10, 0.11, 0.12};

Vec3 layer_colour(const HeadTissue& tissue, const Vec3& p_m) {
    const LayerPoint at = tissue.layers_at(p_m);
    const auto windows = tissue.windows_at(p_m);
    switch (at.layer) {
        case Layer::outside:
            return kAir;
        case Layer::skin:
            return {0.90, 0.69, 0.59};
        case Layer::superficial_fat:
            return {0.95, 0.84, 0.46};
        case Layer::smas:
            return {0.80, 0.42, 0.40};
        case Layer::deep_fat:
            if (windows.parotid > 0.5) return {0.72, 0.63, 0.50};
            if (windows.premasseter > 0.5 && at.depth_m - at.bottom_m[2] < 1.0 * kMm) return {0.55, 0.75, 0.85};
            return {0.90, 0.74, 0.38};
        case Layer::muscle:
            return {0.60, 0.22, 0.22};
        case Layer::floor:
            break;
    }
    switch (tissue.floor_distances_m(p_m).nearest()) {
        case sim::FloorKind::bone:
            return {0.93, 0.90, 0.80};
        case sim::FloorKind::lining:
            return {0.55, 0.36, 0.42};
        case sim::FloorKind::fascia:
            return {0.42, 0.44, 0.48};
    }
    return kAir;
}

struct Picture {
    int width = 0, height = 0;
    std::vector<Vec3> pixels;

    Picture(int w, int h)
        : width(w), height(h), pixels(static_cast<std::size_t>(w) * static_cast<std::size_t>(h), kAir) {}
    Vec3& at(int x, int y) {
        return pixels[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)];
    }
    void write(const std::string& path) const {
        cairo_surface_t* surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
        unsigned char* data = cairo_image_surface_get_data(surface);
        const int stride = cairo_image_surface_get_stride(surface);
        for (int y = 0; y < height; ++y)
            for (int x = 0; x < width; ++x) {
                const Vec3& c =
                    pixels[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)];
                unsigned char* to = data + y * stride + 4 * x;
                for (int k = 0; k < 3; ++k) to[k] = static_cast<unsigned char>(255.0 * std::clamp(c[2 - k], 0.0, 1.0));
            }
        cairo_surface_mark_dirty(surface);
        const cairo_status_t status = cairo_surface_write_to_png(surface, path.c_str());
        cairo_surface_destroy(surface);
        if (status != CAIRO_STATUS_SUCCESS) {
            std::fprintf(stderr, "cutview: %s: %s\n", path.c_str(), cairo_status_to_string(status));
            std::exit(1);
        }
    }
};

/// A rectangle in space: its middle, the directions of the picture's x and y, and half its sides.
struct Frame {
    Vec3 middle_m, right, up;
    double half_wide_m, half_high_m;
};

/// Draws each frame through `colour`, side by side.
void draw(const std::vector<Frame>& frames, double pixels_per_mm, const std::string& path,
          const std::function<Vec3(const Frame&, const Vec3&)>& colour) {
    int width = 0;
    int height = 0;
    for (const Frame& f : frames) {
        width += static_cast<int>(2.0 * f.half_wide_m / kMm * pixels_per_mm);
        height = std::max(height, static_cast<int>(2.0 * f.half_high_m / kMm * pixels_per_mm));
    }
    Picture picture(width, height);
    int left = 0;
    for (const Frame& f : frames) {
        const int w = static_cast<int>(2.0 * f.half_wide_m / kMm * pixels_per_mm);
        const int h = static_cast<int>(2.0 * f.half_high_m / kMm * pixels_per_mm);
        support::on_two_threads(h, [&](int y) {
            for (int x = 0; x < w; ++x) {
                Vec3 sum(0.0);
                for (int s = 0; s < 4; ++s) {
                    const double u = (x + 0.25 + 0.5 * (s & 1)) / w * 2.0 - 1.0;
                    const double v = 1.0 - (y + 0.25 + 0.5 * (s >> 1)) / h * 2.0;
                    sum += colour(f, f.middle_m + f.right * (u * f.half_wide_m) + f.up * (v * f.half_high_m));
                }
                picture.at(left + x, y) = 0.25 * sum;
            }
        });
        left += w;
    }
    picture.write(path);
}

/// Shades the surface where `value` turns from positive (outside) to negative, seen along the frame's normal.
Vec3 shaded(const Frame& f, const Vec3& start_m, const std::function<double(const Vec3&)>& value, const Vec3& tint) {
    const Vec3 towards_eye = glm::normalize(glm::cross(f.right, f.up));
    constexpr double kReachM = 0.26;
    Vec3 p = start_m + towards_eye * (0.5 * kReachM);
    for (double t = 0.0; t < kReachM;) {
        const Vec3 q = p - towards_eye * t;
        const double v = value(q);
        if (v < 0.0) {
            Vec3 n{};
            for (int k = 0; k < 3; ++k) {
                Vec3 step{};
                step[k] = 0.6 * kMm;
                n[k] = value(q + step) - value(q - step);
            }
            n = glm::normalize(n);
            const Vec3 key = glm::normalize(0.5 * f.right + 0.6 * f.up + 0.8 * towards_eye);
            const double light =
                0.25 + 0.65 * std::max(0.0, glm::dot(n, key)) + 0.15 * std::max(0.0, glm::dot(n, -f.right));
            return tint * light;
        }
        t += std::max(0.05 * kMm, 0.6 * v);
    }
    return kAir;
}

Frame looking(double azimuth_deg, double elevation_deg, const Vec3& middle_m, double half_wide_mm,
              double half_high_mm) {
    const double a = azimuth_deg * sim::kPi / 180.0;
    const double e = elevation_deg * sim::kPi / 180.0;
    const Vec3 eye(std::sin(a) * std::cos(e), std::sin(e), std::cos(a) * std::cos(e));
    const Vec3 right = glm::normalize(glm::cross(Vec3(0.0, 1.0, 0.0), eye));
    return {middle_m, right, glm::cross(eye, right), half_wide_mm * kMm, half_high_mm * kMm};
}

/// The plane through two places on the skin and the way in half-way between: the cut along a planned track.
Frame along_track(const HeadTissue& tissue, const Vec3& from_m, const Vec3& to_m) {
    constexpr double kAirMm = 14.0, kDeepMm = 26.0;
    const Vec3 a = tissue.nearest_skin(from_m).position_m, b = tissue.nearest_skin(to_m).position_m;
    const sim::SkinPoint middle = tissue.nearest_skin(0.5 * (a + b));
    const Vec3 right = glm::normalize(b - a);
    const Vec3 up = glm::normalize(middle.normal - right * glm::dot(right, middle.normal));
    const Vec3 centre = middle.position_m - up * (0.5 * (kDeepMm - kAirMm) * kMm);
    return {centre, right, up, 0.5 * glm::length(b - a) + kAirMm * kMm, 0.5 * (kDeepMm + kAirMm) * kMm};
}

void draw_cuts(const HeadTissue& tissue, const std::string& prefix, double scale) {
    const auto cut = [&](const Frame&, const Vec3& p) { return layer_colour(tissue, p); };
    const Vec3 x(1, 0, 0), y(0, 1, 0), z(0, 0, 1);
    const auto mm = [](double a, double b, double c) { return Vec3(a, b, c) * kMm; };
    draw({{mm(0, -50, 22), x, y, 0.084, 0.100}, {mm(0, -50, 48), x, y, 0.084, 0.100}}, scale, prefix + "_coronal.png",
         cut);
    draw({{mm(0, -28, 30), x, z, 0.086, 0.088},
          {mm(0, -62, 30), x, z, 0.086, 0.088},
          {mm(0, -105, 30), x, z, 0.086, 0.088}},
         scale, prefix + "_axial.png", cut);
    draw({{mm(0.5, -55, 30), z, y, 0.088, 0.115},
          {mm(27, -55, 30), z, y, 0.088, 0.115},
          {mm(41, -55, 30), z, y, 0.088, 0.115}},
         scale, prefix + "_sagittal.png", cut);
    const Vec3 oblique = glm::normalize(Vec3(-0.66, 0.0, 0.75));
    draw({{mm(44, -45, 46), oblique, y, 0.070, 0.100},
          {mm(36, -80, 36), oblique, glm::normalize(Vec3(0.5, 0.8, 0.4)), 0.06, 0.06}},
         scale, prefix + "_oblique.png", cut);
    // a vector from before the ear to the jowl, and one over the jaw's body
    draw({along_track(tissue, mm(64.5, -14, 20), mm(49, -61, 58.7)),
          along_track(tissue, mm(-64.5, -14, 20), mm(-49, -61, 58.7)),
          along_track(tissue, mm(52.7, -53, 32.4), mm(37, -54.4, 68.6))},
         2.0 * scale, prefix + "_track.png", cut);
}

void draw_surfaces(const HeadTissue& tissue, const std::string& prefix, double scale) {
    const auto mm = [](double a, double b, double c) { return Vec3(a, b, c) * kMm; };
    const std::vector<Frame> around{looking(0, 0, mm(0, -45, 20), 84, 110), looking(45, 4, mm(0, -45, 20), 84, 110),
                                    looking(90, 0, mm(0, -45, 25), 88, 110)};
    const auto in_box = [&](const Vec3& p) {
        return std::max({std::abs(p.x) - 0.086, p.y - 0.068, -0.180 - p.y, -0.058 - p.z});
    };
    const auto surface = [&](const std::string& name, const std::function<double(const Vec3&)>& value,
                             const Vec3& tint) {
        draw(around, 0.7 * scale, prefix + name, [&](const Frame& f, const Vec3& p) {
            return shaded(
                f, p, [&](const Vec3& q) { return std::max(value(q), in_box(q)); }, tint);
        });
    };
    surface("_bone.png", [&](const Vec3& p) { return tissue.bone_distance_m(p); }, {1.0, 0.96, 0.86});
    surface("_floor.png",
            [&](const Vec3& p) {
                const LayerPoint at = tissue.layers_at(p);
                return at.bottom_of(Layer::muscle) - at.depth_m;
            },
            {0.95, 0.85, 0.80});
    surface("_fascia.png",
            [&](const Vec3& p) {
                const LayerPoint at = tissue.layers_at(p);
                return at.depth_m < 0.0 ? -at.depth_m + 1e-4 : at.bottom_of(Layer::deep_fat) - at.depth_m;
            },
            {0.90, 0.55, 0.52});
    surface("_smas.png",
            [&](const Vec3& p) {
                const LayerPoint at = tissue.layers_at(p);
                return at.depth_m < 0.0 ? -at.depth_m + 1e-4 : at.bottom_of(Layer::superficial_fat) - at.depth_m;
            },
            {0.90, 0.60, 0.55});
    surface("_skin.png", [&](const Vec3& p) { return -tissue.depth_m(p); }, {0.95, 0.80, 0.72});
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) {
        std::fprintf(stderr, "usage: cutview OUT_FOLDER [pixels per mm] [patient] [cuts]\n");
        return 2;
    }
    const double scale = argc > 2 ? std::atof(argv[2]) : 4.0;
    if (!(scale >= 0.5 && scale <= 20.0)) {
        std::fprintf(stderr, "cutview: scale %s is not accepted; accepted: 0.5 to 20\n", argv[2]);
        return 2;
    }
    const std::string_view only = argc > 3 && std::string_view(argv[3]) != "cuts" ? argv[3] : "";
    const bool cuts_alone = argc > 3 && std::string_view(argv[argc - 1]) == "cuts";
    for (const support::NamedPatient& patient : support::patients()) {
        if (!only.empty() && only != patient.name) continue;
        const auto tissue = sim::build_head_tissue(patient.head, support::on_two_threads, {});
        const std::string prefix = std::string(argv[1]) + "/" + std::string(patient.name);
        draw_cuts(*tissue, prefix, scale);
        if (!cuts_alone) draw_surfaces(*tissue, prefix, scale);
    }
    return 0;
}
