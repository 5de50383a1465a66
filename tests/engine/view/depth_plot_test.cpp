#include "engine/view/depth_plot.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "engine/view/label_placer.hpp"
#include "tests/support/recordings.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using sim::kMm;

namespace {

/// Keeps what was drawn. A letter is taken as half as wide as the type is high.
class RecordingCanvas final : public view::Canvas {
 public:
    void fill(std::span<const view::CanvasPoint> points, const view::Colour& colour) override {
        fills.push_back({{points.begin(), points.end()}, colour});
    }
    void line(std::span<const view::CanvasPoint>, const view::Colour&, double) override {}
    void text(const view::CanvasPoint& at, std::string_view words, double size, const view::Colour&,
              view::TextAlign align) override {
        const double width = text_width(words, size);
        const double left = at.x - (align == view::TextAlign::left    ? 0.0
                                    : align == view::TextAlign::right ? width
                                                                      : 0.5 * width);
        keep(words, size, {left, at.y - 0.75 * size, left + width, at.y + 0.1 * size});
    }
    void text_upwards(const view::CanvasPoint& at, std::string_view words, double size, const view::Colour&) override {
        const double half = 0.5 * text_width(words, size);
        keep(words, size, {at.x - 0.75 * size, at.y - half, at.x + 0.1 * size, at.y + half});
    }
    void keep(std::string_view words, double size, const view::CanvasRect& rect) {
        texts += std::string(words) + "\n";
        labels.push_back({std::string(words), rect});
        smallest = std::min(smallest, size);
    }
    struct Label {
        std::string words;
        view::CanvasRect rect;
    };
    std::vector<Label> labels;
    double text_width(std::string_view words, double size) override {
        return 0.5 * size * static_cast<double>(words.size());
    }
    struct Fill {
        std::vector<view::CanvasPoint> points;
        view::Colour colour;
    };
    std::vector<Fill> fills;
    std::string texts;
    double smallest = 1e9;
};

sim::Recording deep_pass() {
    auto recording = support::plain_pass();
    for (std::size_t i = 30; i < 36; ++i) recording.tracks[0].pieces[i].deepest_m = 5.7 * kMm;
    recording.tracks[0].pieces[40].clearance = {{0, 2.1 * kMm}};
    return recording;
}

view::PlotStyle with_cursor() {
    view::PlotStyle style;
    style.cursor_m = 33 * kMm;
    return style;
}

bool apart(const view::CanvasRect& a, const view::CanvasRect& b) {
    return a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
}

}  // namespace

TEST_CASE("the depth trace says in words what it shows", "[view][plot]") {
    const auto recording = deep_pass();
    const auto trace = view::depth_trace_of(recording, recording.tracks[0], {});
    REQUIRE(trace.samples.size() == 60);
    CHECK_THAT(trace.samples[32].excess_m() / kMm, WithinAbs(0.7, 1e-9));
    CHECK_THAT(view::moment_words(trace, 5 * kMm), Contains("in the entry ramp"));
    CHECK(view::moment_words(trace, 20.4 * kMm) == "20.4 mm from the entry: depth 4.0 mm, in the target band");
    CHECK(view::moment_words(trace, 33.5 * kMm) ==
          "33.5 mm from the entry: depth 5.7 mm, 0.7 mm below the target band");
    CHECK_THAT(view::moment_words(trace, 40.5 * kMm), Contains("facial artery 2.1 mm away"));
    CHECK(view::moment_words({}, 0.0) == "No track yet");
}

TEST_CASE("the plot keeps inside its rectangle and above its least type size", "[view][plot]") {
    const auto recording = deep_pass();
    const auto trace = view::depth_trace_of(recording, recording.tracks[0], {});
    RecordingCanvas canvas;
    view::draw_depth_trace(canvas, {100, 50, 900, 350}, trace, with_cursor());
    CHECK(canvas.smallest >= 14.0);
    for (const auto& fill : canvas.fills)
        for (const auto& point : fill.points) {
            CHECK((point.x >= 100.0 && point.x <= 900.0));
            CHECK((point.y >= 50.0 && point.y <= 350.0));
        }
    for (const auto* words :
         {"target band", "superficial fat", "SMAS or platysma", "0.7 mm too deep for 6 mm", "Depth (mm)",
          "mm from the entry", "facial artery: 2.1 mm, wants 3.0", "33.0 mm from the entry"})
        CHECK_THAT(canvas.texts, Contains(words));
    RecordingCanvas empty;
    view::draw_depth_trace(empty, {0, 0, 400, 200}, {}, {});
    CHECK_THAT(empty.texts, Contains("No track"));
}

TEST_CASE("no word of the plot lies on another or on the shaft", "[view][plot]") {
    auto recording = deep_pass();
    auto& pieces = recording.tracks[0].pieces;
    for (std::size_t i = 14; i < 20; ++i) pieces[i].shallowest_m = pieces[i].deepest_m = 1.9 * kMm;
    for (std::size_t i = 44; i < 58; ++i) pieces[i].shallowest_m = pieces[i].deepest_m = 6.4 * kMm;
    const auto trace = view::depth_trace_of(recording, recording.tracks[0], {});
    const double text = GENERATE(7.5, 14.0, 21.0);
    const double height = GENERATE(14.0, 18.0, 26.0);  // in type sizes
    view::PlotStyle style;
    style.text_size = text;
    style.cursor_words = false;
    if (GENERATE(false, true)) style.cursor_m = 17 * kMm;
    if (GENERATE(false, true)) {
        auto shallower = trace;
        for (auto& sample : shallower.samples) {
            sample.shallowest_m -= kMm;
            sample.deepest_m -= kMm;
        }
        style.beside.push_back({shallower, "1 mm shallower", view::BesideTrace::Look::dots});
        style.numbered = {{17 * kMm, 1, true}, {33 * kMm, 2, false}, {50 * kMm, 3, false}};
    }
    RecordingCanvas canvas;
    const view::CanvasRect where{100, 50, 100 + 60 * text, 50 + height * text};
    const auto places = view::draw_depth_trace(canvas, where, trace, style);
    for (std::size_t i = 0; i < canvas.labels.size(); ++i) {
        const auto& label = canvas.labels[i];
        INFO(label.words << " at type " << text << ", height " << height);
        CHECK((label.rect.left >= where.left && label.rect.right <= where.right));
        CHECK((label.rect.top >= where.top && label.rect.bottom <= where.bottom));
        for (std::size_t k = 0; k < i; ++k) {
            INFO("and " << canvas.labels[k].words);
            CHECK(apart(label.rect, canvas.labels[k].rect));
        }
        // inside the plot: off the shaft
        if (label.rect.right > places.plot.right || label.rect.left < places.plot.left ||
            label.rect.top < places.plot.top || label.rect.bottom > places.plot.bottom)
            continue;
        for (const auto& sample : trace.samples) {
            const double x = places.along_mm.at(sample.along_m / kMm);
            if (x < label.rect.left || x > label.rect.right) continue;
            const double top = places.depth_mm.at((sample.shallowest_m - trace.shaft_radius_m) / kMm);
            const double bottom = places.depth_mm.at((sample.deepest_m + trace.shaft_radius_m) / kMm);
            CHECK((label.rect.bottom <= top || label.rect.top >= bottom));
        }
    }
    CHECK_THAT(canvas.texts, Contains("target band") && Contains("clearance (mm)"));
}

TEST_CASE("a place under the pointer is a distance along the track", "[view][plot]") {
    const auto recording = deep_pass();
    const auto trace = view::depth_trace_of(recording, recording.tracks[0], {});
    RecordingCanvas canvas;
    const auto places = view::draw_depth_trace(canvas, {100, 50, 900, 350}, trace, {});
    CHECK_THAT(places.along_m_at(places.along_mm.at(42.0)) / kMm, WithinAbs(42.0, 1e-9));
    CHECK(places.along_m_at(0.0) == 0.0);
    CHECK_THAT(places.along_m_at(1e5) / kMm, WithinAbs(60.0, 1e-9));
}

TEST_CASE("labels in a column keep their order and distance", "[view][plot]") {
    CHECK(view::spread_labels({10, 11, 50}, 15, 0, 100) == std::vector<double>{10, 25, 50});
    CHECK(view::spread_labels({90, 95, 99}, 15, 0, 100) == std::vector<double>{70, 85, 100});
    CHECK(view::spread_labels({}, 15, 0, 100).empty());
}

TEST_CASE("the live trace and the force follow the farthest the tip came", "[view][plot]") {
    auto recording = support::plain_pass();
    support::add_rows(recording, support::track_of(30));  // back to the entry and in again: nothing new
    const auto trace = view::depth_trace_of(recording, 0, 0.5 * kMm, {});
    CHECK(trace.samples.size() == 61);
    CHECK(std::is_sorted(trace.samples.begin(), trace.samples.end(),
                         [](const auto& a, const auto& b) { return a.along_m < b.along_m; }));
    const auto curve = view::force_curve_of(recording, 0);
    REQUIRE(curve.samples.size() == 61);
    CHECK_THAT(curve.samples.back().hand_n, WithinAbs(0.8, 1e-12));
    // a tip that stands while the hand pushes: the curve rises there
    sim::TraceRow stuck = *std::max_element(recording.rows.begin(), recording.rows.end(),
                                            [](const auto& x, const auto& y) { return x.inserted_m < y.inserted_m; });
    stuck.hand_n = 3.3;
    recording.rows.push_back(stuck);
    const auto risen = view::force_curve_of(recording, 0);
    REQUIRE(risen.samples.size() == 61);
    CHECK_THAT(risen.samples.back().hand_n, WithinAbs(3.3, 1e-12));
}

TEST_CASE("the target band is drawn ahead of the tip to the planned end", "[view][plot]") {
    constexpr view::CanvasRect kWhere{100, 50, 900, 350};
    const auto green_to = [&](int made_mm) {
        const auto recording = support::plain_pass(4 * kMm, made_mm);
        RecordingCanvas canvas;
        const auto places = view::draw_depth_trace(
            canvas, kWhere, view::depth_trace_of(recording, 0, recording.tracks[0].shaft_radius_m, {}), {});
        double right = 0.0;
        for (const auto& fill : canvas.fills)
            if (fill.colour.green > 0.6 && fill.colour.red < 0.01)
                for (const auto& point : fill.points) right = std::max(right, point.x);
        CHECK_THAT(canvas.texts, Contains("target band"));
        return places.along_m_at(right) / kMm;
    };
    // planned are 60 mm; the first 10 are the entry ramp, in which there is no target
    for (const int made_mm : {4, 25, 60}) CHECK_THAT(green_to(made_mm), WithinAbs(60.0, 0.6));
}

TEST_CASE("the small trace shows layers, band and shaft, and how deep its bottom is", "[view][plot]") {
    const sim::Recording recording = deep_pass();
    RecordingCanvas canvas;
    const view::DepthTrace trace = view::depth_trace_of(recording, recording.tracks[0], {});
    view::draw_depth_strip(canvas, {0, 0, 400, 144}, trace, 14.0);
    CHECK_THAT(canvas.texts, Contains("0\n") && Contains("mm from the entry") && Contains("superficial fat"));
    CHECK(canvas.fills.size() > 6);
    for (const auto& fill : canvas.fills)
        for (const view::CanvasPoint& p : fill.points) {
            CHECK((p.x >= -1e-6 && p.x <= 400.0 + 1e-6));
            CHECK((p.y >= -2.0 && p.y <= 146.0));
        }
    for (const auto& label : canvas.labels) CHECK(label.rect.right <= 400.0);
    RecordingCanvas empty;
    view::draw_depth_strip(empty, {0, 0, 400, 144}, {}, 14.0);
    CHECK(empty.fills.empty());
}
