#include "engine/report/debrief_page.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <stdexcept>
#include <vector>

#include "engine/report/score_text.hpp"

namespace report {

void draw_cautions(const Page& page) {
    const double top = page.height - kMargin - 28.0;
    const std::array<view::CanvasPoint, 2> ends{{{page.left(), top}, {page.right(), top}}};
    page.canvas.line(ends, view::kInk, 0.8);
    page.canvas.paragraph({page.left(), top + 4.0}, caution_text(), kSmall, view::kInk, page.inner(), true);
}

namespace {

/// Cairo keeps pixels as native-endian xRGB words.
std::vector<std::uint32_t> words_of(const Picture& picture) {
    std::vector<std::uint32_t> words(static_cast<std::size_t>(picture.width) *
                                     static_cast<std::size_t>(picture.height));
    for (std::size_t i = 0; i < words.size(); ++i) {
        const std::uint8_t* p = picture.rgba.data() + 4 * i;
        words[i] =
            0xff000000U | static_cast<std::uint32_t>(p[0]) << 16U | static_cast<std::uint32_t>(p[1]) << 8U | p[2];
    }
    return words;
}

}  // namespace

double draw_picture(cairo_t* cairo, const Picture& picture, const view::CanvasPoint& at, double width) {
    const auto pixels =
        static_cast<std::size_t>(std::max(0, picture.width)) * static_cast<std::size_t>(std::max(0, picture.height));
    if (pixels == 0 || picture.rgba.size() != 4 * pixels)
        throw std::runtime_error("debrief: a picture's size and pixels differ");
    std::vector<std::uint32_t> words = words_of(picture);
    const std::unique_ptr<cairo_surface_t, FreeSurface> surface(
        cairo_image_surface_create_for_data(reinterpret_cast<unsigned char*>(words.data()), CAIRO_FORMAT_RGB24,
                                            picture.width, picture.height, 4 * picture.width));
    const double scale = width / picture.width;
    cairo_save(cairo);
    cairo_translate(cairo, at.x, at.y);
    cairo_scale(cairo, scale, scale);
    cairo_set_source_surface(cairo, surface.get(), 0.0, 0.0);
    cairo_paint(cairo);
    cairo_restore(cairo);
    // the surface borrows `words`: have Cairo take its copy before they go
    cairo_surface_finish(surface.get());
    return scale * picture.height;
}

}  // namespace report
