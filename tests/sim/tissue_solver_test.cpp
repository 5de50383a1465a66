#include <catch2/catch.hpp>
#include <limits>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/factor.hpp"
#include "tests/support/fem.hpp"

using Catch::Matchers::Contains;
using sim::Vec3;
using sim::fe::CellMesh;
using sim::fe::Elastic;
using sim::fe::ElementForm;
using sim::fe::Factor;

namespace {

constexpr int kWide = 9, kHigh = 7, kDeep = 2;  ///< cells

/// A layered block held at its bottom, its nodes in columns as the dissection wants them.
CellMesh columns_block() {
    CellMesh mesh;
    for (int j = 0; j <= kHigh; ++j)
        for (int i = 0; i <= kWide; ++i)
            for (int k = 0; k <= kDeep; ++k) mesh.node_m.push_back(1e-3 * Vec3(4 * i, 4 * j, 3 * k));
    const auto node = [](int i, int j, int k) { return (j * (kWide + 1) + i) * (kDeep + 1) + k; };
    for (int j = 0; j < kHigh; ++j)
        for (int i = 0; i < kWide; ++i)
            for (int k = 0; k < kDeep; ++k)
                mesh.cell.push_back({node(i, j, k), node(i + 1, j, k), node(i + 1, j + 1, k), node(i, j + 1, k),
                                     node(i, j, k + 1), node(i + 1, j, k + 1), node(i + 1, j + 1, k + 1),
                                     node(i, j + 1, k + 1)});
    std::vector<char> held(mesh.node_m.size(), 0);
    for (std::size_t n = 0; n < held.size(); n += kDeep + 1) held[n] = 1;
    mesh.hold(held);
    return mesh;
}

sim::fe::SparseUpper block_stiffness(const CellMesh& mesh) {
    return sim::fe::assemble(mesh, std::vector<Elastic>(mesh.cell.size(), Elastic{4e3, 0.48}),
                             ElementForm::mean_dilatation);
}

Eigen::MatrixXd random_loads(int unknowns, int count) {
    sim::Random random(7);
    Eigen::MatrixXd b(unknowns, count);
    for (int j = 0; j < count; ++j)
        for (int i = 0; i < unknowns; ++i) b(i, j) = random.normal();
    return b;
}

}  // namespace

TEST_CASE("the factor solves what an independent one solves", "[sim][tissue]") {
    const CellMesh mesh = columns_block();
    const auto k = block_stiffness(mesh);
    Factor factor(k, sim::fe::dissection_order(kWide + 1, kHigh + 1, 3 * kDeep));
    const Eigen::MatrixXd b = random_loads(mesh.unknowns(), 5);
    const Eigen::MatrixXd x = factor.solve(b);
    for (int j = 0; j < 5; ++j) {
        CHECK((sim::fe::times(k, x.col(j)) - b.col(j)).norm() < 1e-11 * b.col(j).norm());
        const Eigen::VectorXd other = support::solve_prescribed(k, b.col(j), {});
        CHECK((x.col(j) - other).norm() < 1e-10 * other.norm());
    }
    CHECK(factor.bytes() > static_cast<std::size_t>(mesh.unknowns()) * sizeof(double));
}

TEST_CASE("factor and solve twice: the same bits", "[sim][tissue]") {
    const CellMesh mesh = columns_block();
    const auto k = block_stiffness(mesh);
    const auto order = sim::fe::dissection_order(kWide + 1, kHigh + 1, 3 * kDeep);
    const Eigen::MatrixXd b = random_loads(mesh.unknowns(), 3);
    const Eigen::MatrixXd first = Factor(k, order).solve(b);
    const Eigen::MatrixXd second = Factor(k, order).solve(b);
    CHECK((first.array() == second.array()).all());
}

TEST_CASE("a dissection names every unknown once", "[sim][tissue]") {
    const int wide = GENERATE(1, 3, 10, 33);
    const int high = GENERATE(1, 4, 17);
    std::vector<int> order = sim::fe::dissection_order(wide, high, 6);
    std::sort(order.begin(), order.end());
    CHECK(order == sim::fe::natural_order(wide * high * 6));
}

TEST_CASE("a body that is held by nothing is refused, not solved", "[sim][tissue]") {
    CellMesh mesh = columns_block();
    support::free_all(mesh);
    const auto k = block_stiffness(mesh);
    try {
        // six rigid modes: the last pivots are rounding and may come out positive, so the last is pushed below zero
        sim::fe::SparseUpper loose = k;
        loose.valuePtr()[loose.nonZeros() - 1] -= 1.0;
        const Factor factor(loose, sim::fe::natural_order(mesh.unknowns()));
        FAIL("accepted");
    } catch (const sim::fe::FactorError& error) {
        CHECK(error.trouble() == sim::fe::FactorTrouble::not_positive_definite);
        CHECK_THAT(error.what(), Contains("held by nothing"));
    }
}

TEST_CASE("a material outside its range is refused by name", "[sim][tissue]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const auto [bad, field] = GENERATE_COPY(table<Elastic, const char*>({{{0.0, 0.45}, "skin.youngs_pa"},
                                                                         {{-1.0, 0.45}, "skin.youngs_pa"},
                                                                         {{nan, 0.45}, "skin.youngs_pa"},
                                                                         {{1e3, 0.5}, "skin.poisson"},
                                                                         {{1e3, -1.0}, "skin.poisson"},
                                                                         {{1e3, nan}, "skin.poisson"}}));
    CHECK_THROWS_WITH(sim::fe::validate(bad, "skin"), Contains(field));
    CHECK_NOTHROW(sim::fe::validate(Elastic{3e3, 0.45}, "skin"));
}
