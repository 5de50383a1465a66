#include "engine/view/chart_plot.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

namespace {

/// Keeps what was drawn.
class NotingCanvas final : public view::Canvas {
 public:
    struct Text {
        view::CanvasPoint at;
        std::string text;
        double size = 0.0;
    };
    std::vector<std::vector<view::CanvasPoint>> fills, lines;
    std::vector<Text> texts;

    void fill(std::span<const view::CanvasPoint> points, const view::Colour&) override {
        fills.emplace_back(points.begin(), points.end());
    }
    void line(std::span<const view::CanvasPoint> points, const view::Colour&, double) override {
        lines.emplace_back(points.begin(), points.end());
    }
    void text(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour&,
              view::TextAlign) override {
        texts.push_back({at, std::string(text), size});
    }
    void text_upwards(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour&) override {
        texts.push_back({at, std::string(text), size});
    }
    double text_width(std::string_view text, double size) override {
        return 0.5 * size * static_cast<double>(text.size());
    }

    [[nodiscard]] const Text& named(const std::string& name) const {
        const auto found = std::find_if(texts.begin(), texts.end(), [&](const Text& t) { return t.text == name; });
        REQUIRE(found != texts.end());
        return *found;
    }
    [[nodiscard]] bool within(const view::CanvasRect& room) const {
        const auto inside = [&](const view::CanvasPoint& p) {
            return std::isfinite(p.x) && std::isfinite(p.y) && p.x >= room.left - 1e-6 && p.x <= room.right + 1e-6 &&
                   p.y >= room.top - 1e-6 && p.y <= room.bottom + 1e-6;
        };
        for (const auto* all : {&fills, &lines})
            for (const auto& points : *all)
                if (!std::all_of(points.begin(), points.end(), inside)) return false;
        return std::all_of(texts.begin(), texts.end(), [&](const Text& t) { return inside(t.at); });
    }
};

constexpr view::CanvasRect kRoom{10, 20, 410, 260};

}  // namespace

TEST_CASE("a chart lies in its room and higher values lie higher", "[view][chart]") {
    NotingCanvas canvas;
    view::Chart chart{"attempt", "score", {}, {}, {}, {}};
    chart.series = {{"A", {{1, 10}, {2, 20}, {3, 15}}, {}, true, true, 1.0}};
    chart.bands = {{{1, 3}, {8, 8}, {12, 12}, {}}};
    chart.rules = {{18, false, "mark", {}}, {2, true, "here", {}}};
    view::draw_chart(canvas, kRoom, chart, 10.0);
    CHECK(canvas.within(kRoom));
    const auto line =
        std::find_if(canvas.lines.begin(), canvas.lines.end(), [](const auto& l) { return l.size() == 3; });
    REQUIRE(line != canvas.lines.end());
    CHECK((*line)[1].y < (*line)[2].y);
    CHECK((*line)[2].y < (*line)[0].y);
    CHECK((*line)[0].x < (*line)[1].x);
    // between its neighbours in proportion: 15 is half way from 10 to 20
    CHECK((*line)[2].y == Approx(0.5 * ((*line)[0].y + (*line)[1].y)));
    CHECK(canvas.named("mark").at.y < (*line)[2].y);
    CHECK(canvas.named("A").at.x > (*line)[2].x);
}

TEST_CASE("names at the ends of lines do not lie on each other", "[view][chart]") {
    NotingCanvas canvas;
    view::Chart chart{"x", "y", {}, {}, {}, {}};
    for (int i = 0; i < 9; ++i)
        chart.series.push_back(
            {"line " + std::to_string(i), {{0, 1.0 * i}, {1, i < 7 ? 0.0 : 8.0}}, {}, false, true, 1.0});
    view::draw_chart(canvas, kRoom, chart, 10.0);
    CHECK(canvas.within(kRoom));
    std::vector<double> heights;
    for (int i = 0; i < 9; ++i) heights.push_back(canvas.named("line " + std::to_string(i)).at.y);
    std::sort(heights.begin(), heights.end());
    for (std::size_t i = 1; i < heights.size(); ++i) CHECK(heights[i] - heights[i - 1] > 10.0);
}

TEST_CASE("charts of nothing, of one point and of equal points", "[view][chart]") {
    for (const std::vector<view::ChartPoint>& points :
         {std::vector<view::ChartPoint>{}, {{5, 7}}, {{0, 0}}, {{1, 3}, {2, 3}}, {{1, -1e9}, {2, 1e9}}}) {
        NotingCanvas canvas;
        view::Chart chart{"x", "y", {}, {}, {}, {}};
        chart.series = {{"", points, {}, true, true, 1.0}};
        view::draw_chart(canvas, kRoom, chart, 10.0);
        CHECK(canvas.within(kRoom));
    }
    NotingCanvas canvas;
    view::draw_bars(canvas, kRoom, {}, "share", 10.0);
    view::draw_bars(canvas, kRoom, {{"a", 0.0, "none"}, {"b", 0.0, ""}}, "share", 10.0);
    CHECK(canvas.within(kRoom));
}

TEST_CASE("bars are as long as their values", "[view][chart]") {
    NotingCanvas canvas;
    view::draw_bars(canvas, kRoom, {{"person", 60.0, "60 %"}, {"rater", 20.0, "20 %"}}, "share", 10.0);
    CHECK(canvas.within(kRoom));
    REQUIRE(canvas.fills.size() == 2);
    const auto length = [&](std::size_t i) { return canvas.fills[i][1].x - canvas.fills[i][0].x; };
    CHECK(length(0) == Approx(3.0 * length(1)));
    CHECK(canvas.named("person").at.y < canvas.named("rater").at.y);
}
