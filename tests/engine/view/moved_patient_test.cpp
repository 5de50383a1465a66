#include "engine/view/moved_patient.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "engine/view/scene.hpp"
#include "sim/tissue/moved_body.hpp"
#include "tests/support/coarse_tissue.hpp"

using sim::kMm;
using sim::Vec3;

namespace {

sim::fe::TetheredBody& body() { return support::shared_coarse_body(); }
const sim::fe::Settled& lying() { return support::coarse_body_lying(); }

std::shared_ptr<const sim::fe::MovedBody> moved_body() {
    static const auto moved = std::make_shared<const sim::fe::MovedBody>(
        std::make_shared<const sim::fe::ChartLattice>(body().mesh()), lying().displacement_m);
    return moved;
}

/// A sheet of skin over the left lower cheek, 1.5 mm between vertices.
std::shared_ptr<const view::Surface> cheek() {
    constexpr std::uint32_t kSide = 21;
    auto surface = std::make_shared<view::Surface>();
    for (std::uint32_t j = 0; j < kSide; ++j)
        for (std::uint32_t i = 0; i < kSide; ++i) {
            const Vec3 about(0.050 - 0.0015 * i, -0.050 - 0.0015 * j, 0.055 + 0.001 * i);
            const sim::SkinPoint skin = support::tissue_head()->nearest_skin(about);
            view::SurfaceVertex vertex;
            vertex.position_mm = glm::vec3(skin.position_m / kMm);
            vertex.normal = glm::vec3(skin.normal);
            vertex.rest_mm = vertex.position_mm;
            surface->vertices.push_back(vertex);
        }
    for (std::uint32_t j = 0; j + 1 < kSide; ++j)
        for (std::uint32_t i = 0; i + 1 < kSide; ++i) {
            const std::uint32_t a = j * kSide + i;
            for (const std::uint32_t k : {a, a + 1, a + kSide, a + 1, a + kSide + 1, a + kSide})  // seen from outside
                surface->triangles.push_back(k);
        }
    return surface;
}

view::PatientMoves moves_of(const view::Surface& surface) {
    std::vector<Vec3> places;
    for (const auto& vertex : surface.vertices) places.emplace_back(Vec3(vertex.position_mm) * kMm);
    const auto weights = sim::fe::follow_skin(body().mesh(), places, 25.0 * kMm);
    const auto skin = body().settle_skin(sim::fe::lying_down());
    view::PatientMoves out;
    out.body = moved_body();
    out.surfaces_mm.resize(1);
    for (std::size_t i = 0; i < places.size(); ++i)
        out.surfaces_mm[0].emplace_back(weights.moved_m(i, skin.skin_m) / kMm);
    out.surface_turns.push_back(view::turns_of(surface, out.surfaces_mm[0]));
    return out;
}

}  // namespace

TEST_CASE("the skin that is drawn lies where the finite elements put it", "[view][tissue]") {
    const auto rest = cheek();
    const view::PatientMoves moves = moves_of(*rest);
    const view::SceneParts parts{{rest}, {}, {}};
    const auto shown = view::moved_parts(parts, nullptr, &moves, 1.0f).surfaces[0];
    REQUIRE(shown->rest == rest);
    double most_mm = 0.0;
    for (std::size_t i = 0; i < rest->vertices.size(); ++i) {
        const Vec3 place = Vec3(rest->vertices[i].position_mm) * kMm;
        const Vec3 drawn_mm(shown->vertices[i].position_mm - rest->vertices[i].position_mm);
        const Vec3 solved_mm = body().skin_moved_m(lying(), place) / kMm;
        CHECK(glm::length(drawn_mm - solved_mm) < 0.02);
        CHECK(shown->vertices[i].rest_mm == rest->vertices[i].rest_mm);  // paint goes along
        most_mm = std::max(most_mm, glm::length(drawn_mm));
    }
    CHECK(most_mm > 1.0);
    CHECK_THAT(static_cast<double>(shown->moved_most_mm), Catch::Matchers::WithinRel(most_mm, 1e-4));
}

TEST_CASE("half way is half way, and upright is the reference", "[view][tissue]") {
    const auto rest = cheek();
    const view::PatientMoves moves = moves_of(*rest);
    const view::SceneParts parts{{rest}, {nullptr}, {nullptr}};
    const auto half = view::moved_parts(parts, &moves, nullptr, 0.5f).surfaces[0];
    for (std::size_t i = 0; i < rest->vertices.size(); ++i) {
        const glm::vec3 moved = half->vertices[i].position_mm - rest->vertices[i].position_mm;
        CHECK(glm::length(moved - 0.5f * moves.surfaces_mm[0][i]) < 1e-4f);
    }
    CHECK(view::moved_parts(parts, nullptr, nullptr, 1.0f).surfaces[0] == rest);
}

TEST_CASE("normals turn as the surface does", "[view][tissue]") {
    const auto rest = cheek();
    // turned stiffly by a small angle about x: every normal turns by as much
    const float angle = 0.05f;
    std::vector<glm::vec3> moved;
    for (const auto& vertex : rest->vertices) {
        const glm::vec3& p = vertex.position_mm;
        moved.emplace_back(0.0f, p.y * (std::cos(angle) - 1.0f) - p.z * std::sin(angle),
                           p.z * (std::cos(angle) - 1.0f) + p.y * std::sin(angle));
    }
    const std::vector<glm::vec3> turns = view::turns_of(*rest, moved);
    for (std::size_t i = 0; i < turns.size(); ++i) {
        const glm::vec3 expected = glm::cross(glm::vec3(angle, 0.0f, 0.0f), rest->vertices[i].normal);
        CHECK(glm::length(turns[i] - expected) < 0.01f);
    }
}

TEST_CASE("asked in space, the anatomy answers for what has come there", "[view][tissue]") {
    const std::shared_ptr<const sim::Head> head = support::tissue_head();
    const view::MovedAnatomy moved(head, moved_body());
    REQUIRE(moved.structures().size() == head->structures().size());
    for (const double depth_mm : {0.5, 2.0, 6.0}) {
        const sim::SkinPoint skin = head->nearest_skin({0.045, -0.060, 0.060});
        const Vec3 rest = skin.position_m - depth_mm * kMm * skin.normal;
        const Vec3 now = rest + moved_body()->moved_m(rest);
        CHECK(std::abs(moved.layers_at(now).depth_m - head->layers_at(rest).depth_m) < 0.03 * kMm);
        CHECK(std::abs(head->layers_at(now).depth_m - head->layers_at(rest).depth_m) > 0.03 * kMm);
    }
}

TEST_CASE("a click on skin that has moved finds what lies there at rest", "[view][tissue]") {
    const std::shared_ptr<const sim::Head> head = support::tissue_head();
    const view::MovedAnatomy moved(head, moved_body());
    const sim::SkinPoint mark = head->nearest_skin({0.045, -0.060, 0.060});
    const Vec3 now = mark.position_m + moved_body()->moved_m(mark.position_m);
    const Vec3 eye = now + 0.3 * mark.normal;
    const auto rest = moved.ray_to_rest(eye, -mark.normal);
    REQUIRE(rest);
    CHECK(glm::length(rest->position_m - mark.position_m) < 0.05 * kMm);
    const auto seen = moved.ray_to_skin(eye, -mark.normal);
    REQUIRE(seen);
    CHECK(glm::length(seen->position_m - now) < 0.05 * kMm);
    CHECK(glm::length(now - mark.position_m) > 1.0 * kMm);
}

TEST_CASE("with the head turned, what lies in the neck goes round, and a click finds it", "[view][tissue][turn]") {
    const std::shared_ptr<const sim::Head> head = support::tissue_head();
    const double turn_rad = GENERATE(-0.25, 0.25) * sim::kPi;
    const sim::fe::NeckTurn round{body().neck(), turn_rad};
    const auto turned = std::make_shared<const sim::fe::MovedBody>(
        std::make_shared<const sim::fe::ChartLattice>(body().mesh()), lying().displacement_m, round);
    const view::MovedAnatomy moved(head, turned);

    int of_neck = 0;
    for (std::size_t i = 0; i < head->structures().size(); ++i) {
        const auto& rest = head->structures()[i].line;
        const auto& now = moved.structures()[i].line;
        for (std::size_t k = 0; k < rest.size(); ++k) {
            if (rest[k].position_m.y > round.neck.top_m - 40.0 * kMm) continue;
            ++of_neck;
            const Vec3 gone = rest[k].position_m + round.moved_m(rest[k].position_m);
            CHECK(glm::length(now[k].position_m - gone) < 10.0 * kMm);  // and what lying down does
            CHECK(glm::length(turned->rest_of(now[k].position_m) - rest[k].position_m) < 0.05 * kMm);
        }
    }
    CHECK(of_neck > 5);  // the external jugular vein among them

    int clicks = 0, worst_um = 0;
    for (double down_m = -0.02; down_m < 0.05; down_m += 0.01)
        for (double left_m = -0.04; left_m < 0.045; left_m += 0.02) {
            const sim::SkinPoint mark = head->nearest_skin({left_m, round.neck.top_m - down_m, 0.10});
            const Vec3 now = mark.position_m + turned->moved_m(mark.position_m);
            const Vec3 normal = turned->turned(mark.position_m, mark.normal);
            // seen from outside where nothing else stands before it
            const auto at_rest = head->ray_to_skin(mark.position_m + 0.1 * mark.normal, -mark.normal);
            if (!at_rest || glm::length(at_rest->position_m - mark.position_m) > 0.1 * kMm) continue;
            const auto found = moved.ray_to_rest(now + 0.1 * normal, -normal);
            INFO("mark " << mark.position_m.x << " " << mark.position_m.y << " " << mark.position_m.z);
            REQUIRE(found);
            CHECK(glm::length(found->position_m - mark.position_m) < 0.2 * kMm);
            ++clicks;
            worst_um = std::max(worst_um, static_cast<int>(1e6 * glm::length(found->position_m - mark.position_m)));
            const auto near = moved.nearest_skin(now);
            CHECK(glm::dot(near.normal, normal) > 0.999);
        }
    INFO("worst of " << clicks << ": " << worst_um << " um");
    CHECK(clicks > 20);
}
