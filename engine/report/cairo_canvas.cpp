#include "engine/report/cairo_canvas.hpp"

#include <string>

#include "engine/language/words.hpp"

namespace report {

namespace {

struct FreeFont {
    void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
};

void set_colour(cairo_t* cairo, const view::Colour& colour) {
    cairo_set_source_rgba(cairo, colour.red, colour.green, colour.blue, colour.alpha);
}

void trace_path(cairo_t* cairo, std::span<const view::CanvasPoint> points) {
    cairo_new_path(cairo);
    for (const view::CanvasPoint& point : points) cairo_line_to(cairo, point.x, point.y);
}

}  // namespace

CairoCanvas::CairoCanvas(cairo_t* cairo) : cairo_(cairo), layout_(pango_cairo_create_layout(cairo)) {}

void CairoCanvas::fill(std::span<const view::CanvasPoint> points, const view::Colour& colour) {
    trace_path(cairo_, points);
    cairo_close_path(cairo_);
    set_colour(cairo_, colour);
    cairo_fill(cairo_);
}

void CairoCanvas::line(std::span<const view::CanvasPoint> points, const view::Colour& colour, double width) {
    trace_path(cairo_, points);
    set_colour(cairo_, colour);
    cairo_set_line_width(cairo_, width);
    cairo_set_line_join(cairo_, CAIRO_LINE_JOIN_ROUND);
    cairo_stroke(cairo_);
}

void CairoCanvas::set_text(std::string_view text, double size, bool bold) {
    const std::unique_ptr<PangoFontDescription, FreeFont> font(pango_font_description_from_string("Noto Sans"));
    pango_font_description_set_absolute_size(font.get(), size * PANGO_SCALE);
    if (bold) pango_font_description_set_weight(font.get(), PANGO_WEIGHT_BOLD);
    pango_layout_set_font_description(layout_.get(), font.get());
    pango_layout_set_width(layout_.get(), -1);
    const std::string words = language::shown(text);
    pango_layout_set_text(layout_.get(), words.data(), static_cast<int>(words.size()));
}

void CairoCanvas::show_on_base_line(const view::CanvasPoint& at, double shift_left, const view::Colour& colour) {
    const double base = pango_layout_get_baseline(layout_.get()) / static_cast<double>(PANGO_SCALE);
    set_colour(cairo_, colour);
    cairo_move_to(cairo_, at.x - shift_left, at.y - base);
    pango_cairo_show_layout(cairo_, layout_.get());
}

double CairoCanvas::text_width(std::string_view text, double size) {
    set_text(text, size);
    int width = 0;
    pango_layout_get_size(layout_.get(), &width, nullptr);
    return width / static_cast<double>(PANGO_SCALE);
}

void CairoCanvas::text(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour& colour,
                       view::TextAlign align) {
    const double width = text_width(text, size);
    const double shift = align == view::TextAlign::left ? 0.0 : align == view::TextAlign::right ? width : 0.5 * width;
    show_on_base_line(at, shift, colour);
}

void CairoCanvas::text_upwards(const view::CanvasPoint& at, std::string_view text, double size,
                               const view::Colour& colour) {
    constexpr double kQuarterTurn = 1.5707963267948966;
    cairo_save(cairo_);
    cairo_translate(cairo_, at.x, at.y);
    cairo_rotate(cairo_, -kQuarterTurn);
    show_on_base_line({0.0, 0.0}, 0.5 * text_width(text, size), colour);
    cairo_restore(cairo_);
}

void CairoCanvas::set_paragraph(std::string_view text, double size, double width, bool bold) {
    set_text(text, size, bold);
    pango_layout_set_width(layout_.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_wrap(layout_.get(), PANGO_WRAP_WORD_CHAR);
}

double CairoCanvas::paragraph_height(std::string_view text, double size, double width, bool bold) {
    set_paragraph(text, size, width, bold);
    int height = 0;
    pango_layout_get_size(layout_.get(), nullptr, &height);
    return height / static_cast<double>(PANGO_SCALE);
}

double CairoCanvas::paragraph(const view::CanvasPoint& at, std::string_view text, double size,
                              const view::Colour& colour, double width, bool bold) {
    const double height = paragraph_height(text, size, width, bold);
    set_colour(cairo_, colour);
    cairo_move_to(cairo_, at.x, at.y);
    pango_cairo_show_layout(cairo_, layout_.get());
    return height;
}

}  // namespace report
