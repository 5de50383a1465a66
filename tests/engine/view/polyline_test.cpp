#include "engine/view/polyline.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using view::CanvasPoint;

namespace {

std::vector<CanvasPoint> wave(std::size_t count, double height) {
    std::vector<CanvasPoint> out;
    for (std::size_t i = 0; i < count; ++i) {
        const double x = 3.0 * static_cast<double>(i);
        out.push_back({x, height * std::sin(0.02 * x)});
    }
    return out;
}

double height_at(const std::vector<CanvasPoint>& line, double x) {
    std::size_t i = 1;
    while (i + 1 < line.size() && line[i].x < x) ++i;
    const double t = (x - line[i - 1].x) / (line[i].x - line[i - 1].x);
    return line[i - 1].y + t * (line[i].y - line[i - 1].y);
}

}  // namespace

TEST_CASE("a simplified line stays within its tolerance and loses most of its points", "[view]") {
    const std::vector<CanvasPoint> line = wave(200, 30.0);
    const std::vector<CanvasPoint> fewer = view::simplified(line, 0.15);
    CHECK(fewer.size() < line.size() / 3);
    CHECK(fewer.size() > 10);  // half a dozen turns in 600 units cannot be told with less
    for (const CanvasPoint& p : line) CHECK(std::fabs(height_at(fewer, p.x) - p.y) < 0.2);
    // a straight line is its two ends
    CHECK(view::simplified(wave(200, 0.0), 0.15).size() == 2);
}

TEST_CASE("outlines that share an edge still share it when they are simplified", "[view]") {
    const std::vector<CanvasPoint> edge = wave(150, 20.0);
    // the edge alone, and the same edge as the floor of an outline with upright sides
    std::vector<CanvasPoint> outline{{edge.front().x, -80.0}};
    outline.insert(outline.end(), edge.begin(), edge.end());
    outline.push_back({edge.back().x, -75.0});
    const std::vector<CanvasPoint> alone = view::simplified(edge, 0.15), within = view::simplified(outline, 0.15);
    REQUIRE(within.size() == alone.size() + 2);
    for (std::size_t i = 0; i < alone.size(); ++i) {
        CHECK(within[i + 1].x == alone[i].x);
        CHECK(within[i + 1].y == alone[i].y);
    }
}
