#include <catch2/catch.hpp>
#include <limits>

#include "sim/anatomy/structures.hpp"
#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/read_out.hpp"
#include "tests/support/heads.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kMm;
using sim::Vec3;
using sim::fe::ChartPlace;
using sim::fe::ChartSettings;
using sim::fe::HexMesh;
using sim::fe::Laxity;
using sim::fe::TetheredBody;

namespace {

/// A head without its vessels: strings need the ligaments alone.
const sim::Head& head() {
    static const sim::Head built = [] {
        const auto tissue = sim::build_head_tissue(support::maren(), support::on_two_threads, {});
        sim::Placement placed = sim::place_structures(*tissue, 0);
        return sim::Head(tissue, std::move(placed.structures), std::move(placed.ligaments),
                         std::move(placed.landmarks));
    }();
    return built;
}

ChartSettings coarse() {
    ChartSettings settings;
    settings.edge_m = 8.0 * kMm;
    return settings;
}

sim::fe::TissueParameters few_strings(Laxity laxity) {
    sim::fe::TissueParameters p = sim::fe::parameters_for(laxity);
    p.string_spacing_m = 30.0 * kMm;
    return p;
}

TetheredBody& body(Laxity laxity) {
    static TetheredBody young(head(), coarse(), few_strings(Laxity::young));
    static TetheredBody lax(head(), coarse(), few_strings(Laxity::lax));
    return laxity == Laxity::young ? young : lax;
}

}  // namespace

TEST_CASE("a place in the chart is found again", "[sim][tissue]") {
    const HexMesh& mesh = body(Laxity::lax).mesh();
    sim::Random random(3);
    for (int k = 0; k < 300; ++k) {
        const ChartPlace place{random.uniform(-0.11, 0.11), random.uniform(0.005, 0.175), random.uniform(0.1, 6.9)};
        const auto found = sim::fe::locate(mesh, position_m(mesh, place));
        REQUIRE(found);
        CHECK(glm::length(position_m(mesh, *found) - position_m(mesh, place)) < 0.02 * kMm);
    }
    CHECK_FALSE(sim::fe::locate(mesh, Vec3(0.3, 0.0, 0.0)));
    CHECK_FALSE(sim::fe::locate(mesh, Vec3(0.0, -0.03, 0.0)));  // the middle of the head
}

TEST_CASE("a patch spreads its force whole and about its place", "[sim][tissue]") {
    const HexMesh& mesh = body(Laxity::lax).mesh();
    const ChartPlace place{0.05, 0.06, 4.5};
    const auto patch = sim::fe::patch_at(mesh, place);
    double sum = patch.held;
    Vec3 centre{};
    for (const auto& [node, weight] : patch.weight) {
        sum += weight;
        const int column = node / sim::fe::kCellsDeep;
        centre +=
            weight * mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, node % sim::fe::kCellsDeep + 1))];
    }
    CHECK_THAT(sum, WithinRel(1.0, 1e-12));
    CHECK(glm::length(centre - position_m(mesh, place)) < 0.5 * kMm);
}

TEST_CASE("what A does to B, B does to A", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    const sim::fe::SparseColumns some = b.string_columns().leftCols(30);
    const Eigen::MatrixXd c = b.response().cross_compliance(some, some);
    CHECK((c - c.transpose()).cwiseAbs().maxCoeff() < 1e-10 * c.cwiseAbs().maxCoeff());
    CHECK(c.diagonal().minCoeff() > 0.0);
}

TEST_CASE("lying down, the face goes up and back, more so when lax", "[sim][tissue]") {
    const auto shift = [](Laxity laxity) {
        const auto settled = body(laxity).settle({sim::fe::lying_down(), {}});
        REQUIRE(settled.tethers.converged);
        for (const auto& row : posture_read_outs(head(), body(laxity), settled))
            if (row.place == "lower third, mean" && row.side == sim::Side::left) return row.moved_m;
        FAIL("no such row");
        return Vec3{};
    };
    const Vec3 lax = shift(Laxity::lax);
    const Vec3 young = shift(Laxity::young);
    CHECK(lax.y > 0.0);
    CHECK(lax.z < 0.0);
    CHECK(glm::length(lax) > 2.0 * glm::length(young));
    CHECK(glm::length(lax) < 10.0 * kMm);
}

TEST_CASE("no change of load, no change of shape", "[sim][tissue]") {
    const auto settled = body(Laxity::lax).settle({});
    CHECK(settled.tethers.converged);
    CHECK(settled.displacement_m.norm() == 0.0);
}

TEST_CASE("more threads lift more, and each adds less", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    std::vector<double> peak_m;
    for (const int threads : {1, 2, 4}) {
        const auto paths = lifting_paths(head(), b.mesh(), sim::Side::left, threads, 1.0);
        const auto settled = b.settle({{}, paths});
        REQUIRE(settled.tethers.converged);
        // every barb's share adds up to the pull
        peak_m.push_back(lift_read_out(b, settled, paths).peak_m);
    }
    CHECK(peak_m[0] < peak_m[1]);
    CHECK(peak_m[1] < peak_m[2]);
    CHECK(peak_m[2] < 4.0 * peak_m[0]);
}

TEST_CASE("the same patient twice: the same bits", "[sim][tissue]") {
    TetheredBody again(head(), coarse(), few_strings(Laxity::lax));
    const auto paths = lifting_paths(head(), again.mesh(), sim::Side::left, 2, 0.7);
    const auto first = body(Laxity::lax).settle({sim::fe::lying_down(), paths});
    const auto second = again.settle({sim::fe::lying_down(), paths});
    CHECK((first.displacement_m.array() == second.displacement_m.array()).all());
}

TEST_CASE("the reduced answer holds in the whole mesh", "[oracle][tissue]") {
    // forces of strings put onto the full mesh together with gravity: what is left over must vanish, and each string's
    // force must be what its law gives at the full field's displacement
    TetheredBody& b = body(Laxity::lax);
    const auto settled = b.settle({sim::fe::lying_down(), {}});
    const Eigen::VectorXd moved = b.string_columns().transpose() * settled.displacement_m;
    const double scale = settled.displacement_m.cwiseAbs().maxCoeff();
    CHECK((moved - settled.tethers.moved_m).cwiseAbs().maxCoeff() < 1e-8 * scale);
    for (const auto& site : b.strings()) {
        const Vec3 r = site.string.rest_m +
                       Vec3(moved[site.string.first], moved[site.string.first + 1], moved[site.string.first + 2]);
        const double pull = std::max(0.0, site.string.stiffness_n_per_m * (glm::length(r) - site.string.length_m));
        const Vec3 force = -pull / glm::length(r) * r;
        for (int k = 0; k < 3; ++k)
            CHECK_THAT(settled.tethers.force_n[site.string.first + k], WithinAbs(force[k], 1e-8));
    }
}

TEST_CASE("a load that is not accepted is refused by name", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    auto paths = lifting_paths(head(), b.mesh(), sim::Side::left, 1, 1.0);
    paths[0].pull_n = GENERATE(-0.1, 21.0, std::numeric_limits<double>::quiet_NaN());
    CHECK_THROWS_WITH(b.settle({{}, paths}), Contains("threads[0].pull_n"));
    paths[0].pull_n = 1.0;
    paths[0].barbs = 1;
    CHECK_THROWS_WITH(b.settle({{}, paths}), Contains("threads[0].barbs"));
    CHECK_THROWS(lifting_paths(head(), b.mesh(), sim::Side::left, 0, 1.0));
}

TEST_CASE("a tissue parameter outside its range is refused by name", "[sim][tissue]") {
    sim::fe::TissueParameters p;
    CHECK_NOTHROW(sim::fe::validate(p));
    p.smas_pa = GENERATE(0.0, -1.0, std::numeric_limits<double>::quiet_NaN());
    CHECK_THROWS_WITH(sim::fe::validate(p), Contains("tissue.smas_pa"));
}
