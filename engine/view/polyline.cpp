#include "engine/view/polyline.hpp"

#include <algorithm>
#include <cmath>

namespace view {

namespace {

double distance_to(const CanvasPoint& p, const CanvasPoint& a, const CanvasPoint& b) {
    const double ux = b.x - a.x, uy = b.y - a.y, length2 = ux * ux + uy * uy;
    const double t = length2 > 0.0 ? std::clamp(((p.x - a.x) * ux + (p.y - a.y) * uy) / length2, 0.0, 1.0) : 0.0;
    return std::hypot(p.x - a.x - t * ux, p.y - a.y - t * uy);
}

/// Mark what must remain between two points that do.
void mark(std::span<const CanvasPoint> points, std::size_t first, std::size_t last, double tolerance,
          std::vector<bool>& kept) {
    std::vector<std::pair<std::size_t, std::size_t>> open{{first, last}};
    while (!open.empty()) {
        const auto [from, to] = open.back();
        open.pop_back();
        std::size_t worst = from;
        double most = tolerance;
        for (std::size_t i = from + 1; i < to; ++i)
            if (const double away = distance_to(points[i], points[from], points[to]); away > most) {
                most = away;
                worst = i;
            }
        if (worst == from) continue;
        kept[worst] = true;
        open.push_back({from, worst});
        open.push_back({worst, to});
    }
}

}  // namespace

std::vector<CanvasPoint> simplified(std::span<const CanvasPoint> points, double tolerance) {
    constexpr double kUpright = 1e-3;  // canvas units
    if (points.size() < 3) return {points.begin(), points.end()};
    std::vector<bool> kept(points.size(), false);
    kept.front() = kept.back() = true;
    for (std::size_t i = 0; i + 1 < points.size(); ++i)
        if (std::fabs(points[i + 1].x - points[i].x) < kUpright) kept[i] = kept[i + 1] = true;
    const std::vector<bool> corners = kept;
    for (std::size_t first = 0, i = 1; i < points.size(); ++i) {
        if (!corners[i]) continue;
        mark(points, first, i, tolerance, kept);
        first = i;
    }
    std::vector<CanvasPoint> out;
    for (std::size_t i = 0; i < points.size(); ++i)
        if (kept[i]) out.push_back(points[i]);
    return out;
}

}  // namespace view
