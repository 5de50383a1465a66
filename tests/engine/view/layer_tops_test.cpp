#include "engine/view/layer_tops.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "engine/view/scene.hpp"
#include "sim/anatomy/slab.hpp"
#include "tests/support/play.hpp"

using Catch::Matchers::WithinAbs;

namespace {

view::SceneOptions faded(std::array<float, view::kShownLayers> opacity) {
    view::SceneOptions options;
    options.opacity = opacity;
    return options;
}

}  // namespace

TEST_CASE("the top of each layer lies where the anatomy says that the layer begins", "[view][layers]") {
    const auto model = std::make_shared<const sim::Model>(support::slab_model());
    view::Scene scene(model);
    double told = 0.0;
    const view::LayerTops tops =
        view::build_layer_tops(*model->anatomy, scene.surfaces(), [&told](double fraction) { told = fraction; });
    CHECK(told > 0.5);
    for (std::size_t top = 0; top < tops.size(); ++top) {
        REQUIRE(tops[top]);
        CHECK(tops[top]->triangles.size() == scene.surfaces()[0]->triangles.size());
        double worst_mm = 0.0;
        for (const view::ObjectVertex& vertex : tops[top]->vertices) {
            const sim::LayerPoint at = model->anatomy->layers_at(sim::Vec3(vertex.position_mm) * sim::kMm);
            worst_mm = std::max(worst_mm, std::fabs(at.depth_m - at.bottom_m[top]) / sim::kMm);
            CHECK(vertex.normal.z > 0.9f);
        }
        // each is set apart from the next by 0.02 mm
        CHECK(worst_mm < 0.02 * static_cast<double>(top + 1) + 0.002);
    }
}

TEST_CASE("layers that are whole hide what lies under them, faded ones do not", "[view][layers]") {
    const auto model = std::make_shared<const sim::Model>(support::slab_model());
    view::Scene scene(model);
    scene.set_layer_tops(view::build_layer_tops(*model->anatomy, scene.surfaces(), {}));
    const view::Camera camera(scene.work(1.6));
    const sim::State state = sim::initial_state(*model);
    const auto draw = [&](std::array<float, view::kShownLayers> opacity) {
        return scene.draw(state, {}, camera, 1.6, faded(opacity));
    };
    const view::DrawList whole = draw({1, 1, 1, 1, 1, 1});
    CHECK(whole.layer_tops.empty());
    CHECK_FALSE(whole.see_through);
    // skin off: only the fat under it is drawn
    const view::DrawList bare = draw({0, 1, 1, 1, 1, 1});
    CHECK(bare.layer_tops.size() == 1);
    CHECK(bare.see_through);
    CHECK(bare.skin_opacity == 0.0f);
    CHECK(bare.marks.empty());
    // skin half, fat off, SMAS half, deep fat whole: from the deep fat up, the deepest first
    const view::DrawList some = draw({0.42f, 0, 0.42f, 1, 1, 1});
    REQUIRE(some.layer_tops.size() == 2);
    CHECK(some.layer_tops[0].opacity == 1.0f);
    CHECK(some.layer_tops[1].opacity == 0.42f);
    CHECK(some.layer_tops[0].mesh->vertices[0].position_mm.z < some.layer_tops[1].mesh->vertices[0].position_mm.z);
    CHECK(draw({0, 0, 0, 0, 0, 0}).layer_tops.empty());
}

TEST_CASE("kinds of structures are shown each by itself", "[view]") {
    sim::SlabParameters parameters;
    const auto structure = [](sim::StructureKind kind) {
        sim::Structure one;
        one.kind = kind;
        one.name = "structure";
        one.line = {{{0, 0, -0.008}, 0.001}, {{0.02, 0, -0.008}, 0.001}};
        return one;
    };
    for (const auto kind : {sim::StructureKind::artery, sim::StructureKind::vein, sim::StructureKind::nerve,
                            sim::StructureKind::duct, sim::StructureKind::gland})
        parameters.structures.push_back(structure(kind));
    const auto model = std::make_shared<const sim::Model>(support::slab_model(parameters));
    view::Scene scene(model);
    const view::Camera camera(scene.work(1.6));
    const sim::State state = sim::initial_state(*model);
    view::SceneOptions options;
    options.structures = true;
    options.kinds = {false, false, false, false, false};
    CHECK(scene.draw(state, {}, camera, 1.6, options).solids.empty());
    const std::size_t expected[] = {1, 1, 1, 2, 0};  // gland and duct go together; this slab has no ligament
    for (std::size_t i = 0; i < view::kStructureKinds.size(); ++i) {
        options.kinds = {false, false, false, false, false};
        options.kinds.*view::kStructureKinds[i].shown = true;
        INFO(view::kStructureKinds[i].words);
        CHECK(scene.draw(state, {}, camera, 1.6, options).solids.size() == expected[i]);
    }
}
