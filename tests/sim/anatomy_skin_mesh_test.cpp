#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include <glm/geometric.hpp>

#include "sim/anatomy/skin_mesh.hpp"
#include "tests/support/patients.hpp"

using namespace sim;

namespace {

constexpr double kMostFlipped = 0.0005;  ///< of all triangles

const SkinTemplate& lean_template() {
    static const SkinTemplate from = build_skin_template(MeshDetail::lean, in_order);
    return from;
}

SkinMesh bare_mesh(const SkinField& field) {
    static const OcclusionGrid open([](const glm::vec3&) { return 100.0f; }, glm::vec3(-1.0f), glm::vec3(1.0f), 1.0f,
                                    in_order);
    return build_skin_mesh(field, lean_template(), open, {}, in_order);
}

/// Every edge is walked as often one way as the other.
bool is_closed(const std::vector<std::uint32_t>& triangles) {
    std::multiset<std::pair<std::uint32_t, std::uint32_t>> there, back;
    for (std::size_t t = 0; t < triangles.size(); t += 3) {
        for (std::size_t k = 0; k < 3; ++k) {
            const std::uint32_t a = triangles[t + k];
            const std::uint32_t b = triangles[t + (k + 1) % 3];
            there.emplace(a, b);
            back.emplace(b, a);
        }
    }
    return there == back;
}

}  // namespace

TEST_CASE("the template is closed, of the promised size, and shared by all patients", "[sim][skin]") {
    const SkinTemplate& from = lean_template();
    const std::size_t triangles = from.mesh.triangles.size() / 3;
    INFO(triangles << " triangles");
    CHECK(triangles > 45000);
    CHECK(triangles < 75000);
    CHECK(is_closed(from.mesh.triangles));
    auto broken = from.mesh.triangles;
    broken.resize(broken.size() - 3);
    CHECK_FALSE(is_closed(broken));
}

TEST_CASE("each patient's skin lies on the field and does not fold over", "[sim][skin]") {
    for (const auto& [name, head] : support::patients()) {
        INFO(name);
        const SkinField field(head);
        const SkinMesh mesh = bare_mesh(field);
        CHECK(mesh.triangles == lean_template().mesh.triangles);
        CHECK(static_cast<double>(mesh.flipped) <= kMostFlipped * static_cast<double>(mesh.triangles.size() / 3));
        std::size_t off = 0;
        float worst = 0.0f;
        for (const SkinVertex& v : mesh.vertices) {
            const float d = std::fabs(field.value_mm(v.position_mm));
            worst = std::max(worst, d);
            if (d > 0.1f) ++off;
            REQUIRE(std::fabs(glm::length(v.normal) - 1.0f) < 1e-3f);
        }
        INFO("worst " << worst << " mm, flipped " << mesh.flipped << " of " << mesh.triangles.size() / 3);
        CHECK(static_cast<double>(off) < 0.001 * static_cast<double>(mesh.vertices.size()));
        CHECK(worst < 1.0f);
    }
}

TEST_CASE("the skin mesh does not depend on the order of the work", "[sim][skin]") {
    const SkinField field(support::maren());
    const auto backwards = [](int n, const std::function<void(int)>& body) {
        for (int i = n - 1; i >= 0; --i) body(i);
    };
    const OcclusionGrid scene([&](const glm::vec3& p) { return field.value_mm(p); }, field.low_mm(), field.high_mm(),
                              12.0f, in_order);
    const SkinMesh a = build_skin_mesh(field, lean_template(), scene, {}, in_order);
    const SkinMesh b = build_skin_mesh(field, lean_template(), scene, {}, backwards);
    REQUIRE(a.vertices.size() == b.vertices.size());
    const bool same = std::equal(
        a.vertices.begin(), a.vertices.end(), b.vertices.begin(), [](const SkinVertex& u, const SkinVertex& v) {
            return u.position_mm == v.position_mm && u.normal == v.normal && u.ambient == v.ambient;
        });
    CHECK(same);
}

TEST_CASE("with no asymmetry, exchanging left and right mirrors where skin lies", "[sim][skin]") {
    HeadParameters head = support::maren();
    head.asymmetry = 0.0;
    const SkinMesh mesh = bare_mesh(SkinField(head));
    const SkinField mirror(mirrored(head));
    const SkinField same(head);
    float worst = 0.0f;
    float worst_unmirrored = 0.0f;
    for (const SkinVertex& v : mesh.vertices) {
        const glm::vec3 p(-v.position_mm.x, v.position_mm.y, v.position_mm.z);
        worst = std::max(worst, std::fabs(mirror.value_mm(p) - same.value_mm(v.position_mm)));
        worst_unmirrored = std::max(worst_unmirrored, std::fabs(same.value_mm(p)));
    }
    CHECK(worst < 1e-3f);
    CHECK(worst_unmirrored > 0.2f);  // the sides do differ
}
