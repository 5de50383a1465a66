#include "engine/view/slice.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "sim/anatomy/slab.hpp"
#include "sim/instruments/gauge.hpp"

using Catch::Matchers::WithinAbs;
using sim::kMm;
using sim::Vec3;

namespace {

/// A ball of tissue: layers are shells, so that every question has an answer by hand.
class Ball final : public sim::Anatomy {
 public:
    static constexpr double kRadiusM = 60.0 * kMm;
    static constexpr std::array<double, sim::kTissueLayers> kBottoms{1.5 * kMm, 6.0 * kMm, 7.0 * kMm, 9.0 * kMm,
                                                                     12.0 * kMm};
    Ball() {
        sim::Structure artery;
        artery.name = "facial artery";
        // across the section at 45 degrees, 8 mm under the top
        artery.line = {{{-0.02, -0.02, 0.052}, 1.0 * kMm}, {{0.02, 0.02, 0.052}, 1.0 * kMm}};
        sim::Structure nerve = artery;
        nerve.name = "far nerve";
        nerve.kind = sim::StructureKind::nerve;
        for (sim::StructureNode& node : nerve.line) node.position_m = {node.position_m.x, 0.03, 0.04};
        structures_ = {artery, nerve};
        sim::Ligament sheet;
        sheet.name = "mandibular ligament";
        sheet.deep_m = {{0.005, -0.01, 0.050}, {0.005, 0.01, 0.050}};
        sheet.superficial_m = {{0.005, -0.01, 0.057}, {0.005, 0.01, 0.057}};
        sheet.half_thickness_m = 0.5 * kMm;
        ligaments_ = {sheet};
        index_structures();
    }
    [[nodiscard]] sim::LayerPoint layers_at(const Vec3& p_m) const override {
        sim::LayerPoint at;
        at.depth_m = kRadiusM - glm::length(p_m);
        at.bottom_m = kBottoms;
        double top_m = 0.0;
        at.layer = at.depth_m < 0.0 ? sim::Layer::outside : sim::Layer::floor;
        at.fraction = at.layer == sim::Layer::outside ? at.depth_m : at.depth_m - kBottoms.back();
        for (std::size_t i = 0; i < kBottoms.size(); top_m = kBottoms[i], ++i)
            if (at.depth_m >= top_m && at.depth_m < kBottoms[i]) {
                at.layer = static_cast<sim::Layer>(i + 1);
                at.fraction = (at.depth_m - top_m) / (kBottoms[i] - top_m);
            }
        return at;
    }
    [[nodiscard]] Vec3 inward_at(const Vec3& p_m) const override { return -glm::normalize(p_m); }
    [[nodiscard]] std::optional<sim::SkinPoint> ray_to_skin(const Vec3&, const Vec3&) const override { return {}; }
    [[nodiscard]] sim::SkinPoint nearest_skin(const Vec3& p_m) const override {
        const Vec3 out = glm::normalize(p_m);
        return {kRadiusM * out, out};
    }
};

/// From the entry at the left down to 4 mm under the top of the ball, with 20 mm of shaft outside.
std::vector<Vec3> shaft() {
    const Vec3 entry = Ball::kRadiusM * glm::normalize(Vec3(-0.02, 0.0, 0.0566)), tip(0.0, 0.0, 0.056);
    return {entry - 0.02 * glm::normalize(tip - entry), entry, tip};
}

view::Slice some_slice(const sim::Anatomy& anatomy, const std::vector<Vec3>& line) {
    const double inserted_m = glm::length(line[2] - line[1]);
    const auto slice = view::slice_along(anatomy, {}, {line, inserted_m, 21, false, {}});
    REQUIRE(slice);
    return *slice;
}

/// Keeps words, lines by width, and the farthest that anything was drawn.
class KeepingCanvas final : public view::Canvas {
 public:
    void fill(std::span<const view::CanvasPoint> points, const view::Colour&) override { reach(points); }
    void line(std::span<const view::CanvasPoint> points, const view::Colour&, double width) override {
        reach(points);
        lines.push_back({width, std::vector(points.begin(), points.end())});
    }
    void text(const view::CanvasPoint&, std::string_view words, double size, const view::Colour&,
              view::TextAlign) override {
        texts += std::string(words) + "\n";
        least_size = std::min(least_size, size);
    }
    void text_upwards(const view::CanvasPoint&, std::string_view, double, const view::Colour&) override {}
    double text_width(std::string_view words, double size) override {
        return 0.5 * size * static_cast<double>(words.size());
    }
    struct Line {
        double width = 0.0;
        std::vector<view::CanvasPoint> points;
    };
    std::vector<Line> lines;
    std::string texts;
    double least_size = 1e9, left = 1e9, top = 1e9, right = -1e9, bottom = -1e9;

 private:
    void reach(std::span<const view::CanvasPoint> points) {
        for (const view::CanvasPoint& p : points) {
            left = std::min(left, p.x);
            right = std::max(right, p.x);
            top = std::min(top, p.y);
            bottom = std::max(bottom, p.y);
        }
    }
};

}  // namespace

TEST_CASE("a section is drawn inside its rectangle, the shaft at true thickness, all by name", "[view][slice]") {
    const Ball ball;
    KeepingCanvas canvas;
    const view::CanvasRect where{100, 50, 700, 330};
    const std::vector<Vec3> line = shaft();
    const auto slice = view::slice_along(
        ball, {}, {line, glm::length(line[2] - line[1]), 21, false, view::slice_window(canvas, where, 14.0)});
    REQUIRE(slice);
    view::draw_slice(canvas, where, *slice, 14.0);
    CHECK((canvas.left >= 100.0 && canvas.right <= 700.0 && canvas.top >= 50.0 && canvas.bottom <= 330.0));
    CHECK(canvas.least_size >= 14.0);
    for (const char* words : {"skin", "superficial fat", "SMAS or platysma", "deep fat", "muscle", "floor", "5 mm",
                              "target band", "facial artery", "mandibular ligament"})
        CHECK_THAT(canvas.texts, Catch::Matchers::Contains(words));
    // one scale for both axes: the height says how much a millimetre is
    const double scale = 280.0 / (slice->window.bottom_mm - slice->window.top_mm);
    const auto as_wide_as = [&](double mm) {
        return std::count_if(canvas.lines.begin(), canvas.lines.end(), [&](const auto& one) {
            return std::fabs(one.width - mm * scale) < 1e-6 &&
                   std::fabs(one.points.back().y - 50.0 - scale * (4.0 - slice->window.top_mm)) < 1e-6;
        });
    };
    CHECK(as_wide_as(slice->outer_mm) == 1);
    CHECK(as_wide_as(slice->inner_mm) == 1);
}

TEST_CASE("a section shows at every point the layer that the anatomy has there", "[view][slice]") {
    const Ball ball;
    const sim::Slab slab({});
    const std::vector<Vec3> flat{{-0.04, 0.0, 0.02}, {-0.02, 0.0, 0.0}, {0.0, 0.0, -0.004}};
    for (const sim::Anatomy* anatomy :
         {static_cast<const sim::Anatomy*>(&ball), static_cast<const sim::Anatomy*>(&slab)}) {
        const view::Slice slice = some_slice(*anatomy, anatomy == &ball ? shaft() : flat);
        int compared = 0, different = 0;
        for (double x = slice.window.left_mm + 0.3; x < slice.window.right_mm; x += 0.37)
            for (double y = slice.window.top_mm + 0.1; y < slice.window.bottom_mm; y += 0.21) {
                const auto truth = [&](double by_mm) {
                    return anatomy->layers_at(slice.plane.place_m(x, y + by_mm)).layer;
                };
                // a border is drawn straight between columns 0.75 mm apart: 0.05 mm on a ball of 60 mm
                if (truth(-0.05) != truth(0.05)) continue;
                ++compared;
                different += slice.layer_at(x, y) != truth(0.0) ? 1 : 0;
            }
        CHECK(compared > 5000);
        CHECK(different == 0);
    }
}

TEST_CASE("the plane holds the chord and the skin's normal, and the shaft lies where it lies", "[view][slice]") {
    const Ball ball;
    const view::Slice slice = some_slice(ball, shaft());
    CHECK_THAT(glm::dot(slice.plane.along, slice.plane.inward), WithinAbs(0.0, 1e-12));
    CHECK_THAT(glm::length(slice.plane.inward + Vec3(0, 0, 1)), WithinAbs(0.0, 1e-9));
    CHECK_THAT(slice.shaft_mm.back().x, WithinAbs(0.0, 1e-9));
    CHECK_THAT(slice.shaft_mm.back().y, WithinAbs(4.0, 1e-9));
    CHECK_THAT(slice.tip_depth_mm, WithinAbs(4.0, 1e-9));
    CHECK_THAT(slice.outer_mm, WithinAbs(0.819, 1e-9));
    CHECK(slice.shaft_mm.front().x < -20.0);
    // a place of the plane goes there and back
    const view::CanvasPoint back = slice.plane.at_mm(slice.plane.place_m(3.0, 5.0));
    CHECK_THAT(back.x, WithinAbs(3.0, 1e-9));
    CHECK_THAT(back.y, WithinAbs(5.0, 1e-9));
}

TEST_CASE("structures and ligaments appear where the plane goes through them, and only there", "[view][slice]") {
    const Ball ball;
    const view::Slice slice = some_slice(ball, shaft());
    REQUIRE(slice.sections.size() == 1);
    CHECK(slice.sections[0].name == "facial artery");
    double low = 1e9, high = -1e9, least = 1e9, most = -1e9;
    for (const auto& disc : slice.sections[0].discs) {
        low = std::min(low, disc.at_mm.x - disc.radius_mm);
        high = std::max(high, disc.at_mm.x + disc.radius_mm);
        least = std::min(least, disc.at_mm.y - disc.radius_mm);
        most = std::max(most, disc.at_mm.y + disc.radius_mm);
    }
    // a tube of 1 mm cut at 45 degrees: an oval of 2 sqrt 2 by 2 mm around (0, 8)
    CHECK_THAT(high - low, WithinAbs(2.0 * std::sqrt(2.0), 0.1));
    CHECK_THAT(0.5 * (high + low), WithinAbs(0.0, 0.05));
    CHECK_THAT(most - least, WithinAbs(2.0, 0.05));
    CHECK_THAT(0.5 * (most + least), WithinAbs(8.0, 0.02));
    REQUIRE(slice.sheets.size() == 1);
    REQUIRE(slice.sheets[0].pieces_mm.size() == 1);
    const auto& [a, b] = slice.sheets[0].pieces_mm[0];
    CHECK_THAT(a.x, WithinAbs(5.0, 1e-9));
    CHECK_THAT(b.x, WithinAbs(5.0, 1e-9));
    CHECK_THAT(std::min(a.y, b.y), WithinAbs(3.0, 1e-9));
    CHECK_THAT(std::max(a.y, b.y), WithinAbs(10.0, 1e-9));
}

TEST_CASE("the target band of a section is the rubric's band for the wall", "[view][slice]") {
    const sim::Slab slab({});
    const sim::Bands bands;
    const std::vector<Vec3> flat{{-0.04, 0.0, 0.02}, {-0.02, 0.0, 0.0}, {0.0, 0.0, -0.004}};
    const view::Slice slice = some_slice(slab, flat);
    const double radius_m = sim::gauge(21).radius_m();
    const sim::AxisBand band = sim::target_band(slab.layers_at({0, 0, -0.004}).bottom_m, radius_m, bands);
    int banded = 0;
    for (std::size_t i = 0; i < slice.band_mm.size(); ++i) {
        const bool past_ramp = slice.x_of(i) > -20.0 + bands.ramp_m.value / kMm;
        CHECK(slice.band_mm[i].has_value() == past_ramp);
        if (!slice.band_mm[i]) continue;
        ++banded;
        CHECK_THAT((*slice.band_mm[i])[0], WithinAbs((band.top_m - radius_m) / kMm, 0.02));
        CHECK_THAT((*slice.band_mm[i])[1], WithinAbs((band.bottom_m + radius_m) / kMm, 0.02));
    }
    CHECK(banded > 10);
}

TEST_CASE("there is no section without a shaft in the skin", "[view][slice]") {
    const Ball ball;
    CHECK_FALSE(view::slice_along(ball, {}, {shaft(), 0.0, 21, false, {}}));
    CHECK_FALSE(view::slice_along(ball, {}, {{}, 0.02, 21, false, {}}));
    // straight in along the normal
    const std::vector<Vec3> down{{0, 0, 0.08}, {0, 0, 0.06}, {0, 0, 0.05}};
    CHECK(view::slice_along(ball, {}, {down, 0.01, 21, false, {}}));
}
