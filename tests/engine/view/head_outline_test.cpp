#include "engine/view/head_outline.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "sim/anatomy/slab.hpp"
#include "tests/support/heads.hpp"

using Catch::Matchers::WithinAbs;
using sim::kMm;
using view::MapView;

TEST_CASE("a map shows left, up and forward where a viewer sees them", "[view]") {
    const sim::Vec3 p_m{10.0 * kMm, 20.0 * kMm, 30.0 * kMm};  // left, up, forward
    // the patient's left is to the right of who looks at the face
    CHECK(view::on_map(MapView::front, p_m) == glm::dvec2(10.0, 20.0));
    // seen from the left a face looks to the left
    CHECK(view::on_map(MapView::left, p_m) == glm::dvec2(-30.0, 20.0));
    CHECK(view::on_map(MapView::right, p_m) == glm::dvec2(30.0, 20.0));
}

TEST_CASE("flat tissue has no outline", "[view]") {
    const view::HeadOutline outline = view::head_outline(sim::Slab({}));
    for (const view::HeadOutline::View& one : outline.views) CHECK(one.outline_mm.empty());
}

TEST_CASE("the outline of a head holds its landmarks and is as wide as the head", "[view]") {
    const sim::Head anatomy({std::shared_ptr<const sim::HeadTissue>{}, &support::patient_tissue(0)}, {}, {},
                            sim::depth_landmarks(support::patient_tissue(0)));
    const view::HeadOutline outline = view::head_outline(anatomy);
    const auto landmark = [&](std::string_view name, sim::Side side) {
        for (const sim::Landmark& one : anatomy.landmarks())
            if (one.name == name && one.side == side) return one.skin.position_m;
        FAIL("no landmark " << name);
        return sim::Vec3{};
    };
    // a row of the outline at this height: its ends
    const auto ends = [&](MapView view, double up_mm) {
        double low = 1e9, high = -1e9;
        for (const auto& line : outline.views[static_cast<std::size_t>(view)].outline_mm)
            for (const glm::dvec2& p : line)
                if (std::fabs(p.y - up_mm) <= 1.6) low = std::min(low, p.x), high = std::max(high, p.x);
        return glm::dvec2(low, high);
    };
    const sim::Vec3 zygion = landmark("zygion", sim::Side::left);
    const glm::dvec2 front = ends(MapView::front, zygion.y / kMm);
    CHECK(front.y >= zygion.x / kMm - 0.5);
    CHECK(front.y <= zygion.x / kMm + 25.0);  // an ear stands out further
    // the point of the chin is the foremost there, from either side
    const sim::Vec3 chin = landmark("pogonion", sim::Side::midline);
    CHECK_THAT(ends(MapView::left, chin.y / kMm).x, WithinAbs(-chin.z / kMm, 1.5));
    CHECK_THAT(ends(MapView::right, chin.y / kMm).y, WithinAbs(chin.z / kMm, 1.5));
    for (const view::HeadOutline::View& one : outline.views) CHECK(one.features_mm.size() >= 5);
}
