#include "engine/view/depth_plot.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

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
    void text(const view::CanvasPoint&, std::string_view words, double size, const view::Colour&,
              view::TextAlign) override {
        texts += std::string(words) + "\n";
        smallest = std::min(smallest, size);
    }
    void text_upwards(const view::CanvasPoint& at, std::string_view words, double size,
                      const view::Colour& colour) override {
        text(at, words, size, colour, view::TextAlign::left);
    }
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

}  // namespace

TEST_CASE("the depth trace says in words what it shows", "[view][plot]") {
    const auto recording = deep_pass();
    const auto trace = view::depth_trace_of(recording, recording.tracks[0], {});
    REQUIRE(trace.samples.size() == 60);
    CHECK_THAT(trace.samples[32].excess_m() / kMm, WithinAbs(0.7, 1e-9));
    CHECK(view::moment_words(trace, 5 * kMm).find("entry ramp") != std::string::npos);
    CHECK(view::moment_words(trace, 20.4 * kMm) == "20 mm in: axis 4.0 mm deep, in the band");
    CHECK_THAT(view::moment_words(trace, 33.5 * kMm), Contains("0.7 mm too deep"));
    CHECK_THAT(view::moment_words(trace, 40.5 * kMm), Contains("facial artery 2.1 mm away"));
    CHECK(view::moment_words({}, 0.0) == "No track yet");
}

TEST_CASE("the plot keeps inside its rectangle and above its least type size", "[view][plot]") {
    const auto recording = deep_pass();
    const auto trace = view::depth_trace_of(recording, recording.tracks[0], {});
    RecordingCanvas canvas;
    view::draw_depth_trace(canvas, {100, 50, 900, 350}, trace, {14.0, 33 * kMm});
    CHECK(canvas.smallest >= 14.0);
    for (const auto& fill : canvas.fills)
        for (const auto& point : fill.points) {
            CHECK((point.x >= 100.0 && point.x <= 900.0));
            CHECK((point.y >= 50.0 && point.y <= 350.0));
        }
    for (const auto* words : {"target band", "superficial fat", "SMAS / platysma", "0.7 mm too deep", "Depth (mm)",
                              "Distance from the entry along the track (mm)", "facial artery: 2.1 mm"})
        CHECK_THAT(canvas.texts, Contains(words));
    RecordingCanvas empty;
    view::draw_depth_trace(empty, {0, 0, 400, 200}, {}, {});
    CHECK_THAT(empty.texts, Contains("No track"));
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
}
