#include "engine/view/label_placer.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace view {

namespace {

constexpr double kPadEm = 0.42;     // beside the words
constexpr double kHeightEm = 1.42;  // of a pill
constexpr double kCornerEm = 0.34;
constexpr double kBaseEm = 1.05;  // base line below the top: the middle of small letters in the middle of the pill
constexpr Colour kGround{1.0, 0.995, 0.98, 0.94};

bool apart(const CanvasRect& a, const CanvasRect& b) {
    return a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
}

}  // namespace

CanvasRect LabelPlacer::inside(double width, double height, const CanvasPoint& centre) const {
    const double x = std::clamp(centre.x - 0.5 * width, within_.left, std::max(within_.left, within_.right - width));
    const double y = std::clamp(centre.y - 0.5 * height, within_.top, std::max(within_.top, within_.bottom - height));
    return {x, y, x + width, y + height};
}

bool LabelPlacer::free(const CanvasRect& rect) const {
    if (rect.right > within_.right + 1e-6 || rect.bottom > within_.bottom + 1e-6) return false;
    return std::all_of(taken_.begin(), taken_.end(), [&](const CanvasRect& other) { return apart(rect, other); });
}

std::optional<CanvasRect> LabelPlacer::place(double width, double height, std::span<const CanvasPoint> centres) {
    for (const CanvasPoint& centre : centres) {
        const CanvasRect rect = inside(width, height, centre);
        if (!free(rect)) continue;
        taken_.push_back(rect);
        return rect;
    }
    return std::nullopt;
}

CanvasRect LabelPlacer::insist(double width, double height, const CanvasPoint& centre) {
    taken_.push_back(inside(width, height, centre));
    return taken_.back();
}

std::vector<double> spread_labels(std::vector<double> wanted, double spacing, double low, double high) {
    for (std::size_t i = 0; i < wanted.size(); ++i)
        wanted[i] = std::max(wanted[i], i == 0 ? low : wanted[i - 1] + spacing);
    double limit = high;
    for (std::size_t i = wanted.size(); i-- > 0; limit = wanted[i] - spacing) wanted[i] = std::min(wanted[i], limit);
    return wanted;
}

double pill_width(Canvas& canvas, std::string_view words, double text_size) {
    return canvas.text_width(words, text_size) + 2.0 * kPadEm * text_size;
}

double pill_height(double text_size) { return kHeightEm * text_size; }

void draw_pill(Canvas& canvas, const CanvasRect& rect, std::string_view words, double text_size, const Colour& ink) {
    const double r = std::min(kCornerEm * text_size, 0.5 * rect.height());
    constexpr int kCornerPoints = 4;
    const std::array<CanvasPoint, 4> centres{{{rect.right - r, rect.top + r},
                                              {rect.right - r, rect.bottom - r},
                                              {rect.left + r, rect.bottom - r},
                                              {rect.left + r, rect.top + r}}};
    std::vector<CanvasPoint> outline;
    for (std::size_t corner = 0; corner < centres.size(); ++corner)
        for (int i = 0; i < kCornerPoints; ++i) {
            constexpr double kQuarterTurn = 1.5707963267948966;
            const double angle =
                kQuarterTurn * (static_cast<double>(corner) - 1.0 + static_cast<double>(i) / (kCornerPoints - 1));
            outline.push_back({centres[corner].x + r * std::cos(angle), centres[corner].y + r * std::sin(angle)});
        }
    canvas.fill(outline, kGround);
    canvas.text({rect.left + kPadEm * text_size, rect.top + kBaseEm * text_size}, words, text_size, ink);
}

}  // namespace view
