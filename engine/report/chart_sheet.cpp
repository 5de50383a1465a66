#include "engine/report/chart_sheet.hpp"

#include <cairo-pdf.h>
#include <cairo-svg.h>

#include "engine/report/cairo_canvas.hpp"
#include "engine/report/cairo_stream.hpp"
#include "engine/view/plot_axes.hpp"

namespace report {

namespace {

constexpr double kPointsPerMm = 72.0 / 25.4;
constexpr double kWidth = 170.0 * kPointsPerMm, kHeight = 115.0 * kPointsPerMm;
constexpr double kMargin = 6.0 * kPointsPerMm, kType = 9.0;

}  // namespace

std::string chart_sheet(ChartFile kind, const std::string& title, const std::string& caution,
                        const std::function<void(view::Canvas&, const view::CanvasRect&, double)>& draw) {
    std::string bytes;
    const Surface surface(kind == ChartFile::svg
                              ? cairo_svg_surface_create_for_stream(append_bytes, &bytes, kWidth, kHeight)
                              : cairo_pdf_surface_create_for_stream(append_bytes, &bytes, kWidth, kHeight));
    if (kind == ChartFile::pdf) cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, title.c_str());
    cairo_status_t status = CAIRO_STATUS_SUCCESS;
    {
        const Cairo cairo(cairo_create(surface.get()));
        CairoCanvas canvas(cairo.get());
        view::draw_box(canvas, {0.0, 0.0, kWidth, kHeight}, view::kPaper);
        const double inner = kWidth - 2.0 * kMargin;
        const double head = canvas.paragraph({kMargin, kMargin}, title, kType + 2.0, view::kInk, inner, true);
        const double foot = canvas.paragraph_height(caution, kType - 1.0, inner);
        canvas.paragraph({kMargin, kHeight - kMargin - foot}, caution, kType - 1.0, view::kQuiet, inner);
        draw(canvas, {kMargin, kMargin + head + kType, kWidth - kMargin, kHeight - kMargin - foot - kType}, kType);
        cairo_show_page(cairo.get());
        status = cairo_status(cairo.get());
    }
    finish_surface(surface.get(), status, "chart");
    return bytes;
}

}  // namespace report
