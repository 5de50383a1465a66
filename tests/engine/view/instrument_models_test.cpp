#include "engine/view/instrument_models.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <glm/geometric.hpp>

#include "engine/view/shapes.hpp"
#include "sim/instruments/gauge.hpp"

using Catch::Matchers::WithinAbs;

namespace {

sim::InstrumentSpec spec(sim::TipShape tip, int gauge, double length_mm) {
    sim::InstrumentSpec out;
    out.tip = tip;
    out.gauge = gauge;
    out.length_m = length_mm * sim::kMm;
    return out;
}

/// A tip that is one triangle with a corner at the very end, and a hub that is another.
view::InstrumentModel model(sim::TipShape tip, int gauge, float length_mm) {
    view::InstrumentModel out{tip, gauge, length_mm, -20.0f, length_mm - 4.0f, {}};
    const float r = static_cast<float>(sim::gauge(gauge).radius_m()) * 1000.0f;
    const std::vector<glm::vec3> normals(3, glm::vec3(-1, 0, 0));
    // seen from -x: y up, z to the right
    out.parts.push_back({view::ModelRole::hub, {{0, -3, -20}, {0, 0, 0}, {0, 3, -20}}, normals, {0, 1, 2}});
    out.parts.push_back({view::ModelRole::tip,
                         {{0, -r, length_mm - 4}, {0, -r, length_mm}, {0, r, length_mm - 4}},
                         normals,
                         {0, 1, 2}});
    return out;
}

view::InstrumentModels some_models() {
    view::InstrumentModels out;
    out.shafts = {model(sim::TipShape::bevel, 18, 40.0f), model(sim::TipShape::blunt, 21, 70.0f),
                  model(sim::TipShape::blunt, 21, 90.0f), model(sim::TipShape::blunt, 25, 50.0f)};
    return out;
}

}  // namespace

TEST_CASE("the model of an instrument has its tip, then its gauge, then its length", "[view][instruments]") {
    const view::InstrumentModels models = some_models();
    const auto nearest = [&](sim::TipShape tip, int gauge, double length_mm) {
        const view::InstrumentModel* found = models.nearest(spec(tip, gauge, length_mm));
        return found == nullptr ? -1L : static_cast<long>(found - models.shafts.data());
    };
    CHECK(nearest(sim::TipShape::bevel, 25, 90) == 0);
    CHECK(nearest(sim::TipShape::blunt, 21, 70) == 1);
    CHECK(nearest(sim::TipShape::blunt, 21, 85) == 2);
    CHECK(nearest(sim::TipShape::blunt, 27, 70) == 3);
    CHECK(view::InstrumentModels{}.nearest(spec(sim::TipShape::blunt, 21, 70)) == nullptr);
}

TEST_CASE("an instrument ends where its simulated shaft ends, at the thickness of its gauge", "[view][instruments]") {
    // straight, then bent; from the hub to the tip
    const std::vector<sim::Vec3> shaft{{0, 0, 0}, {0.04, 0, 0}, {0.06, 0, -0.001}, {0.07, 0, -0.003}};
    for (const bool with_models : {true, false}) {
        const view::InstrumentModels models = with_models ? some_models() : view::InstrumentModels{};
        for (const int gauge : {18, 25})
            for (const sim::TipShape tip : {sim::TipShape::bevel, sim::TipShape::blunt}) {
                view::ObjectMesh mesh;
                view::append_instrument(mesh, spec(tip, gauge, 72.5), shaft, {0, 0, 1}, models);
                INFO("models " << with_models << ", " << gauge << " G");
                float reach = -1e9f, widest = 0.0f;
                const glm::vec3 end(glm::vec3(shaft[3]) * 1000.0f);
                const glm::vec3 axis = glm::normalize(glm::vec3(shaft[3] - shaft[2]));
                for (const view::ObjectVertex& v : mesh.vertices) {
                    reach = std::max(reach, glm::dot(v.position_mm - end, axis));
                    // in the straight part, well before the tip
                    if (v.position_mm.x > 20.0f && v.position_mm.x < 41.0f)
                        widest = std::max(widest, std::hypot(v.position_mm.y, v.position_mm.z));
                }
                CHECK_THAT(static_cast<double>(reach), WithinAbs(0.0, 0.03));
                CHECK_THAT(static_cast<double>(widest), WithinAbs(1e3 * sim::gauge(gauge).radius_m(), 0.02));
            }
    }
}

TEST_CASE("a bevel opens to the side that is up, and the hub has its gauge's colour", "[view][instruments]") {
    const std::vector<sim::Vec3> shaft{{0, 0, 0}, {0.04, 0, 0}};
    view::ObjectMesh mesh;
    view::append_instrument(mesh, spec(sim::TipShape::bevel, 18, 40), shaft, {0, 0, 1}, some_models());
    // the tip's last corner lies at the model's -y, which is away from up
    const auto last = std::max_element(mesh.vertices.begin(), mesh.vertices.end(),
                                       [](const auto& a, const auto& b) { return a.position_mm.x < b.position_mm.x; });
    CHECK(last->position_mm.z < -0.5f);
    const glm::vec3 pink = view::linear(view::hub_colour(18));
    CHECK(std::any_of(mesh.vertices.begin(), mesh.vertices.end(),
                      [&](const auto& v) { return v.position_mm.x < -1.0f && glm::distance(v.colour, pink) < 1e-6f; }));
}

TEST_CASE("from the side an instrument is as long as it is, and what is inside is not outlined",
          "[view][instruments]") {
    const view::InstrumentModels models = some_models();
    const view::SidePicture picture = view::side_picture(models, spec(sim::TipShape::blunt, 21, 85), false);
    CHECK(picture.triangles.size() == 2);
    CHECK_THAT(static_cast<double>(picture.from_mm), WithinAbs(-20.0, 1e-4));
    CHECK_THAT(static_cast<double>(picture.to_mm), WithinAbs(85.0, 1e-4));
    CHECK(picture.outline.size() == 6);

    view::InstrumentModels covered = models;
    // a small triangle behind the hub's, and one before it
    const std::vector<glm::vec3> normals(3, glm::vec3(-1, 0, 0));
    for (const float x : {1.0f, -1.0f})
        covered.shafts[2].parts.push_back(
            {view::ModelRole::hub, {{x, -1, -18}, {x, 0, -15}, {x, 1, -18}}, normals, {0, 1, 2}});
    const view::SidePicture both = view::side_picture(covered, spec(sim::TipShape::blunt, 21, 85), false);
    CHECK(both.triangles.size() == 4);
    CHECK(both.outline.size() == 9);
    CHECK(view::side_picture({}, spec(sim::TipShape::blunt, 21, 70), true).triangles.size() > 20);
}
