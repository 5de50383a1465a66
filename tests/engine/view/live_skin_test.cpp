#include "engine/view/live_skin.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <glm/geometric.hpp>

#include "engine/view/moved_patient.hpp"
#include "sim/tissue/tip_detail.hpp"
#include "tests/support/coarse_tissue.hpp"

using sim::kMm;
using sim::Vec3;

namespace {

const sim::fe::HexMesh& mesh() { return support::shared_coarse_body().mesh(); }

/// A sheet of skin over the left cheek, 1.5 mm between vertices, and a place far from it.
view::Surface cheek() {
    constexpr std::uint32_t kSide = 25;
    view::Surface surface;
    const auto add = [&surface](const Vec3& about) {
        const sim::SkinPoint skin = support::tissue_head()->nearest_skin(about);
        view::SurfaceVertex& vertex = surface.vertices.emplace_back();
        vertex.position_mm = glm::vec3(skin.position_m / kMm);
        vertex.normal = glm::vec3(skin.normal);
    };
    for (std::uint32_t j = 0; j < kSide; ++j)
        for (std::uint32_t i = 0; i < kSide; ++i) add({0.062 - 0.0015 * i, -0.040 - 0.0015 * j, 0.040 + 0.001 * i});
    for (std::uint32_t j = 0; j + 1 < kSide; ++j)
        for (std::uint32_t i = 0; i + 1 < kSide; ++i) {
            const std::uint32_t a = j * kSide + i;
            for (const std::uint32_t k : {a, a + 1, a + kSide, a + 1, a + kSide + 1, a + kSide})
                surface.triangles.push_back(k);
        }
    add({-0.062, -0.040, 0.040});
    return surface;
}

}  // namespace

TEST_CASE("vertices follow the skin under a lifted tip, and their normals lean away from its top", "[view][tissue]") {
    const view::Surface surface = cheek();
    std::vector<Vec3> places;
    for (const auto& vertex : surface.vertices) places.emplace_back(Vec3(vertex.position_mm) * kMm);
    const std::vector<sim::fe::FollowWeights> weights{sim::fe::follow_skin(mesh(), places, 25.0 * kMm)};
    const Vec3 under = sim::walk_in(*support::tissue_head(),
                                    support::tissue_head()->nearest_skin(places[std::size_t{25} * 12 + 12]), 3.0 * kMm);
    const auto tip = sim::fe::locate(mesh(), under);
    REQUIRE(tip);
    const Vec3 outward = -support::tissue_head()->inward_at(under);
    sim::fe::TipResponse blocks(mesh());
    for (auto& block : solve_tip_blocks(mesh(), support::shared_coarse_body().response(), blocks.nodes_of(*tip)))
        blocks.keep(std::move(block));
    Eigen::VectorXd skin_m;
    REQUIRE(blocks.skin_m(*tip, 0.8 * outward, skin_m));

    view::SkinFollower follower(mesh(), weights);
    const auto moves = follower.moves(skin_m.cast<float>());
    REQUIRE(moves.size() == 1);
    REQUIRE(moves[0]);
    const view::VertexMoves& moved = *moves[0];
    CHECK(std::is_sorted(moved.vertex.begin(), moved.vertex.end()));

    std::vector<glm::vec3> all(places.size(), glm::vec3(0.0f));
    float most_mm = 0.0f;
    for (std::size_t k = 0; k < moved.vertex.size(); ++k) {
        const std::uint32_t v = moved.vertex[k];
        all[v] = moved.move_mm[k];
        most_mm = std::max(most_mm, glm::length(all[v]));
        const glm::vec3 solved(weights[0].moved_m(v, skin_m) / kMm);
        if (glm::length(solved) > 0.5f) CHECK(glm::length(all[v] - solved) < 0.01f * glm::length(solved));
    }
    CHECK(most_mm > 1.5f);
    CHECK(glm::length(all.back()) < 0.2f * most_mm);  // the other cheek: 0.12, a stiff skin takes it along
    CHECK(moved.most_mm == most_mm);

    // against normals from the triangles themselves
    const std::vector<glm::vec3> turns = view::turns_of(surface, all);
    double off = 0.0, size = 0.0;
    for (std::size_t k = 0; k < moved.vertex.size(); ++k) {
        const std::uint32_t v = moved.vertex[k];
        if (v % 25 < 3 || v % 25 > 21 || v < 75 || v > 25 * 22) continue;  // by the sheet's edge triangles are lacking
        off += static_cast<double>(glm::dot(moved.turn[k] - turns[v], moved.turn[k] - turns[v]));
        size += static_cast<double>(glm::dot(turns[v], turns[v]));
    }
    INFO("turns differ by " << std::sqrt(off / size) << " of their size");
    CHECK(off < 0.25 * size);

    // with what finer cells add
    sim::fe::TipDetails details(mesh());
    sim::fe::TipDetailSolver solver(mesh(), support::shared_coarse_body().body(),
                                    support::shared_coarse_body().response());
    for (const auto& cell : details.missing(std::vector{*tip}, 8)) details.keep(solver.detail(cell));
    Eigen::VectorXf detail_m = Eigen::VectorXf::Zero(3 * details.grid().nodes());
    REQUIRE(details.add({*tip, 0.8 * outward}, detail_m));
    const auto finer = follower.moves(skin_m.cast<float>(), detail_m);
    REQUIRE(finer[0]);
    REQUIRE(finer[0]->vertex == moved.vertex);
    double added = 0.0;
    std::vector<glm::vec3> all_finer(places.size(), glm::vec3(0.0f));
    for (std::size_t k = 0; k < moved.vertex.size(); ++k) {
        const std::uint32_t v = moved.vertex[k];
        all_finer[v] = finer[0]->move_mm[k];
        const auto at = sim::fe::locate(mesh(), places[v]);
        REQUIRE(at);
        const glm::vec3 right(read_fine(mesh().chart, detail_m, at->s_m, at->t_m) / kMm);
        CHECK(glm::length(finer[0]->move_mm[k] - moved.move_mm[k] - right) < 0.02f);
        added = std::max(added, static_cast<double>(glm::length(right)));
    }
    CHECK(added > 0.05);
    const std::vector<glm::vec3> finer_turns = view::turns_of(surface, all_finer);
    double lean_off = 0.0, lean = 0.0;  // what details add to the normals, against the triangles
    for (std::size_t k = 0; k < moved.vertex.size(); ++k) {
        const std::uint32_t v = moved.vertex[k];
        if (v % 25 < 3 || v % 25 > 21 || v < 75 || v > 25 * 22) continue;
        const glm::vec3 right = finer_turns[v] - turns[v], is = finer[0]->turn[k] - moved.turn[k];
        lean_off += static_cast<double>(glm::dot(is - right, is - right));
        lean += static_cast<double>(glm::dot(right, right));
    }
    INFO("details' turns differ by " << std::sqrt(lean_off / lean) << " of their size, add " << added);
    CHECK(lean_off < 0.25 * lean);

    // nothing moved, nothing to tell
    CHECK(follower.moves(Eigen::VectorXf::Zero(3 * mesh().columns()))[0] == nullptr);
}
