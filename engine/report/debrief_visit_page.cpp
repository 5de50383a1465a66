#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/report/debrief_page.hpp"
#include "engine/report/visit_sheet.hpp"

/// The case sheet of a visit, and the map of its threads.

namespace report {

namespace {

using view::CanvasPoint;

/// Pages that follow one another: what has no room goes on the next.
class Pages {
 public:
    Pages(Page& page, cairo_t* cairo, std::string title) : page_(page), cairo_(cairo), title_(std::move(title)) {
        head();
    }
    [[nodiscard]] Page& page() { return page_; }
    /// @return whether a new page was begun
    bool need(double height) {
        if (page_.y + height <= page_.end()) return false;
        end();
        page_.y = kMargin;
        head();
        return true;
    }
    void end() {
        draw_cautions(page_);
        cairo_show_page(cairo_);
    }

 private:
    void head() {
        page_.paragraph(title_, kHead, view::kInk, true);
        page_.gap(5.0);
    }
    Page& page_;
    cairo_t* cairo_;
    std::string title_;
};

constexpr double kCellPad = 5.0;

double row_height(Page& page, const SheetPart& part, const std::vector<std::string>& row) {
    double height = 0.0;
    for (std::size_t i = 0; i < row.size(); ++i)
        height =
            std::max(height, page.canvas.paragraph_height(row[i], kSmall, part.shares[i] * page.inner() - kCellPad));
    return height + 2.0;
}

void draw_row(Page& page, const SheetPart& part, const std::vector<std::string>& row, const view::Colour& colour) {
    double x = page.left();
    for (std::size_t i = 0; i < row.size(); ++i) {
        const double width = part.shares[i] * page.inner();
        page.canvas.paragraph({x, page.y}, row[i], kSmall, colour, width - kCellPad);
        x += width;
    }
}

void draw_part(Pages& pages, const SheetPart& part) {
    Page& page = pages.page();
    constexpr double kTitle = 15.0, kHeads = 12.0;
    const double first = part.rows.empty() ? 12.0 : kHeads + row_height(page, part, part.rows.front());
    pages.need(kTitle + first);
    page.paragraph(part.title, kBody, view::kInk, true);
    if (part.rows.empty()) page.paragraph(part.none, kSmall);
    const auto heads = [&] {
        draw_row(page, part, part.heads, view::kQuiet);
        page.gap(row_height(page, part, part.heads));
    };
    if (!part.rows.empty()) heads();
    for (const std::vector<std::string>& row : part.rows) {
        const double height = row_height(page, part, row);
        if (pages.need(height)) heads();
        const std::array<CanvasPoint, 2> rule{{{page.left(), page.y}, {page.right(), page.y}}};
        page.canvas.line(rule, view::kGrid, 0.5);
        page.gap(0.8);
        draw_row(page, part, row, view::kInk);
        page.gap(height);
    }
    if (!part.note.empty()) page.paragraph(part.note, kSmall, view::kQuiet);
    page.gap(7.0);
}

// -- the map

/// From a map's millimetres to the page.
struct MapFrame {
    double left = 0.0, bottom = 0.0, low_x = 0.0, low_y = 0.0, scale = 1.0;
    [[nodiscard]] CanvasPoint at(const glm::dvec2& p_mm) const {
        return {left + scale * (p_mm.x - low_x), bottom - scale * (p_mm.y - low_y)};
    }
};

std::vector<CanvasPoint> on_page(const MapFrame& frame, const std::vector<glm::dvec2>& line_mm) {
    std::vector<CanvasPoint> out;
    for (const glm::dvec2& p_mm : line_mm) out.push_back(frame.at(p_mm));
    return out;
}

/// A view shows a thread when it lies on its side; the front shows all.
bool shows(view::MapView view, const sim::Vec3& p_m) {
    return view == view::MapView::front || (view == view::MapView::left) == (p_m.x >= 0.0);
}

void draw_ring(CairoCanvas& canvas, const CanvasPoint& at, double radius, const view::Colour& colour, double width) {
    constexpr int kPieces = 20;
    std::vector<CanvasPoint> ring;
    for (int i = 0; i <= kPieces; ++i) {
        const double t = 2.0 * sim::kPi * i / kPieces;
        ring.push_back({at.x + radius * std::cos(t), at.y + radius * std::sin(t)});
    }
    canvas.line(ring, colour, width);
}

/// Entry as a ring, course, a bar across at the end, and its number beside the middle.
void draw_thread(CairoCanvas& canvas, const MapFrame& frame, view::MapView view, const sim::TrackRecord& track,
                 const std::string& number) {
    std::vector<CanvasPoint> line{frame.at(view::on_map(view, track.entry_m))};
    for (const sim::TrackPiece& piece : track.pieces) line.push_back(frame.at(view::on_map(view, piece.middle_m)));
    if (line.size() < 3) return;
    canvas.line(line, view::kInk, 1.6);
    draw_ring(canvas, line.front(), 3.0, view::kInk, 1.1);
    const CanvasPoint end = line.back(), before = line[line.size() - 3];
    const double dx = end.x - before.x, dy = end.y - before.y, way = std::max(1e-6, std::hypot(dx, dy));
    const std::array<CanvasPoint, 2> bar{
        {{end.x - 4.0 * dy / way, end.y + 4.0 * dx / way}, {end.x + 4.0 * dy / way, end.y - 4.0 * dx / way}}};
    canvas.line(bar, view::kInk, 1.6);
    const CanvasPoint middle = line[line.size() / 2];
    const double mx = line.back().x - line.front().x, my = line.back().y - line.front().y;
    const double chord = std::max(1e-6, std::hypot(mx, my));
    canvas.text({middle.x + 9.0 * my / chord, middle.y - 9.0 * mx / chord + 3.0}, number, kBody, view::kInk,
                view::TextAlign::centre);
}

void draw_marks(CairoCanvas& canvas, const MapFrame& frame, view::MapView view, const sim::Recording& recording) {
    for (const sim::Event& event : recording.events) {
        if (event.kind == sim::EventKind::injected && shows(view, event.place_m)) {
            const CanvasPoint at = frame.at(view::on_map(view, event.place_m));
            draw_ring(canvas, at, 1.2, view::kQuiet, 0.7);
        }
        if (event.kind != sim::EventKind::deed_done || event.subject != static_cast<int>(sim::Deed::mark_point))
            continue;
        if (!shows(view, event.place_m)) continue;
        const CanvasPoint at = frame.at(view::on_map(view, event.place_m));
        for (const double sign : {-1.0, 1.0}) {
            const std::array<CanvasPoint, 2> arm{{{at.x - 2.6, at.y - sign * 2.6}, {at.x + 2.6, at.y + sign * 2.6}}};
            canvas.line(arm, view::kBlue, 1.0);
        }
    }
}

/// A planned vector, dashed.
void draw_plan(CairoCanvas& canvas, const MapFrame& frame, view::MapView view, const sim::PlannedVector& vector) {
    const CanvasPoint from = frame.at(view::on_map(view, vector.entry_m)),
                      to = frame.at(view::on_map(view, vector.end_m));
    const double way = std::hypot(to.x - from.x, to.y - from.y);
    const int dashes = std::max(1, static_cast<int>(way / 5.0));
    for (int i = 0; i < dashes; ++i) {
        const double a = static_cast<double>(i) / dashes, b = a + 0.5 / dashes;
        const std::array<CanvasPoint, 2> dash{{{from.x + a * (to.x - from.x), from.y + a * (to.y - from.y)},
                                               {from.x + b * (to.x - from.x), from.y + b * (to.y - from.y)}}};
        canvas.line(dash, view::kQuiet, 0.7);
    }
}

void draw_view(Page& page, const MapFrame& frame, view::MapView which, const view::HeadOutline& outline,
               const sim::Recording& recording, std::span<const sim::HeldThread> threads) {
    const view::HeadOutline::View& lines = outline.views[static_cast<std::size_t>(which)];
    for (const auto& line : lines.features_mm) page.canvas.line(on_page(frame, line), view::kGrid, 0.9);
    for (const auto& line : lines.outline_mm) page.canvas.line(on_page(frame, line), view::kQuiet, 1.0);
    for (const sim::PlannedVector& vector : recording.plan)
        if (shows(which, vector.entry_m)) draw_plan(page.canvas, frame, which, vector);
    draw_marks(page.canvas, frame, which, recording);
    std::size_t number = 0;
    for (const sim::TrackRecord& track : recording.tracks) {
        if (!track.loaded || !track.final) continue;
        ++number;
        const auto thread =
            std::find_if(threads.begin(), threads.end(), [&](const auto& one) { return one.track == track.track; });
        if (thread != threads.end() && thread->out) continue;
        if (shows(which, track.entry_m))
            draw_thread(page.canvas, frame, which, track,
                        fmt::format("{}", thread != threads.end() ? thread->number : static_cast<int>(number)));
    }
}

/// Three views beside one another, all to one scale.
void draw_map(Pages& pages, const view::HeadOutline& outline, const sim::Recording& recording,
              std::span<const sim::HeldThread> threads) {
    constexpr double kGap = 14.0, kCaption = 14.0, kMost = 320.0;
    struct Range {
        double low_x, high_x, low_y, high_y;
    };
    std::array<Range, view::kMapViews> ranges{};
    double widths = 0.0, height_mm = 0.0;
    for (std::size_t k = 0; k < ranges.size(); ++k) {
        constexpr double kInf = std::numeric_limits<double>::infinity();
        Range range{kInf, -kInf, kInf, -kInf};
        for (const auto* lines : {&outline.views[k].outline_mm, &outline.views[k].features_mm})
            for (const auto& line : *lines)
                for (const glm::dvec2& p : line)
                    range = {std::min(range.low_x, p.x), std::max(range.high_x, p.x), std::min(range.low_y, p.y),
                             std::max(range.high_y, p.y)};
        if (!(range.high_x > range.low_x)) return;
        ranges[k] = range;
        widths += range.high_x - range.low_x;
        height_mm = std::max(height_mm, range.high_y - range.low_y);
    }
    Page& page = pages.page();
    const double scale = std::min((page.inner() - kGap * (view::kMapViews - 1)) / widths, kMost / height_mm);
    pages.need(kCaption + 16.0 + scale * height_mm + 24.0);
    page.paragraph("Map of the threads", kBody, view::kInk, true);
    page.gap(4.0);
    double x = page.left();
    const double bottom = page.y + scale * height_mm;
    for (std::size_t k = 0; k < ranges.size(); ++k) {
        const auto which = static_cast<view::MapView>(k);
        const MapFrame frame{x, bottom, ranges[k].low_x, ranges[k].low_y, scale};
        draw_view(page, frame, which, outline, recording, threads);
        const double width = scale * (ranges[k].high_x - ranges[k].low_x);
        page.canvas.text({x + 0.5 * width, bottom + kCaption - 2.0}, view::name_of(which), kSmall, view::kQuiet,
                         view::TextAlign::centre);
        x += width + kGap;
    }
    page.y = bottom + kCaption + 4.0;
    page.paragraph(
        "Ring: entry; line: the thread's course; bar across: its end. Dashed: as planned. Cross: a landmark that "
        "was marked. Small rings: where anaesthetic went in. Patient upright.",
        kSmall, view::kQuiet);
    page.gap(9.0);
}

}  // namespace

void draw_visit_pages(Page& page, cairo_t* cairo, const sim::Recording& recording, const DebriefFacts& facts) {
    Pages pages(page, cairo, recording.scenario_title + ": case sheet of a training attempt");
    for (const SheetPart& part : case_sheet(recording, facts.threads)) draw_part(pages, part);
    if (facts.outline) draw_map(pages, *facts.outline, recording, facts.threads);
    pages.end();
}

}  // namespace report
