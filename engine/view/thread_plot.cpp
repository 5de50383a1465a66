#include "engine/view/thread_plot.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "engine/view/plot_axes.hpp"

namespace view {

using sim::kMm;

namespace {

constexpr double kHeadroom = 1.45;     // no bar reaches the words above and below
constexpr double kLeastRangeN = 0.05;  // a smaller load fills no more than a part of the height

std::vector<CanvasPoint> disc(const CanvasPoint& at, double radius) {
    constexpr int kCorners = 12;
    std::vector<CanvasPoint> out;
    for (int i = 0; i < kCorners; ++i) {
        const double turn = 2.0 * sim::kPi * i / kCorners;
        out.push_back({at.x + radius * std::cos(turn), at.y + radius * std::sin(turn)});
    }
    return out;
}

/// By shape, so that it needs no colour: full where it grips, a cross where it has slipped, open where it lies folded.
void draw_barb(Canvas& canvas, const CanvasPoint& at, sim::BarbState state, double radius, double hair) {
    std::vector<CanvasPoint> round = disc(at, radius);
    switch (state) {
        case sim::BarbState::seated:
            canvas.fill(round, kBlue);
            return;
        case sim::BarbState::slipped: {
            const std::array<CanvasPoint, 2> down{{{at.x - radius, at.y - radius}, {at.x + radius, at.y + radius}}},
                up{{{at.x - radius, at.y + radius}, {at.x + radius, at.y - radius}}};
            canvas.line(down, kVermilion, 2.0 * hair);
            canvas.line(up, kVermilion, 2.0 * hair);
            return;
        }
        case sim::BarbState::folded:
            canvas.fill(round, kPaper);
            round.push_back(round.front());
            canvas.line(round, kQuiet, hair);
            return;
    }
}

struct Named {
    sim::BarbState state;
    const char* words;
};
constexpr std::array<Named, 3> kNamed{
    {{sim::BarbState::seated, "seated"}, {sim::BarbState::slipped, "slipped"}, {sim::BarbState::folded, "folded"}}};

}  // namespace

void draw_thread_plot(Canvas& canvas, const CanvasRect& where, const sim::HeldThread& thread, const PlotStyle& style) {
    const double text = style.text_size, hair = std::max(0.7, text / 14.0), mark = 0.28 * text;
    const double legend = canvas.text_width("36 slipped", text) + 2.2 * text;
    const CanvasRect plot{where.left + 3.6 * text, where.top + 0.6 * text, where.right - legend,
                          where.bottom - 2.6 * text};
    double most_n = kLeastRangeN;
    for (const sim::HeldBarb& barb : thread.barbs) most_n = std::max(most_n, kHeadroom * std::abs(barb.force_n));
    const Scale x{0.0, thread.in_tissue_m / kMm, plot.left, plot.right};
    const Scale y{-most_n, most_n, plot.bottom, plot.top};
    draw_box(canvas, plot, kPaper);
    const std::array<CanvasPoint, 2> axis{{{plot.left, y.at(0.0)}, {plot.right, y.at(0.0)}}};
    canvas.line(axis, kInk, 1.6 * hair);
    const double width = std::max(
        2.0 * hair, 0.5 * plot.width() / std::max<double>(1.0, static_cast<double>(thread.barbs.size()) * 1.4));
    for (const sim::HeldBarb& barb : thread.barbs) {
        const double at = x.at(barb.along_m / kMm);
        const std::array<CanvasPoint, 2> bar{{{at, y.at(0.0)}, {at, y.at(barb.force_n)}}};
        if (std::abs(barb.force_n) > 0.0)
            canvas.line(bar, barb.state == sim::BarbState::slipped ? kVermilion : kBlue, width);
    }
    for (const sim::HeldBarb& barb : thread.barbs)
        draw_barb(canvas, {x.at(barb.along_m / kMm), y.at(0.0)}, barb.state, mark, hair);
    draw_axis_left(canvas, plot, y, "Load (N)", text, 4);
    draw_axis_below(canvas, plot, x, "mm from the entry", text);
    canvas.text({plot.left + 0.4 * text, plot.top + 1.1 * text}, "towards the entry", text, kQuiet);
    canvas.text({plot.left + 0.4 * text, plot.bottom - 0.4 * text}, "towards the far end", text, kQuiet);
    double row = plot.top + 1.0 * text;
    for (const Named& one : kNamed) {
        draw_barb(canvas, {plot.right + 1.1 * text, row - 0.35 * text}, one.state, mark, hair);
        canvas.text({plot.right + 1.9 * text, row}, std::to_string(thread.count(one.state)) + " " + one.words, text,
                    kInk);
        row += 1.5 * text;
    }
}

}  // namespace view
