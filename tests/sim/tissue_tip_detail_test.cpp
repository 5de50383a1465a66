#include "sim/tissue/tip_detail.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "sim/core/errors.hpp"
#include "tests/support/flat_tissue.hpp"

using sim::kMm;
using sim::Vec3;
using sim::fe::ChartPlace;
using sim::fe::kCellsDeep;
using sim::fe::TipDetail;
using sim::fe::TipDetails;
using sim::fe::TipDetailSolver;
using sim::fe::TipNode;
using sim::fe::TipResponse;

namespace {

struct Tissue {
    support::Flat flat = support::flat_body();
    sim::fe::Response response{flat.mesh, flat.body};
    TipDetailSolver solver{flat.mesh, flat.body, response};
};

Tissue& tissue() {
    static Tissue built;
    return built;
}

/// As it is drawn: the skin's nodes read by patches.
Vec3 drawn(const sim::fe::HexMesh& mesh, const Eigen::VectorXd& skin_m, double s_m, double t_m) {
    Vec3 sum{};
    for (const auto& [node, weight] : patch_at(mesh, {s_m, t_m, kCellsDeep}).weight)
        for (int r = 0; r < 3; ++r) sum[r] += weight * skin_m[3 * (node / kCellsDeep) + r];
    return sum;
}

/// Blocks and details of a place, all there.
struct Shown {
    TipResponse blocks;
    TipDetails details;
    Eigen::VectorXd skin_m;
    Eigen::VectorXf detail_m;

    explicit Shown(std::size_t most_bytes = TipDetails::kMostBytes)
        : blocks(tissue().flat.mesh), details(tissue().flat.mesh, most_bytes) {}
    void at(const ChartPlace& tip, const Vec3& force_n) {
        const auto nodes = blocks.missing(std::vector{tip}, 8);
        for (auto& block : tissue().solver.blocks(nodes)) blocks.keep(std::move(block));
        for (const TipNode& cell : details.missing(std::vector{tip}, 8)) details.keep(tissue().solver.detail(cell));
        REQUIRE(blocks.skin_m(tip, force_n, skin_m));
        detail_m.setZero(3 * details.grid().nodes());
        REQUIRE(details.add({tip, force_n}, detail_m));
    }
    [[nodiscard]] Vec3 coarse(double s_m, double t_m) const { return drawn(tissue().flat.mesh, skin_m, s_m, t_m); }
    [[nodiscard]] Vec3 fine(double s_m, double t_m) const {
        return coarse(s_m, t_m) + read_fine(tissue().flat.mesh.chart, detail_m, s_m, t_m);
    }
};

}  // namespace

TEST_CASE("with its details the skin under a tip is drawn as on cells half as wide all over", "[sim][tissue][detail]") {
    const support::Flat& flat = tissue().flat;
    const sim::fe::FinePart whole =
        fine_part(flat.mesh, flat.body, 0, 0, flat.mesh.chart.wide - 1, flat.mesh.chart.high - 1);
    static sim::fe::Response fine(whole.mesh, whole.body);
    // on a node of the mesh, between nodes, and between the nine places too
    const auto [s_mm, t_mm] = GENERATE(std::pair(48.0, 48.0), std::pair(50.0, 46.0), std::pair(49.0, 47.1));
    const double level = GENERATE(5.0, 6.4);
    const ChartPlace tip{s_mm * kMm, t_mm * kMm, level};
    Shown shown;
    for (int axis = 0; axis < 3; ++axis) {
        Vec3 force_n{};
        force_n[axis] = 1.0;
        shown.at(tip, force_n);
        Eigen::VectorXd load = Eigen::VectorXd::Zero(whole.mesh.cells.unknowns());
        for (const auto& [node, weight] : patch_at(whole.mesh, tip).weight) load[3 * node + axis] = weight;
        const Eigen::VectorXd right_m = skin_rows(whole.mesh, fine.solve(load));
        double peak = 0.0, with = 0.0, without = 0.0;
        for (double s = 22.0 * kMm; s < 75.0 * kMm; s += 2.9 * kMm)
            for (double t = 22.0 * kMm; t < 75.0 * kMm; t += 2.9 * kMm) {
                const Vec3 right = drawn(whole.mesh, right_m, s, t);
                peak = std::max(peak, glm::length(right));
                with = std::max(with, glm::length(shown.fine(s, t) - right));
                without = std::max(without, glm::length(shown.coarse(s, t) - right));
            }
        INFO("at " << s_mm << ' ' << t_mm << " level " << level << " axis " << axis << ": off by " << with / peak
                   << " of the peak, without details by " << without / peak);
        CHECK(with < 0.03 * peak);
        CHECK(without > (axis == 2 ? 0.10 : 0.01) * peak);
    }
}

TEST_CASE("details end without a seam, and one cell's go over into the next one's", "[sim][tissue][detail]") {
    Shown shown;
    const Vec3 force_n{0.3, 0.0, 1.0};
    const double border_m = 48.0 * kMm;
    shown.at({border_m - 1e-6, 46.0 * kMm, 5.4}, force_n);
    const double peak_m = glm::length(shown.fine(border_m, 46.0 * kMm));
    const Eigen::VectorXf before_m = shown.detail_m;
    // at the rim of what is told, nothing; a step before it, little
    const TipDetail detail = tissue().solver.detail(shown.details.cells_of({border_m - 1e-6, 46.0 * kMm, 5.4}).front());
    for (int node = 0; node < detail.wide; ++node) {
        CHECK(detail.skin_m_per_n.row(3 * node).isZero(0.0f));
        const auto beside = detail.skin_m_per_n.row(3 * (node + detail.wide) + 2);
        CHECK(static_cast<double>(beside.cwiseAbs().maxCoeff()) < 1e-2 * peak_m);
    }
    // over the border between two cells
    shown.at({border_m + 1e-6, 46.0 * kMm, 5.4}, force_n);
    const double jump_m = static_cast<double>((shown.detail_m - before_m).cwiseAbs().maxCoeff());
    INFO("from cell to cell " << jump_m / peak_m << " of the peak");
    CHECK(jump_m < 0.015 * peak_m);
    CHECK(static_cast<double>(before_m.cwiseAbs().maxCoeff()) > 3.0 * jump_m);
}

TEST_CASE("details are kept within their room, those that were read last the longest", "[sim][tissue][detail]") {
    const TipDetail one = tissue().solver.detail({tissue().flat.mesh.chart.wide * 12 + 12, 6});
    Shown shown(3 * one.bytes());
    const auto give = [&](int along, int level) {
        TipDetail detail = one;
        detail.cell = {one.cell.column + along, level};
        shown.details.keep(std::move(detail));
    };
    const ChartPlace here{50.0 * kMm, 50.0 * kMm, 6.0};
    give(0, 6);
    give(1, 6);
    give(2, 6);
    CHECK(shown.details.details() == 3);
    Eigen::VectorXf moved_m = Eigen::VectorXf::Zero(3 * shown.details.grid().nodes());
    CHECK(shown.details.add({here, {0.0, 0.0, 1.0}}, moved_m));
    CHECK(moved_m.cwiseAbs().maxCoeff() > 0.0f);
    give(3, 6);
    give(4, 6);
    CHECK(shown.details.details() == 3);
    CHECK(shown.details.bytes() == 3 * one.bytes());
    CHECK(shown.details.missing(std::vector{here}, 8).empty());
    CHECK(shown.details.missing(std::vector{ChartPlace{54.0 * kMm, 50.0 * kMm, 6.0}}, 8).size() == 1);
    // between two levels both are read, and nothing is added by half
    const ChartPlace between{50.0 * kMm, 50.0 * kMm, 5.5};
    CHECK(shown.details.cells_of(between).size() == 2);
    moved_m.setZero();
    CHECK_FALSE(shown.details.add({between, {0.0, 0.0, 1.0}}, moved_m));
    CHECK(moved_m.isZero(0.0f));
    CHECK(shown.details.cells_of({50.0 * kMm, 50.0 * kMm, 0.3}).size() == 1);  // the floor does not move
    CHECK_THROWS_AS(shown.details.cells_of({-1.0 * kMm, 50.0 * kMm, 5.5}), sim::InputError);

    // the solver forgets fields and factors beyond its bounds: 25 more places, far apart
    for (int k = 0; k < 25; ++k)
        static_cast<void>(tissue().solver.blocks(std::vector<TipNode>{{25 * (k % 5) * 4 + 3 * k % 24, 1},
                                                                      {25 * (k % 5) * 4 + 3 * k % 24, 2},
                                                                      {25 * (k % 5) * 4 + 3 * k % 24, 3},
                                                                      {25 * (k % 5) * 4 + 3 * k % 24, 4},
                                                                      {25 * (k % 5) * 4 + 3 * k % 24, 5},
                                                                      {25 * (k % 5) * 4 + 3 * k % 24, 6}}));
    INFO("solver keeps " << static_cast<double>(tissue().solver.bytes()) * 1e-6 << " MB, a detail "
                         << static_cast<double>(one.bytes()) * 1e-3 << " kB");
    CHECK(tissue().solver.bytes() < 45'000'000);
    const TipDetail again = tissue().solver.detail(one.cell);  // solved anew
    CHECK((again.skin_m_per_n - one.skin_m_per_n).norm() < 1e-4f * one.skin_m_per_n.norm());
}
