#include <algorithm>
#include <catch2/catch.hpp>
#include <span>

#include <glm/geometric.hpp>

#include "sim/anatomy/dressing.hpp"
#include "tests/support/patients.hpp"

using namespace sim;

TEST_CASE("cloth leaves the face bare and covers crown and chest", "[sim][skin]") {
    for (const auto& [name, head] : support::patients()) {
        INFO(name);
        const Dressing dressing{SkinField(head)};
        const auto covered = [&](const glm::vec3& p) {
            return std::min({dressing.cap_mm(p), dressing.drape_mm(p), dressing.pillow_mm(p)}) < 0.0f;
        };
        for (const glm::vec3& bare :
             {glm::vec3(0, -15, 112), glm::vec3(35, -20, 75), glm::vec3(-45, -55, 45), glm::vec3(0, -110, 45)}) {
            INFO(bare.x << " " << bare.y << " " << bare.z);
            CHECK_FALSE(covered(bare));
        }
        CHECK(covered({0, 128, 0}));
        CHECK(covered({0, -250, 50}));
        CHECK(dressing.scene_mm({0, 128, 0}) < 0.0f);
    }
}

TEST_CASE("a patient's meshes report their progress and turn outwards", "[sim][skin]") {
    const Dressing dressing{SkinField(support::ilva())};
    const OcclusionGrid scene = scene_grid(dressing, in_order);
    const SkinTemplate from = build_skin_template(MeshDetail::lean, in_order);
    double last = 0.0;
    bool rises = true;
    PatientMeshes meshes = build_patient_meshes(
        dressing, from, scene,
        [&](double f) {
            rises = rises && f >= last && f <= 1.0;
            last = f;
        },
        in_order);
    CHECK(rises);
    CHECK(last == 1.0);
    for (const ClothMesh* cloth : {&meshes.cap, &meshes.drape, &meshes.pillow}) {
        REQUIRE(cloth->triangles.size() > 3000);
        std::size_t against = 0;
        for (std::size_t t = 0; t < cloth->triangles.size(); t += 3) {
            const ClothVertex& a = cloth->vertices[cloth->triangles[t]];
            const ClothVertex& b = cloth->vertices[cloth->triangles[t + 1]];
            const ClothVertex& c = cloth->vertices[cloth->triangles[t + 2]];
            const glm::vec3 facing = glm::cross(b.position_mm - a.position_mm, c.position_mm - a.position_mm);
            if (glm::dot(facing, a.normal + b.normal + c.normal) < 0.0f) ++against;
        }
        CHECK(against * 200 < cloth->triangles.size() / 3);
    }

    // what is left out lies in another solid, and of the bare face nothing is
    const std::vector<std::uint32_t> whole = meshes.skin.triangles;
    const std::size_t cap_triangles = meshes.cap.triangles.size();
    drop_buried(meshes, dressing, in_order);
    CHECK(meshes.skin.triangles.size() < whole.size());
    CHECK(meshes.cap.triangles.size() < cap_triangles);
    const auto hidden = [&](std::uint32_t i) {
        const glm::vec3& p = meshes.skin.vertices[i].position_mm;
        return std::min({dressing.cap_mm(p), dressing.drape_mm(p), dressing.pillow_mm(p)}) < 0.0f;
    };
    std::size_t next = 0, wrongly_dropped = 0;
    for (std::size_t t = 0; t < whole.size(); t += 3) {
        const auto corners = std::span(whole).subspan(t, 3);
        if (next < meshes.skin.triangles.size() &&
            std::equal(corners.begin(), corners.end(), &meshes.skin.triangles[next])) {
            next += 3;
            continue;
        }
        if (!std::all_of(corners.begin(), corners.end(), hidden)) ++wrongly_dropped;
    }
    CHECK(next == meshes.skin.triangles.size());  // the rest, in its order
    CHECK(wrongly_dropped == 0);
}
