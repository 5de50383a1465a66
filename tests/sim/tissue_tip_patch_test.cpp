#include "sim/tissue/tip_patch.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "sim/core/errors.hpp"
#include "tests/support/coarse_tissue.hpp"
#include "tests/support/flat_tissue.hpp"

using sim::kMm;
using sim::Vec3;
using sim::fe::ChartPlace;
using sim::fe::kCellsDeep;
using sim::fe::TipPatch;

namespace {

/// 1 N along each axis, spread as a tip's force is.
Eigen::MatrixXd unit_loads(const sim::fe::HexMesh& mesh, const ChartPlace& at) {
    Eigen::MatrixXd load = Eigen::MatrixXd::Zero(mesh.cells.unknowns(), 3);
    for (const auto& [node, weight] : patch_at(mesh, at).weight)
        for (int r = 0; r < 3; ++r) load(3 * node + r, r) = weight;
    return load;
}

Eigen::Vector3d skin_at(const sim::fe::HexMesh& mesh, const Eigen::MatrixXd& moved_m, int axis, int column) {
    return moved_m.col(axis).segment<3>(3 * mesh.free_node(column, kCellsDeep));
}

/// Largest difference of the skin over the peak that the whole fine body has, in a patch.
double worst_on_skin(const TipPatch& patch, const Eigen::MatrixXd& is_m, const sim::fe::HexMesh& fine,
                     const Eigen::MatrixXd& fine_m, int axis) {
    double worst_m = 0.0, peak_m = 0.0;
    const sim::fe::Chart& chart = patch.mesh().chart;
    for (int c = 0; c < patch.mesh().columns(); ++c) {
        const int i = 2 * patch.part().first_i + c % chart.wide, j = 2 * patch.part().first_j + c / chart.wide;
        const Eigen::Vector3d right = skin_at(fine, fine_m, axis, j * fine.chart.wide + i);
        worst_m = std::max(worst_m, (skin_at(patch.mesh(), is_m, axis, c) - right).norm());
        peak_m = std::max(peak_m, right.norm());
    }
    return worst_m / peak_m;
}

}  // namespace

TEST_CASE("a patch about a tip has what the whole body on such cells has", "[sim][tissue][patch]") {
    const support::Flat flat = support::flat_body();
    sim::fe::Response coarse(flat.mesh, flat.body);
    // uniformly on cells of 2 mm: the same body, all of it cut
    const sim::fe::FinePart whole =
        fine_part(flat.mesh, flat.body, 0, 0, flat.mesh.chart.wide - 1, flat.mesh.chart.high - 1);
    REQUIRE(whole.mesh.chart.wide == 49);
    sim::fe::Response fine(whole.mesh, whole.body);
    const double level = GENERATE(5.0, 6.4);
    const ChartPlace tip{49.3 * kMm, 46.1 * kMm, level};
    const Eigen::MatrixXd coarse_m = coarse.solve(unit_loads(flat.mesh, tip));
    const Eigen::MatrixXd fine_m = fine.solve(unit_loads(whole.mesh, tip));
    TipPatch patch(flat.mesh, flat.body, tip);
    CHECK(patch.mesh().chart.wide == 19);
    CHECK(patch.to_rim_m(tip) > 15.0 * kMm);
    const Eigen::MatrixXd load = unit_loads(patch.mesh(), tip);
    const Eigen::MatrixXd patch_m = patch.solve(load, coarse_m);
    const Eigen::MatrixXd fixed_m = patch.solve(load, Eigen::MatrixXd::Zero(coarse_m.rows(), 3));
    const Eigen::MatrixXd here_m = patch.coarse_here_m(coarse_m);
    for (int axis = 0; axis < 3; ++axis) {
        const double followed = worst_on_skin(patch, patch_m, whole.mesh, fine_m, axis),
                     fixed = worst_on_skin(patch, fixed_m, whole.mesh, fine_m, axis),
                     coarsely = worst_on_skin(patch, here_m, whole.mesh, fine_m, axis);
        INFO("level " << level << " axis " << axis << ": rim follows " << followed << ", rim held " << fixed
                      << ", without a patch " << coarsely);
        // a study of such a body found 2 % with a rim that follows, and 13 to 46 % with one that is held along the skin
        CHECK(followed < 0.03);
        CHECK(followed < coarsely);
        if (axis < 2) CHECK(fixed > 0.10);
    }
    // at its rim it is the mesh's own field
    CHECK(skin_at(patch.mesh(), patch_m, 2, 0) == skin_at(patch.mesh(), here_m, 2, 0));
}

TEST_CASE("a patch repeats what needs no finer cells, and is cut short at the mesh's rim", "[sim][tissue][patch]") {
    const support::Flat flat = support::flat_body();
    // moved as a whole and without a load, whatever lies inside follows but for the floor that holds it: so the layers
    // are asked to carry a field that the mesh solves itself, far from its load
    sim::fe::Response coarse(flat.mesh, flat.body);
    const Eigen::MatrixXd far_m = coarse.solve(unit_loads(flat.mesh, {80.0 * kMm, 80.0 * kMm, 6.0}));
    TipPatch patch(flat.mesh, flat.body, {24.0 * kMm, 24.0 * kMm, 6.0}, 16.0 * kMm);
    const Eigen::MatrixXd none = Eigen::MatrixXd::Zero(patch.mesh().cells.unknowns(), 3);
    const Eigen::MatrixXd moved_m = patch.solve(none, far_m), here_m = patch.coarse_here_m(far_m);
    CHECK((moved_m - here_m).norm() < 0.02 * here_m.norm());
    CHECK(here_m.norm() > 0.0);

    const TipPatch corner(flat.mesh, flat.body, ChartPlace{1.0 * kMm, 95.0 * kMm, 6.0});
    CHECK(corner.part().first_i == 0);
    CHECK(corner.to_rim_m({1.0 * kMm, 95.0 * kMm, 6.0}) < 1.1 * kMm);
    CHECK_THROWS_AS(TipPatch(flat.mesh, flat.body, ChartPlace{-1.0 * kMm, 50.0 * kMm, 6.0}), sim::InputError);
}

TEST_CASE("cut in four, a head's cells fill the same room of the same stuff", "[sim][tissue][patch]") {
    sim::fe::TetheredBody& body = support::shared_coarse_body();
    const sim::fe::Chart& chart = body.mesh().chart;
    const auto part = fine_part(body.mesh(), body.body(), chart.left, chart.top, chart.left + 4, chart.top + 6);
    REQUIRE(part.mesh.cells.cell.size() == 4 * 4 * 6 * kCellsDeep);
    REQUIRE(part.body.material.size() == part.mesh.cells.cell.size());
    for (int layer = 0; layer < kCellsDeep; ++layer) {
        double coarse_m3 = 0.0, fine_m3 = 0.0;
        for (const auto& point : sim::fe::integration_points(body.mesh().cells.nodes_of(
                 static_cast<std::size_t>(body.mesh().cell(chart.left + 1, chart.top + 2, layer)))))
            coarse_m3 += point.volume_m3;
        for (const int j : {4, 5})
            for (const int i : {2, 3})
                for (const auto& point : sim::fe::integration_points(
                         part.mesh.cells.nodes_of(static_cast<std::size_t>(part.mesh.cell(i, j, layer)))))
                    fine_m3 += point.volume_m3;
        CHECK_THAT(fine_m3, Catch::Matchers::WithinRel(coarse_m3, 1e-9));
    }
    CHECK(part.body.material[static_cast<std::size_t>(part.mesh.cell(3, 5, 2))] ==
          body.body().material[static_cast<std::size_t>(body.mesh().cell(chart.left + 1, chart.top + 2, 2))]);
}
