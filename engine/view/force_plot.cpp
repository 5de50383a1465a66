#include <algorithm>
#include <array>

#include "engine/view/depth_plot_parts.hpp"
#include "engine/view/plot_axes.hpp"

namespace view {

using sim::kMm;

void draw_force_curve(Canvas& canvas, const CanvasRect& where, const ForceCurve& curve, const PlotStyle& style) {
    const double text = style.text_size, hair = std::max(0.7, text / 14.0);
    if (curve.samples.size() < 2) {
        canvas.text({where.left, where.top + 1.5 * text}, "No force was recorded.", text, kInk);
        return;
    }
    const double labels = canvas.text_width(kAlongWords, text) + (kLabelEm + kAfterTickEm + 0.1) * text;
    const CanvasRect plot{where.left + 3.3 * text, where.top + 0.6 * text, where.right - labels,
                          where.bottom - 1.6 * text};
    double most_n = 1.0;
    for (const auto& sample : curve.samples) most_n = std::max(most_n, 1.1 * sample.hand_n);
    // an axis of a hair's length, as it is when a track begins, has ticks of four digits that say nothing
    constexpr double kShortestAxisMm = 10.0;
    const Scale x{0.0, std::max(kShortestAxisMm, curve.samples.back().along_m / kMm), plot.left, plot.right};
    const Scale y{0.0, most_n, plot.bottom, plot.top};
    draw_box(canvas, plot, kPaper);
    const auto draw = [&](double ForceCurve::Sample::*part, const Colour& colour, double width) {
        std::vector<CanvasPoint> points;
        for (const auto& sample : curve.samples)
            points.push_back({x.at(sample.along_m / kMm), y.at(std::clamp(sample.*part, 0.0, most_n))});
        canvas.line(points, colour, width);
    };
    draw(&ForceCurve::Sample::tip_n, kBlue, 1.2 * hair);
    draw(&ForceCurve::Sample::hand_n, kInk, 2.2 * hair);
    const auto& end = curve.samples.back();
    // names keep apart from each other, and above the name of the axis
    const double tip_y =
        std::min(plot.bottom, std::max(y.at(std::max(0.0, end.tip_n)), y.at(end.hand_n) + 1.1 * text) + 0.35 * text);
    const double hand_y = std::min(y.at(end.hand_n) + 0.35 * text, tip_y - 1.1 * text);
    canvas.text({plot.right + 0.5 * text, hand_y}, "hand", text, kInk);
    canvas.text({plot.right + 0.5 * text, tip_y}, "tip", text, kBlue);
    draw_axis_left(canvas, plot, y, "Force (N)", text, 4);
    draw_axis_below(canvas, plot, x, "", text);
    canvas.text({plot.right + (kLabelEm + kAfterTickEm) * text, plot.bottom + 1.35 * text}, kAlongWords, text, kInk);
}

}  // namespace view
