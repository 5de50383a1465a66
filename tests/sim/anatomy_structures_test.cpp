#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "sim/anatomy/slab.hpp"
#include "sim/anatomy/structures_course.hpp"
#include "sim/core/errors.hpp"

// The tools that place structures, on the slab, where every answer is known by hand.

namespace {

using sim::kMm;
using sim::Layer;
using sim::Vec3;

/// The slab as one side of a head: its floor is bone.
class SlabSide final : public sim::SideTissue {
 public:
    explicit SlabSide(const sim::SlabParameters& parameters = {}) : slab_(parameters) {}
    sim::LayerPoint layers_at(const Vec3& p) const override { return slab_.layers_at(p); }
    Vec3 inward_at(const Vec3& p) const override { return slab_.inward_at(p); }
    std::optional<sim::SkinPoint> ray_to_skin(const Vec3& o, const Vec3& d) const override {
        return slab_.ray_to_skin(o, d);
    }
    sim::SkinPoint nearest_skin(const Vec3& p) const override { return slab_.nearest_skin(p); }
    double bone_distance_m(const Vec3& p) const override {
        return layers_at(p).bottom_of(Layer::muscle) - layers_at(p).depth_m;
    }
    Vec3 away_from_bone_at(const Vec3&) const override { return {0, 0, 1}; }
    double masseter_at(const Vec3&) const override { return 0.0; }

 private:
    sim::Slab slab_;
};

constexpr double kFloorM = 15.0 * kMm;  // 1.5 + 4.5 + 1 + 3 + 5

}  // namespace

TEST_CASE("a depth rule is a share of a layer plus a length", "[structures]") {
    const SlabSide slab;
    const sim::LayerPoint at = slab.layers_at({0, 0, -1.0 * kMm});
    CHECK_THAT(sim::in_layer(Layer::skin, 0.5).depth_m(at), Catch::WithinAbs(0.75 * kMm, 1e-12));
    CHECK_THAT(sim::in_layer(Layer::deep_fat, 0.5).depth_m(at), Catch::WithinAbs(8.5 * kMm, 1e-12));
    CHECK_THAT(sim::below_smas(1.4 * kMm).depth_m(at), Catch::WithinAbs(8.4 * kMm, 1e-12));
    CHECK_THAT(sim::above_floor(2.0 * kMm).depth_m(at), Catch::WithinAbs(13.0 * kMm, 1e-12));
    CHECK_THAT(sim::at_depth(3.0 * kMm).depth_m(at), Catch::WithinAbs(3.0 * kMm, 1e-12));
    const Vec3 brought = sim::brought_to(slab, {0.01, 0.02, 0.0}, sim::below_smas(0.0));
    CHECK_THAT(brought.z, Catch::WithinAbs(-7.0 * kMm, 1e-5));
    CHECK(brought.x == 0.01);
}

TEST_CASE("two distances are solved for at once", "[structures]") {
    const SlabSide slab;
    const Vec3 a(0, 0, 0), b(40 * kMm, 0, 0);
    // circles of 30 about a and 25 about b meet at x = (900 - 625 + 1600) / 80
    const auto residuals = [&](double to_a, double to_b) {
        return [=](const sim::SkinPoint& s) {
            return std::array{glm::length(s.position_m - a) - to_a, glm::length(s.position_m - b) - to_b};
        };
    };
    const sim::SkinSearch found =
        sim::search_skin(slab, slab.nearest_skin({10 * kMm, 10 * kMm, 0}), residuals(30 * kMm, 25 * kMm));
    const double x = 23.4375, y = std::sqrt(900.0 - x * x);
    CHECK_THAT(found.skin.position_m.x, Catch::WithinAbs(x * kMm, 0.05 * kMm));
    CHECK_THAT(found.skin.position_m.y, Catch::WithinAbs(y * kMm, 0.05 * kMm));
    CHECK(found.miss_m < 0.02 * kMm);

    // 10 and 10 cannot both hold 40 apart: the best point lies midway and says by how much it misses
    const sim::SkinSearch apart =
        sim::search_skin(slab, slab.nearest_skin({15 * kMm, 6 * kMm, 0}), residuals(10 * kMm, 10 * kMm));
    CHECK_THAT(apart.miss_m, Catch::WithinAbs(std::hypot(10.0, 10.0) * kMm, 0.3 * kMm));
    CHECK_THAT(apart.skin.position_m.x, Catch::WithinAbs(20 * kMm, 2 * kMm));
}

TEST_CASE("a course runs through its stations at its depth", "[structures]") {
    const SlabSide slab;
    const std::array<sim::CoursePoint, 3> points{
        sim::CoursePoint{"start", {0, 0, 0}, sim::at_depth(5 * kMm), 1.0 * kMm},
        sim::CoursePoint{"bend", {20 * kMm, 10 * kMm, 0}, sim::at_depth(6 * kMm), 0.8 * kMm, true},
        sim::CoursePoint{"end", {40 * kMm, 0, 0}, sim::in_layer(Layer::deep_fat, 0.5), 0.5 * kMm}};
    const sim::Course course = sim::lay_course(slab, points);

    REQUIRE(course.stations.size() == 3);
    CHECK_THAT(course.stations[0].depth_m, Catch::WithinAbs(5 * kMm, 1e-5));
    CHECK_THAT(course.stations[1].depth_m, Catch::WithinAbs(6 * kMm, 1e-5));
    CHECK_THAT(course.stations[2].depth_m, Catch::WithinAbs(8.5 * kMm, 1e-5));
    CHECK(course.stations[1].placed);
    CHECK_FALSE(course.stations[2].placed);
    CHECK_THAT(course.stations[1].position_m.y, Catch::WithinAbs(10 * kMm, 1e-6));

    REQUIRE(course.line.size() > 10);
    CHECK(course.line.front().radius_m == 1.0 * kMm);
    CHECK(course.line.back().radius_m == 0.5 * kMm);
    for (std::size_t i = 1; i < course.line.size(); ++i) {
        CHECK(course.line[i].radius_m <= course.line[i - 1].radius_m);
        CHECK(glm::length(course.line[i].position_m - course.line[i - 1].position_m) < 4 * kMm);
    }
}

TEST_CASE("bone is an inequality: a course that would run into it gives way, and says so", "[structures]") {
    const SlabSide slab;
    const std::array<sim::CoursePoint, 2> points{
        sim::CoursePoint{"deep", {0, 0, 0}, sim::at_depth(14.5 * kMm), 1.2 * kMm, true},
        sim::CoursePoint{"deeper", {30 * kMm, 0, 0}, sim::at_depth(20 * kMm), 1.2 * kMm, true}};
    const sim::Course course = sim::lay_course(slab, points);
    for (const sim::StructureNode& node : course.line) CHECK(kFloorM + node.position_m.z >= node.radius_m + 0.29 * kMm);
    for (const sim::Station& station : course.stations) CHECK_FALSE(station.placed);
}

TEST_CASE("where skin and bone leave too little room a vessel is flattened, not pushed through", "[structures]") {
    sim::SlabParameters thin;
    thin.thickness_m = {0.6 * kMm, 0.5 * kMm, 0.3 * kMm, 0.3 * kMm, 0.3 * kMm};
    const SlabSide slab(thin);
    const std::array<sim::CoursePoint, 2> points{
        sim::CoursePoint{"", {0, 0, 0}, sim::in_layer(Layer::smas, 0.5), 1.4 * kMm},
        sim::CoursePoint{"", {20 * kMm, 0, 0}, sim::in_layer(Layer::smas, 0.5), 1.4 * kMm}};
    for (const sim::StructureNode& node : sim::lay_course(slab, points).line) {
        CHECK(-node.position_m.z > node.radius_m);             // skin
        CHECK(2.0 * kMm + node.position_m.z > node.radius_m);  // bone
        CHECK(node.radius_m >= 0.25 * kMm);
    }
}

TEST_CASE("a polyline is told by length, chord and height", "[structures]") {
    const sim::Polyline line({{0, 0, 0}, {30 * kMm, 0, 0}, {30 * kMm, 0, 40 * kMm}});
    CHECK_THAT(line.length_m(), Catch::WithinAbs(70 * kMm, 1e-12));
    CHECK_THAT(line.at(50 * kMm).z, Catch::WithinAbs(20 * kMm, 1e-12));
    CHECK_THAT(line.along_at_chord(50 * kMm), Catch::WithinAbs(70 * kMm, 0.2 * kMm));
    CHECK_THAT(line.along_at_chord(1.0), Catch::WithinAbs(70 * kMm, 1e-12));
    const sim::Polyline::Foot foot = line.nearest_in_plan({33 * kMm, 9 * kMm, 10 * kMm});
    CHECK_THAT(foot.along_m, Catch::WithinAbs(40 * kMm, 1e-12));
    CHECK_THAT(line.height_of_m({33 * kMm, 9 * kMm, 10 * kMm}), Catch::WithinAbs(9 * kMm, 1e-12));
}

TEST_CASE("a ray that meets no skin is refused by place and value", "[structures]") {
    const SlabSide slab;
    CHECK_THROWS_AS(sim::skin_from_front(slab, 0.3, 0.0), sim::InputError);
    CHECK_NOTHROW(sim::skin_from_front(slab, 0.01, 0.02));
}
