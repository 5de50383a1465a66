#include "engine/report/debrief_pdf.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "engine/report/cairo_canvas.hpp"
#include "engine/report/score_text.hpp"
#include "engine/view/depth_plot.hpp"
#include "engine/view/plot_axes.hpp"

namespace report {

namespace {

using view::CanvasPoint;
using view::CanvasRect;
using view::kInk;
using view::kQuiet;

constexpr double kMargin = 42.0;  // points
constexpr double kBody = 9.0, kSmall = 7.5, kHead = 11.0, kBig = 20.0, kTitle = 17.0;
constexpr std::size_t kMoments = 3;

struct Page {
    CairoCanvas& canvas;
    double width = 0.0, height = 0.0;
    double y = kMargin;

    [[nodiscard]] double left() const { return kMargin; }
    [[nodiscard]] double right() const { return width - kMargin; }
    [[nodiscard]] double inner() const { return width - 2.0 * kMargin; }
    /// Keep clear of the cautions at the foot.
    [[nodiscard]] double end() const { return height - kMargin - 34.0; }

    void paragraph(const std::string& text, double size, const view::Colour& colour = kInk, bool bold = false) {
        y += canvas.paragraph({left(), y}, text, size, colour, inner(), bold);
    }
    void gap(double height_points) { y += height_points; }
    void rule() {
        const std::array<CanvasPoint, 2> ends{{{left(), y}, {right(), y}}};
        canvas.line(ends, view::kGrid, 0.8);
        y += 5.0;
    }
};

void draw_cautions(const Page& page) {
    const double top = page.height - kMargin - 28.0;
    const std::array<CanvasPoint, 2> ends{{{page.left(), top}, {page.right(), top}}};
    page.canvas.line(ends, kInk, 0.8);
    page.canvas.paragraph({page.left(), top + 4.0}, caution_text(), kSmall, kInk, page.inner(), true);
}

std::string verdict_words(const sim::Score& score) {
    switch (score.verdict) {
        case sim::Verdict::pass:
            return "Pass";
        case sim::Verdict::incomplete:
            return "Incomplete: the pass was not finished";
        case sim::Verdict::fail:
            break;
    }
    return score.critical_faults.empty() ? "Fail: below the rubric's limits" : "Fail: critical fault";
}

std::string place_words(const sim::Vec3& place_m) {
    return fmt::format("{:.1f}, {:.1f}, {:.1f} mm", place_m.x * 1e3, place_m.y * 1e3, place_m.z * 1e3);
}

std::string title_of(const sim::Measure& measure) {
    const sim::MeasureSpec* spec = sim::measure_named(measure.name);
    return spec != nullptr ? std::string(spec->title) : measure_words(measure.name);
}

void draw_headline(Page& page, const sim::Recording& recording, const sim::Score& score) {
    page.paragraph(recording.scenario_title, kHead, kQuiet);
    page.paragraph(verdict_words(score), kTitle, kInk, true);
    page.paragraph(fmt::format("{:.1f} of {:.0f} points. The verdict stays in {:.0f} % of 200 draws of the assumed "
                               "thresholds.",
                               score.total_points, score.total_of, 100.0 * score.verdict_stability),
                   kBody);
    for (const sim::Finding& fault : score.critical_faults)
        page.paragraph(fmt::format("Critical: {}, at {:.1f} s.", fault.what, fault.time_s), kBody, kInk, true);
    page.gap(8.0);
}

/// One figure for each of the four headings of a pass.
void draw_large_measures(Page& page, const sim::Score& score) {
    constexpr std::array<std::string_view, 4> kLarge{"track_in_band", "least_clearance", "ligament_response",
                                                     "barbs_seated"};
    const double column = page.inner() / 4.0;
    for (std::size_t i = 0; i < kLarge.size(); ++i) {
        const double x = page.left() + column * static_cast<double>(i);
        const auto found = std::find_if(score.measures.begin(), score.measures.end(),
                                        [&](const auto& m) { return m.measure.name == kLarge[i]; });
        const sim::MeasureSpec& spec = *sim::measure_named(kLarge[i]);
        page.canvas.text({x, page.y + 10.0}, sim::name_of(spec.heading), kBody, kQuiet, view::TextAlign::left);
        const bool measured = found != score.measures.end();
        page.canvas.paragraph({x, page.y + 12.0}, measured ? figure(found->measure.shown, found->measure.unit) : "–",
                              kBig, kInk, column - 6.0, true);
        page.canvas.paragraph({x, page.y + 39.0}, measured ? std::string(spec.title) : "not met or not measured", kBody,
                              kInk, column - 8.0);
    }
    page.gap(66.0);
}

/// The final track that the debrief shows: of the first vector that lost most, else the last track made.
const sim::TrackRecord* shown_track(const sim::Recording& recording) {
    const sim::TrackRecord* shown = nullptr;
    for (const sim::TrackRecord& track : recording.tracks)
        if (shown == nullptr || track.final || !shown->final) shown = &track;
    return shown;
}

void draw_plots(Page& page, const sim::Recording& recording, const sim::Bands& bands) {
    constexpr double kTraceHeight = 205.0, kForceHeight = 105.0;
    const sim::TrackRecord* track = shown_track(recording);
    const view::PlotStyle style{kBody, {}};
    const CanvasRect where{page.left(), page.y, page.right(), page.y + kTraceHeight};
    view::draw_depth_trace(page.canvas, where,
                           track != nullptr ? view::depth_trace_of(recording, *track, bands) : view::DepthTrace{},
                           style);
    page.gap(kTraceHeight + 4.0);
    if (track == nullptr) return;
    view::draw_force_curve(page.canvas, {page.left(), page.y, page.right(), page.y + kForceHeight},
                           view::force_curve_of(recording, track->track), style);
    page.gap(kForceHeight + 8.0);
}

void draw_moments(Page& page, const sim::Score& score) {
    page.paragraph("What cost most", kHead, kInk, true);
    if (score.deductions.empty()) page.paragraph("Nothing was lost.", kBody);
    for (std::size_t i = 0; i < std::min(kMoments, score.deductions.size()); ++i) {
        const sim::Deduction& one = score.deductions[i];
        page.paragraph(fmt::format("{}. {} at {:.1f} s ({:.1f} points).", i + 1, one.what, one.time_s, one.points),
                       kBody, kInk, true);
        page.paragraph(fmt::format("    {} {}; accepted: {}. Place {}.", measure_words(one.measure),
                                   figure(one.value, one.unit), one.accepted, place_words(one.place_m)),
                       kBody);
    }
    page.gap(6.0);
    page.paragraph("Next step", kHead, kInk, true);
    page.paragraph(score.next_step, kBody);
    page.gap(6.0);
}

struct FreeSurface {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};

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

void draw_pictures(Page& page, cairo_t* cairo, const std::vector<Picture>& pictures) {
    const std::size_t count = std::min<std::size_t>(3, pictures.size());
    const double room = page.end() - page.y - 14.0;
    if (count == 0 || room < 60.0) return;
    const double column = page.inner() / static_cast<double>(count);
    for (std::size_t i = 0; i < count; ++i) {
        const Picture& picture = pictures[i];
        const auto pixels = static_cast<std::size_t>(std::max(0, picture.width)) *
                            static_cast<std::size_t>(std::max(0, picture.height));
        if (pixels == 0 || picture.rgba.size() != 4 * pixels)
            throw std::runtime_error("debrief: a picture's size and pixels differ");
        std::vector<std::uint32_t> words = words_of(picture);
        const std::unique_ptr<cairo_surface_t, FreeSurface> surface(
            cairo_image_surface_create_for_data(reinterpret_cast<unsigned char*>(words.data()), CAIRO_FORMAT_RGB24,
                                                picture.width, picture.height, 4 * picture.width));
        const double scale = std::min((column - 6.0) / picture.width, room / picture.height);
        const double x = page.left() + column * static_cast<double>(i);
        cairo_save(cairo);
        cairo_translate(cairo, x, page.y);
        cairo_scale(cairo, scale, scale);
        cairo_set_source_surface(cairo, surface.get(), 0.0, 0.0);
        cairo_paint(cairo);
        cairo_restore(cairo);
        // the surface borrows `words`: have Cairo take its copy before they go
        cairo_surface_finish(surface.get());
        page.canvas.text({x, page.y + scale * picture.height + 10.0}, picture.caption, kSmall, kInk,
                         view::TextAlign::left);
    }
}

/// Columns of a table row: text and right edge or left edge.
void draw_measure_rows(Page& page, const sim::Score& score) {
    constexpr double kRow = 10.6;
    page.paragraph("All measures", kHead, kInk, true);
    const double half = page.inner() / 2.0;
    const std::size_t rows = (score.measures.size() + 1) / 2;
    for (std::size_t i = 0; i < score.measures.size(); ++i) {
        const sim::ScoredMeasure& m = score.measures[i];
        const double x = page.left() + (i < rows ? 0.0 : half + 6.0);
        const double y = page.y + kRow * static_cast<double>(i < rows ? i + 1 : i - rows + 1);
        const double size = kSmall;
        page.canvas.text({x, y}, title_of(m.measure), size, kInk, view::TextAlign::left);
        page.canvas.text({x + half - 62.0, y}, figure(m.measure.shown, m.measure.unit), size, kInk,
                         view::TextAlign::right);
        page.canvas.text({x + half - 10.0, y}, m.of > 0.0 ? fmt::format("{:.1f} of {:g}", m.points, m.of) : "shown",
                         size, kQuiet, view::TextAlign::right);
    }
    page.gap(kRow * static_cast<double>(rows) + 10.0);
}

void draw_headings(Page& page, const sim::Score& score) {
    std::string words;
    for (std::size_t i = 0; i < sim::kHeadings; ++i)
        if (score.heading_of[i] > 0.0)
            words +=
                fmt::format("{}{} {:.0f} %", words.empty() ? "" : ";  ", sim::name_of(static_cast<sim::Heading>(i)),
                            100.0 * score.heading_points[i] / score.heading_of[i]);
    page.paragraph("By heading: " + words, kBody);
    page.gap(6.0);
}

void draw_deductions(Page& page, const sim::Score& score, double reserved) {
    page.paragraph("Points lost", kHead, kInk, true);
    if (score.deductions.empty()) page.paragraph("None.", kSmall);
    const double end = page.end() - reserved;
    for (std::size_t i = 0; i < score.deductions.size(); ++i) {
        const sim::Deduction& one = score.deductions[i];
        if (page.y > end - 32.0) {
            page.paragraph(
                fmt::format("and {} further deductions, in the table of pk score.", score.deductions.size() - i),
                kSmall, kInk, true);
            break;
        }
        page.paragraph(fmt::format("−{:.2f}  {} at {:.1f} s, {}: {} {}; accepted: {}; place {}", one.points, one.what,
                                   one.time_s, one.stage, measure_words(one.measure), figure(one.value, one.unit),
                                   one.accepted, place_words(one.place_m)),
                       kSmall);
        page.gap(1.5);
    }
    page.gap(5.0);
}

void draw_faults(Page& page, const sim::Score& score) {
    page.paragraph("Critical faults", kHead, kInk, true);
    if (score.critical_faults.empty()) page.paragraph("None seen.", kSmall);
    for (const sim::Finding& fault : score.critical_faults)
        page.paragraph(fmt::format("{} at {:.1f} s, place {}", fault.what, fault.time_s, place_words(fault.place_m)),
                       kSmall);
    page.gap(6.0);
}

void draw_identity(Page& page, const sim::Recording& recording, const DebriefFacts& facts) {
    page.rule();
    page.paragraph(fmt::format("Attempt {}. Record: {}. Scenario {}, variant {}. Rubric {} ({}). Scored by {}.",
                               facts.attempt_hash.empty() ? "without hash" : facts.attempt_hash,
                               facts.record_state.empty() ? "not checked" : facts.record_state, recording.scenario_id,
                               recording.variant_seed, facts.rubric_title, recording.rubric_id, facts.build),
                   kSmall, kQuiet);
}

cairo_status_t append(void* to, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string debrief_pdf(const sim::Recording& recording, const sim::Score& score, const sim::Bands& bands,
                        const DebriefFacts& facts, Paper paper) {
    const double width = paper == Paper::a4 ? 595.276 : 612.0, height = paper == Paper::a4 ? 841.89 : 792.0;
    struct FreeCairo {
        void operator()(cairo_t* cairo) const { cairo_destroy(cairo); }
    };
    std::string bytes;
    const std::unique_ptr<cairo_surface_t, FreeSurface> surface(
        cairo_pdf_surface_create_for_stream(append, &bytes, width, height));
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE,
                                   ("Debrief: " + recording.scenario_title).c_str());
    cairo_status_t status = CAIRO_STATUS_SUCCESS;
    {
        const std::unique_ptr<cairo_t, FreeCairo> cairo(cairo_create(surface.get()));
        CairoCanvas canvas(cairo.get());
        Page first{canvas, width, height};
        draw_headline(first, recording, score);
        draw_large_measures(first, score);
        draw_plots(first, recording, bands);
        draw_moments(first, score);
        draw_pictures(first, cairo.get(), facts.pictures);
        draw_cautions(first);
        cairo_show_page(cairo.get());

        Page second{canvas, width, height};
        second.paragraph(fmt::format("{}: {}", recording.scenario_title, verdict_words(score)), kHead, kInk, true);
        draw_headings(second, score);
        draw_measure_rows(second, score);
        draw_faults(second, score);
        draw_deductions(second, score, 34.0);
        draw_identity(second, recording, facts);
        draw_cautions(second);
        cairo_show_page(cairo.get());
        status = cairo_status(cairo.get());
    }
    cairo_surface_finish(surface.get());
    if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface.get());
    if (status != CAIRO_STATUS_SUCCESS)
        throw std::runtime_error(std::string("debrief: ") + cairo_status_to_string(status));
    return bytes;
}

}  // namespace report
