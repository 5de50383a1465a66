#include "engine/view/scene.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "engine/view/cutaway.hpp"
#include "sim/anatomy/slab.hpp"
#include "tests/support/play.hpp"

using Catch::Matchers::WithinAbs;

TEST_CASE("the layer coordinate has no jumps and counts the layers", "[view]") {
    const sim::Slab slab({});  // bottoms at 1.5, 6, 7, 10 and 15 mm
    const auto at = [&slab](double depth_mm) {
        return static_cast<double>(view::layer_coordinate(slab.layers_at({0, 0, -depth_mm * sim::kMm})));
    };
    CHECK(at(-0.5) < 0.0);
    CHECK_THAT(at(0.75), WithinAbs(0.5, 1e-6));
    CHECK_THAT(at(3.75), WithinAbs(1.5, 1e-6));
    CHECK_THAT(at(6.5), WithinAbs(2.5, 1e-6));
    CHECK(at(16.0) > 5.0);
    for (double depth_mm = -1.0; depth_mm < 18.0; depth_mm += 0.01)
        CHECK_THAT(at(depth_mm + 0.01) - at(depth_mm), WithinAbs(0.01, 0.011));
}

TEST_CASE("a click on the drawn block finds the skin, beside it nothing", "[view]") {
    const auto model = std::make_shared<const sim::Model>(support::slab_model());
    const view::Scene scene(model);
    const auto hit = scene.pick({{0.01, 0.005, 0.2}, {0, 0, -1}});
    REQUIRE(hit);
    CHECK_THAT(hit->position_m.x, WithinAbs(0.01, 1e-12));
    CHECK_THAT(hit->position_m.z, WithinAbs(0.0, 1e-12));
    CHECK_FALSE(scene.pick({{0.01, 0.09, 0.2}, {0, 0, -1}}));  // on the slab, beyond the part that is drawn
}

TEST_CASE("the cut-away opens with the cannula in the tissue and closes without", "[view]") {
    support::Play play(support::slab_model());
    support::open_entry(play);
    play.command({sim::Verb::take, {1}});
    play.command({sim::Verb::aim, {0, 25'000}});
    view::Scene scene(std::make_shared<const sim::Model>(play.model));
    const view::Camera camera(scene.work(1.6));
    CHECK_FALSE(scene.draw(play.state, {}, camera, 1.6, {}).cut);
    play.push_mm(10.0);
    REQUIRE(play.state.inserted_m > 5.0 * sim::kMm);
    const view::DrawList open = scene.draw(play.state, {}, camera, 1.6, {});
    REQUIRE(open.cut);
    REQUIRE(open.faces.size() == 2);
    // the far wall carries the shaft: it holds skin, fat and what lies below
    const view::LayerFace& wall = open.faces[1]->front();
    float least = 9.0f, most = -9.0f;
    for (const glm::vec4& sample : wall.layer) {
        least = std::min(least, sample.x);
        most = std::max(most, sample.x);
    }
    CHECK(least < 0.0f);
    CHECK(most > 4.0f);
    view::SceneOptions closed;
    closed.cutaway = false;
    CHECK_FALSE(scene.draw(play.state, {}, camera, 1.6, closed).cut);
}

TEST_CASE("the cut's wall carries a bent shaft, and its layers are named", "[view]") {
    const auto anatomy = std::make_shared<const sim::Slab>(sim::SlabParameters{});
    view::Cutaway cutaway(anatomy, std::nullopt);
    // 40 mm long, bowed to the side by 3 mm in the middle, 4 mm deep
    std::vector<sim::Vec3> shaft;
    for (int i = 0; i <= 20; ++i) {
        const double share = i / 20.0;
        shaft.emplace_back(0.04 * share, 0.003 * std::sin(sim::kPi * share), -0.004);
    }
    cutaway.follow(shaft, 0.0004, {0.02, -0.3, 0.3});
    REQUIRE(cutaway.box());
    const view::CutBox& box = *cutaway.box();
    const view::LayerFace& wall = cutaway.faces()->front();
    REQUIRE(wall.rise_mm.size() == static_cast<std::size_t>(wall.columns));
    for (const sim::Vec3& p_m : shaft) {
        const glm::vec3 from_origin = glm::vec3(p_m) * 1000.0f - wall.origin_mm;
        const float share = glm::dot(from_origin, wall.edge_u_mm) / glm::dot(wall.edge_u_mm, wall.edge_u_mm);
        const auto column = static_cast<std::size_t>(std::lround(share * static_cast<float>(wall.columns - 1)));
        // the shaft lies its own radius before the wall; a column is 0.55 mm wide and the bow leans by up to 0.24
        CHECK_THAT(static_cast<double>(glm::dot(from_origin, wall.normal) - wall.rise_mm[column]),
                   WithinAbs(0.4, 0.15));
    }
    CHECK_THAT(static_cast<double>(box.bend_mm()), WithinAbs(3.0 * static_cast<double>(std::fabs(box.axes[2].y)), 0.1));
    REQUIRE(cutaway.labels().size() == 5);  // the slab's layers are 1.5, 4.5, 1, 3 and 5 mm thick
    CHECK(cutaway.labels()[1].name == "superficial fat");
}
