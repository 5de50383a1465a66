#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <glm/geometric.hpp>

#include "engine/report/debrief_page.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/view/thread_plot.hpp"

/// Page three of a debrief: threads in the tissue.

namespace report {

namespace {

constexpr double kGap = 9.0;

void draw_lift_pictures(Page& page, cairo_t* cairo, const std::vector<Picture>& pictures) {
    if (pictures.empty()) return;
    const double width = (page.inner() - kGap) / 2.0;
    double bottom = page.y;
    for (std::size_t i = 0; i < std::min<std::size_t>(2, pictures.size()); ++i) {
        const double x = page.left() + (width + kGap) * static_cast<double>(i);
        double y = page.y + draw_picture(cairo, pictures[i], {x, page.y}, width) + 2.0;
        y += page.canvas.paragraph({x, y}, pictures[i].caption, kSmall, view::kQuiet, width);
        bottom = std::max(bottom, y);
    }
    page.y = bottom + kGap;
}

/// Towards where lift is meant on a side: from a vector's end to its entry. Zero without a vector there.
sim::Vec3 up_on(const sim::Recording& recording, sim::Side side) {
    for (const sim::PlannedVector& vector : recording.plan)
        if (vector.side == side && vector.entry_m != vector.end_m) return glm::normalize(vector.entry_m - vector.end_m);
    return {};
}

/// The row in which the skin had come furthest.
const sim::LiftRow& furthest(const sim::Recording& recording) {
    const auto most_m = [](const sim::LiftRow& row) {
        double most = 0.0;
        for (const sim::Vec3& moved : row.moved_m) most = std::max(most, glm::length(moved));
        return most;
    };
    return *std::max_element(recording.lifts.begin(), recording.lifts.end(),
                             [&](const auto& a, const auto& b) { return most_m(a) < most_m(b); });
}

/// Over the column of the last row.
std::string_view end_words(sim::LiftShape shape) {
    switch (shape) {
        case sim::LiftShape::linear:
            break;
        case sim::LiftShape::final:
            return "at the end, in its final shape";
        case sim::LiftShape::no_final_found:
            return "at the end, for small strains: no final shape found";
    }
    return "at the end";
}

void draw_lifts(Page& page, const sim::Recording& recording) {
    constexpr double kRow = 11.0, kNumber = 150.0;
    page.paragraph("Lift of each concern, upright", kHead, view::kInk, true);
    page.paragraph("Way of the skin from where it lay before, and of that along the planned vector, towards its entry.",
                   kSmall, view::kQuiet);
    const sim::LiftRow& most = furthest(recording);
    const sim::LiftRow& last = recording.lifts.back();
    const double first_x = page.left() + 190.0, second_x = first_x + kNumber;
    page.gap(kRow);
    page.canvas.text({first_x, page.y},
                     "at most, under the hands, " + clock_words(static_cast<double>(most.step) * sim::kStepS), kSmall,
                     view::kQuiet, view::TextAlign::left);
    page.canvas.text({second_x, page.y}, std::string(end_words(last.shape)), kSmall, view::kQuiet,
                     view::TextAlign::left);
    bool planned = false;
    for (std::size_t i = 0; i < recording.concerns.size(); ++i) {
        const sim::Concern& concern = recording.concerns[i];
        const sim::Vec3 up = up_on(recording, concern.side);
        if (up == sim::Vec3(0.0)) continue;  // nothing was planned on this side
        planned = true;
        page.gap(kRow);
        page.canvas.text({page.left(), page.y}, capital(concern.name), kBody, view::kInk, view::TextAlign::left);
        const auto figure = [&](const sim::LiftRow& row, double x) {
            if (i >= row.moved_m.size()) return;
            constexpr double kToldMm = 0.05;  // nothing is told as "-0.0"
            const double along_mm = glm::dot(row.moved_m[i], up) / sim::kMm;
            page.canvas.text({x, page.y},
                             fmt::format("{:.1f} mm, along {:.1f} mm", glm::length(row.moved_m[i]) / sim::kMm,
                                         std::fabs(along_mm) < kToldMm ? 0.0 : along_mm),
                             kBody, view::kInk, view::TextAlign::left);
        };
        figure(most, first_x);
        figure(last, second_x);
    }
    if (!planned) page.paragraph("No vector was planned, so that no side has a concern to lift.", kBody);
    page.gap(16.0);
}

void draw_threads(Page& page, const std::vector<sim::HeldThread>& threads) {
    constexpr double kHeight = 112.0, kTitleHeight = 15.0;
    view::PlotStyle style;
    style.text_size = kSmall;
    for (std::size_t i = 0; i < threads.size(); ++i) {
        const sim::HeldThread& thread = threads[i];
        if (page.y + kTitleHeight + kHeight > page.end()) {
            page.paragraph(fmt::format("and {} further threads, in the replay.", threads.size() - i), kSmall);
            return;
        }
        const std::string what =
            thread.out ? fmt::format("Thread {} was drawn out", thread.number)
                       : fmt::format(
                             "Thread {}: what its barbs carry at the end; {:.0f} mm lie in the tissue, the tail "
                             "has come out by {:.1f} mm",
                             thread.number, thread.in_tissue_m / sim::kMm, thread.tail_out_m / sim::kMm);
        page.paragraph(what, kBody, view::kInk, true);
        if (thread.out || thread.barbs.empty()) continue;
        page.gap(3.0);
        view::draw_thread_plot(page.canvas, {page.left(), page.y, page.right(), page.y + kHeight}, thread, style);
        page.gap(kHeight + 8.0);
    }
}

}  // namespace

void draw_lift_page(Page& page, cairo_t* cairo, const sim::Recording& recording, const DebriefFacts& facts) {
    page.paragraph(recording.scenario_title + ": threads and what they lift", kHead, view::kInk, true);
    page.gap(4.0);
    draw_lift_pictures(page, cairo, facts.lift_pictures);
    draw_lifts(page, recording);
    draw_threads(page, facts.threads);
    draw_cautions(page);
}

}  // namespace report
