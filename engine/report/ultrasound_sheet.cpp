#include "engine/report/ultrasound_sheet.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <stdexcept>

#include "engine/report/cairo_canvas.hpp"

namespace report {

namespace {

constexpr double kScale = 2.0, kMargin = 40.0, kFoot = 24.0, kTop = 10.0;

void draw_scale(CairoCanvas& canvas, double pixel_mm, double depth_mm, double right) {
    constexpr view::Colour kInk{0.85, 0.85, 0.85, 1.0};
    for (int mm = 0; mm <= static_cast<int>(depth_mm); ++mm) {
        const double y = kTop + kScale * mm / pixel_mm;
        const bool named = mm % 5 == 0;
        const std::array<view::CanvasPoint, 2> tick{view::CanvasPoint{right + 3.0, y},
                                                    {right + (named ? 11.0 : 6.0), y}};
        canvas.line(tick, kInk, 1.0);
        if (named) canvas.text({right + 14.0, y + 4.0}, fmt::format("{}", mm), 11.0, kInk, view::TextAlign::left);
    }
}

}  // namespace

void write_ultrasound_sheet(const std::filesystem::path& file, const view::EchoPicture& picture) {
    const double w = kScale * picture.columns, h = kScale * picture.rows;
    const int width = static_cast<int>(w + kMargin), height = static_cast<int>(h + kTop + kFoot);
    cairo_surface_t* surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    cairo_surface_t* image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture.columns, picture.rows);
    cairo_surface_flush(image);
    unsigned char* data = cairo_image_surface_get_data(image);
    const int stride = cairo_image_surface_get_stride(image);
    for (int r = 0; r < picture.rows; ++r)
        for (int c = 0; c < picture.columns; ++c) {
            unsigned char* pixel = data + r * stride + 4 * c;
            pixel[0] = pixel[1] = pixel[2] = picture.at(c, r);
        }
    cairo_surface_mark_dirty(image);
    cairo_t* cairo = cairo_create(surface);
    cairo_save(cairo);
    cairo_translate(cairo, 0.0, kTop);
    cairo_scale(cairo, kScale, kScale);
    cairo_set_source_surface(cairo, image, 0.0, 0.0);
    cairo_paint(cairo);
    cairo_restore(cairo);
    {
        CairoCanvas canvas(cairo);
        const double pixel_mm = 1e3 * picture.pixel_m;
        draw_scale(canvas, pixel_mm, picture.rows * pixel_mm, w);
        canvas.text({4.0, kTop + h + 16.0}, "Depth in mm. Simulated: training aid, not a medical device.", 11.0,
                    {0.6, 0.6, 0.6, 1.0}, view::TextAlign::left);
    }
    const cairo_status_t status = cairo_surface_write_to_png(surface, file.c_str());
    cairo_destroy(cairo);
    cairo_surface_destroy(image);
    cairo_surface_destroy(surface);
    if (status != CAIRO_STATUS_SUCCESS)
        throw std::runtime_error(fmt::format("{}: {}", file.string(), cairo_status_to_string(status)));
}

}  // namespace report
