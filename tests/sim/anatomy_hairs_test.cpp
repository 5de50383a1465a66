#include <catch2/catch.hpp>

#include <cstring>

#include <glm/geometric.hpp>

#include "sim/anatomy/hairs.hpp"
#include "sim/anatomy/skin_texture.hpp"
#include "tests/support/patients.hpp"

using namespace sim;

namespace {

struct Strand {
    glm::vec3 root{}, tip{};
    HairKind kind{};
};

/// Strips share no vertex: a strip ends where a triangle's last corner is not the next one's.
std::vector<Strand> strands(const HairMesh& mesh) {
    std::vector<Strand> out;
    std::size_t first = 0;
    for (std::size_t t = 0; t < mesh.triangles.size(); t += 3) {
        const std::uint32_t last = mesh.triangles[t + 2];
        const bool ends = t + 3 == mesh.triangles.size() || mesh.triangles[t + 3] > last;
        if (!ends) continue;
        const HairVertex &a = mesh.vertices[first], &b = mesh.vertices[first + 1];
        out.push_back({0.5f * (a.position_mm + b.position_mm), mesh.vertices[last].position_mm, a.kind});
        first = last + 1;
    }
    return out;
}

float mean_lash_mm(const HairMesh& mesh) {
    float sum = 0.0f;
    int count = 0;
    for (const Strand& s : strands(mesh)) {
        if (s.kind != HairKind::lash) continue;
        sum += glm::distance(s.root, s.tip);
        ++count;
    }
    REQUIRE(count > 0);
    return sum / static_cast<float>(count);
}

}  // namespace

TEST_CASE("lashes and brow hairs stand on the skin, within what a frame can spare", "[sim][skin]") {
    for (const auto& [name, head] : support::patients()) {
        INFO(name);
        const SkinField skin(head);
        const HairMesh mesh = build_hairs(skin);
        CHECK(mesh.triangles.size() / 3 <= kMostHairTriangles);
        int lashes = 0, brows = 0, off = 0, sunk = 0, asunder = 0;
        for (const Strand& s : strands(mesh)) {
            ++(s.kind == HairKind::lash ? lashes : brows);
            // roots are set 0.1 mm deep, brows on the surface; the field is a distance to a fifth there
            if (std::abs(skin.value_mm(s.root)) > 0.3f) ++off;
            if (skin.value_mm(s.tip) < 0.0f) ++sunk;
            if (glm::distance(s.root, s.tip) > 9.0f) ++asunder;
        }
        CHECK(lashes > 100);
        CHECK(brows > 60);
        CHECK(off == 0);
        CHECK(sunk == 0);
        CHECK(asunder == 0);
    }
}

TEST_CASE("hairs are the same bits for the same head and others for another", "[sim][skin]") {
    const auto same = [](const HairMesh& a, const HairMesh& b) {
        if (a.vertices.size() != b.vertices.size() || a.triangles != b.triangles) return false;
        for (std::size_t i = 0; i < a.vertices.size(); ++i)
            if (a.vertices[i].position_mm != b.vertices[i].position_mm) return false;
        return true;
    };
    const HairMesh once = build_hairs(SkinField(support::ilva()));
    CHECK(same(once, build_hairs(SkinField(support::ilva()))));
    HeadParameters other = support::ilva();
    other.asymmetry_seed += 1;
    CHECK_FALSE(same(once, build_hairs(SkinField(other))));
}

TEST_CASE("a man's lashes are shorter than a woman's", "[sim][skin]") {
    HeadParameters woman = support::ilva(), man = support::ilva();
    man.male = 1.0;
    CHECK(mean_lash_mm(build_hairs(SkinField(man))) < mean_lash_mm(build_hairs(SkinField(woman))) - 0.5f);
}

TEST_CASE("brow hairs lie on the picture of the face and turn grey with age", "[sim][skin]") {
    const auto grey = [](double age_years) {
        HeadParameters head = support::maren();
        head.age_years = age_years;
        const SkinField skin(head);
        Random random(1);
        int count = 0;
        for (const BrowHair& hair : brow_hairs(skin.form(), random)) {
            count += hair.grey ? 1 : 0;
            CHECK(hair.to.x > PaintWindow::kLowX);
            CHECK(hair.to.x < PaintWindow::kLowX + PaintWindow::kSide);
            CHECK(hair.to.y < PaintWindow::kLowY + PaintWindow::kSide);
        }
        return count;
    };
    CHECK(grey(35.0) == 0);
    CHECK(grey(68.0) > 40);
}
