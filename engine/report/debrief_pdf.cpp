#include "engine/report/debrief_pdf.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "engine/report/debrief_page.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/report/score_text.hpp"
#include "engine/view/depth_plot.hpp"
#include "engine/view/plot_axes.hpp"

namespace report {

namespace {

using view::CanvasPoint;
using view::CanvasRect;
using view::kInk;
using view::kQuiet;

constexpr std::size_t kMoments = 3;

std::string title_of(const sim::Measure& measure) {
    const sim::MeasureSpec* spec = sim::measure_named(measure.name);
    return spec != nullptr ? std::string(spec->title) : measure_words(measure.name);
}

void draw_headline(Page& page, const sim::Recording& recording, const sim::Score& score) {
    page.paragraph("Debrief: " + recording.scenario_title, kHead, kQuiet);
    page.paragraph(verdict_words(score) + fmt::format(", {:.0f} of {:.0f} points", score.total_points, score.total_of),
                   kTitle, kInk, true);
    page.paragraph(stability_words(score) + ".", kBody);
    page.gap(7.0);
}

void draw_frame(CairoCanvas& canvas, const CanvasRect& rect) {
    const std::array<CanvasPoint, 5> box{{{rect.left, rect.top},
                                          {rect.right, rect.top},
                                          {rect.right, rect.bottom},
                                          {rect.left, rect.bottom},
                                          {rect.left, rect.top}}};
    canvas.line(box, view::kGrid, 0.9);
}

/// One large figure for each of the four headings of a pass.
void draw_large_measures(Page& page, const sim::Score& score, const sim::Rubric& rubric) {
    constexpr double kGap = 7.0, kHeight = 75.0, kPad = 6.0;
    const std::vector<Headline> large = headlines(score, rubric);
    const double width =
        (page.inner() - kGap * static_cast<double>(large.size() - 1)) / static_cast<double>(large.size());
    for (std::size_t i = 0; i < large.size(); ++i) {
        const Headline& one = large[i];
        const double x = page.left() + (width + kGap) * static_cast<double>(i), inner = width - 2.0 * kPad;
        draw_frame(page.canvas, {x, page.y, x + width, page.y + kHeight});
        page.canvas.text({x + kPad, page.y + 12.0}, one.title, kBody, kQuiet, view::TextAlign::left);
        if (!one.measured()) {
            page.canvas.paragraph({x + kPad, page.y + 22.0}, "not met or not measured here", kBody, kInk, inner);
            continue;
        }
        page.canvas.paragraph({x + kPad, page.y + 13.0}, one.value, kBig, kInk, inner, true);
        page.canvas.text({x + width - kPad, page.y + 34.0}, fmt::format("{:.0f} of {:.0f}", one.points, one.of), kSmall,
                         kQuiet, view::TextAlign::right);
        const double y = page.y + 41.0;
        page.canvas.paragraph({x + kPad, y}, one.measure, kSmall, kInk, inner);
        page.canvas.paragraph({x + kPad, y + 11.0}, one.wanted, kSmall - 0.5, kQuiet, inner);
    }
    page.gap(kHeight + 8.0);
}

/// The track on page one: the one in which most was lost, else the last that counts.
int shown_track(const sim::Recording& recording, const std::vector<Loss>& lost) {
    for (const Loss& one : lost)
        if (one.track >= 0) return one.track;
    int shown = -1;
    for (std::size_t i = 0; i < recording.tracks.size(); ++i)
        if (shown < 0 || recording.tracks[i].final || !recording.tracks[static_cast<std::size_t>(shown)].final)
            shown = static_cast<int>(i);
    return shown;
}

void draw_trace(Page& page, const sim::Recording& recording, const sim::Bands& bands, const std::vector<Loss>& lost) {
    const double height = page.height > 800.0 ? 272.0 : 232.0;
    const int track = shown_track(recording, lost);
    view::PlotStyle style;
    style.text_size = kBody;
    for (const Loss& one : costliest(lost, kMoments))
        if (one.track == track && one.along_m) style.numbered.push_back({*one.along_m, one.number, false});
    page.paragraph(
        track < 0 ? "No track was made" : fmt::format("Depth along track {}, the worst at each place", track + 1),
        kHead, kInk, true);
    const CanvasRect where{page.left(), page.y, page.right(), page.y + height};
    view::draw_depth_trace(
        page.canvas, where,
        track >= 0 ? view::depth_trace_of(recording, recording.tracks[static_cast<std::size_t>(track)], bands)
                   : view::DepthTrace{},
        style);
    page.gap(height + 8.0);
}

/// Force over the way, and beside it the section along the shaft, on page two.
void draw_force_and_section(Page& page, const sim::Recording& recording, const std::vector<Loss>& lost,
                            const std::optional<ShaftSection>& section) {
    constexpr double kForceHeight = 66.0, kHeight = 118.0, kGap = 14.0, kTitleHeight = 15.0, kCaptionHeight = 11.0;
    const int track = shown_track(recording, lost);
    if (track < 0) return;
    view::PlotStyle style;
    style.text_size = kSmall;
    const double height = section ? kHeight : kForceHeight;
    const double force_right = section ? page.left() + 0.5 * (page.inner() - kGap) : page.right();
    const double top = page.y + kTitleHeight;
    page.canvas.paragraph({page.left(), page.y}, fmt::format("Force on the hand, track {}", track + 1), kHead, kInk,
                          force_right - page.left(), true);
    view::draw_force_curve(page.canvas, {page.left(), top, force_right, top + height},
                           view::force_curve_of(recording, recording.tracks[static_cast<std::size_t>(track)].track),
                           style);
    if (section) {
        const double x = force_right + kGap, width = page.right() - x;
        page.canvas.paragraph({x, page.y}, "Section along the shaft, tissue at rest", kHead, kInk, width, true);
        const CanvasRect where{x, top, page.right(), top + height - kCaptionHeight};
        if (const auto slice = section->cut(view::slice_window(page.canvas, where, kSmall, section->tip_depth_mm)))
            view::draw_slice(page.canvas, where, *slice, kSmall);
        page.canvas.paragraph({x, where.bottom + 1.0}, section->caption, kSmall, kQuiet, width);
    }
    page.y = top + height + 8.0;
}

/// What cost most: three columns, each with its picture where there is one.
void draw_moments(Page& page, cairo_t* cairo, const std::vector<Loss>& all, const std::vector<Picture>& pictures) {
    const std::vector<Loss> lost = costliest(all, kMoments);
    page.paragraph("What cost most", kHead, kInk, true);
    if (lost.empty()) page.paragraph("Nothing was lost.", kBody);
    page.gap(2.0);
    constexpr double kGap = 9.0;
    const double width = (page.inner() - kGap * (kMoments - 1)) / kMoments;
    double bottom = page.y;
    const std::size_t columns = std::max(std::min(kMoments, lost.size()), std::min(kMoments, pictures.size()));
    for (std::size_t i = 0; i < columns; ++i) {
        const double x = page.left() + (width + kGap) * static_cast<double>(i);
        double y = page.y;
        if (i < pictures.size()) {
            y += draw_picture(cairo, pictures[i], {x, y}, width) + 2.0;
            if (!pictures[i].caption.empty())
                y += page.canvas.paragraph({x, y}, pictures[i].caption, kSmall, kQuiet, width);
        }
        if (i < lost.size()) {
            const Loss& one = lost[i];
            y += page.canvas.paragraph({x, y}, fmt::format("{}. {} ({})", one.number, one.what, one.points_words()),
                                       kBody, kInk, width, true);
            std::string when = one.time_s > 0.0 ? "At " + clock_words(one.time_s) : "";
            if (!one.place_words().empty()) when += (when.empty() ? "" : ", ") + one.place_words();
            y += page.canvas.paragraph({x, y}, when + (when.empty() ? "" : ". ") + one.detail + ".", kSmall, kInk,
                                       width);
        }
        bottom = std::max(bottom, y);
    }
    page.y = bottom + 9.0;
}

void draw_next_step(Page& page, const sim::Score& score) {
    const std::string words = next_step_words(score);
    if (words.empty()) return;
    constexpr double kPad = 7.0, kLabel = 62.0;
    // measured where nothing is seen, then drawn on its ground
    const double width = page.inner() - 2.0 * kPad - kLabel;
    const double height = page.canvas.paragraph_height(words, kBody, width) + 2.0 * kPad;
    view::draw_box(page.canvas, {page.left(), page.y, page.right(), page.y + height}, {0.93, 0.95, 0.96});
    page.canvas.paragraph({page.left() + kPad, page.y + kPad}, "Next step", kBody, kInk, kLabel, true);
    page.canvas.paragraph({page.left() + kPad + kLabel, page.y + kPad}, words, kBody, kInk, width);
    page.gap(height + 6.0);
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
        page.canvas.text({x + half - 62.0, y}, figure(m.measure), size, kInk, view::TextAlign::right);
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

std::string line_of(const Loss& loss) {
    std::string line = fmt::format("{}. {}  {}", loss.number, loss.points_words(), loss.what);
    if (loss.time_s > 0.0) line += ", at " + clock_words(loss.time_s);
    if (!loss.place_words().empty()) line += ", " + loss.place_words();
    return line + ". " + loss.detail + ".";
}

void draw_losses(Page& page, const std::vector<Loss>& lost, double reserved) {
    page.paragraph("All that cost points", kHead, kInk, true);
    if (lost.empty()) page.paragraph("No points were lost.", kSmall);
    constexpr double kRest = 12.0;  // of the line that tells of what found no room
    const double end = page.end() - reserved;
    for (std::size_t i = 0; i < lost.size(); ++i) {
        const double needed = page.canvas.paragraph_height(line_of(lost[i]), kSmall, page.inner(), lost[i].critical);
        const double for_the_rest = i + 1 < lost.size() ? kRest : 0.0;
        if (page.y + needed + for_the_rest > end) {
            const std::size_t left = lost.size() - i;
            page.paragraph(
                fmt::format("and {} further {}, in the table of pk score.", left, left == 1 ? "line" : "lines"), kSmall,
                kInk, true);
            break;
        }
        page.paragraph(line_of(lost[i]), kSmall, kInk, lost[i].critical);
        page.gap(1.2);
    }
    page.gap(5.0);
}

void draw_identity(Page& page, const sim::Recording& recording, const DebriefFacts& facts) {
    page.rule();
    page.paragraph(fmt::format("Attempt {}. Record: {}. Scenario {}, variant {}. Rubric {} ({}). Scored by {}.",
                               facts.attempt_hash.empty() ? "without hash" : facts.attempt_hash,
                               facts.record_state.empty() ? "not checked" : facts.record_state, recording.scenario_id,
                               recording.variant_seed, facts.rubric_title, recording.rubric_id, facts.build),
                   kSmall, kQuiet);
}

}  // namespace

std::string debrief_pdf(const sim::Recording& recording, const sim::Score& score, const sim::Rubric& rubric,
                        const DebriefFacts& facts, Paper paper) {
    const double width = paper == Paper::a4 ? 595.276 : 612.0, height = paper == Paper::a4 ? 841.89 : 792.0;
    std::string bytes;
    const Surface surface(cairo_pdf_surface_create_for_stream(append_bytes, &bytes, width, height));
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE,
                                   ("Debrief: " + recording.scenario_title).c_str());
    cairo_status_t status = CAIRO_STATUS_SUCCESS;
    {
        const Cairo cairo(cairo_create(surface.get()));
        CairoCanvas canvas(cairo.get());
        Page first{canvas, width, height};
        const std::vector<Loss> lost = losses(score, recording);
        draw_headline(first, recording, score);
        draw_large_measures(first, score, rubric);
        draw_trace(first, recording, rubric.bands, lost);
        draw_moments(first, cairo.get(), lost, facts.pictures);
        draw_next_step(first, score);
        draw_cautions(first);
        cairo_show_page(cairo.get());

        Page second{canvas, width, height};
        second.paragraph(fmt::format("{}: {}", recording.scenario_title, verdict_words(score)), kHead, kInk, true);
        draw_headings(second, score);
        draw_measure_rows(second, score);
        draw_force_and_section(second, recording, lost, facts.section);
        draw_losses(second, lost, 34.0);
        draw_identity(second, recording, facts);
        draw_cautions(second);
        cairo_show_page(cairo.get());

        if (!recording.lifts.empty()) {
            Page third{canvas, width, height};
            draw_lift_page(third, cairo.get(), recording, facts);
            cairo_show_page(cairo.get());
        }
        if (recording.visit) {
            Page sheet{canvas, width, height};
            draw_visit_pages(sheet, cairo.get(), recording, facts);
        }
        status = cairo_status(cairo.get());
    }
    finish_surface(surface.get(), status, "debrief");
    return bytes;
}

}  // namespace report
