#include "engine/view/plot_axes.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace view {

double tick_step(double range, int most) {
    const double rough = range / most;
    const double power = std::pow(10.0, std::floor(std::log10(rough)));
    for (const double factor : {1.0, 2.0, 5.0})
        if (factor * power >= rough * (1.0 - 1e-9)) return factor * power;
    return 10.0 * power;
}

namespace {

template <class Draw>
void for_each_tick(const Scale& scale, int most, Draw draw) {
    const double step = tick_step(scale.high - scale.low, most);
    const auto last = static_cast<int>(std::floor(scale.high / step + 1e-9));
    for (auto i = static_cast<int>(std::ceil(scale.low / step - 1e-9)); i <= last; ++i) draw(i * step);
}

}  // namespace

void draw_axis_below(Canvas& canvas, const CanvasRect& plot, const Scale& x, std::string_view title, double text_size) {
    for_each_tick(x, 7, [&](double value) {
        const double at = x.at(value);
        const std::array<CanvasPoint, 2> tick{{{at, plot.bottom}, {at, plot.bottom + 0.3 * text_size}}};
        canvas.line(tick, kInk, 1.0);
        canvas.text({at, plot.bottom + 1.35 * text_size}, fmt::format("{:g}", value), text_size, kInk,
                    TextAlign::centre);
    });
    if (title.empty()) return;
    canvas.text({0.5 * (plot.left + plot.right), plot.bottom + 2.6 * text_size}, title, text_size, kInk,
                TextAlign::centre);
}

void draw_axis_left(Canvas& canvas, const CanvasRect& plot, const Scale& y, std::string_view title, double text_size,
                    int most_ticks) {
    for_each_tick(y, most_ticks, [&](double value) {
        const double at = y.at(value);
        const std::array<CanvasPoint, 2> tick{{{plot.left - 0.3 * text_size, at}, {plot.left, at}}};
        canvas.line(tick, kInk, 1.0);
        canvas.text({plot.left - 0.5 * text_size, at + 0.35 * text_size}, fmt::format("{:g}", value), text_size, kInk,
                    TextAlign::right);
    });
    if (title.empty()) return;
    // where a long title does not fit, the unit alone says what is counted
    const auto open = title.find('('), close = title.rfind(')');
    if (canvas.text_width(title, text_size) > plot.bottom - plot.top && open != title.npos && close > open)
        title = title.substr(open + 1, close - open - 1);
    canvas.text_upwards({plot.left - 2.3 * text_size, 0.5 * (plot.top + plot.bottom)}, title, text_size, kInk);
}

void draw_box(Canvas& canvas, const CanvasRect& box, const Colour& fill) {
    const std::array<CanvasPoint, 4> corners{
        {{box.left, box.top}, {box.right, box.top}, {box.right, box.bottom}, {box.left, box.bottom}}};
    canvas.fill(corners, fill);
}

}  // namespace view
