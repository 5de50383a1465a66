#include <catch2/catch.hpp>

#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/final_shape.hpp"
#include "sim/tissue/read_out.hpp"
#include "tests/support/coarse_tissue.hpp"
#include "tests/support/fem.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kMm;
using sim::Vec3;
using sim::fe::CellMesh;
using sim::fe::Elastic;
using sim::fe::FiniteStrain;

namespace {

constexpr double kSide = 0.01;

CellMesh cube(int cells) {
    CellMesh mesh =
        support::block(cells, cells, cells, [&](int i, int j, int k) { return Vec3(i, j, k) * (kSide / cells); });
    support::free_all(mesh);
    return mesh;
}

/// Nodes off their places by up to a tenth of a cell.
CellMesh uneven_cube(int cells) {
    CellMesh mesh = cube(cells);
    sim::Random random(5);
    for (Vec3& node : mesh.node_m)
        for (int r = 0; r < 3; ++r) node[r] += random.uniform(-0.1, 0.1) * kSide / cells;
    return mesh;
}

std::vector<Elastic> made_of(const CellMesh& mesh, const Elastic& material) {
    return std::vector<Elastic>(mesh.cell.size(), material);
}

Eigen::VectorXd some_motion(const CellMesh& mesh, double size_m) {
    sim::Random random(11);
    Eigen::VectorXd out(mesh.unknowns());
    for (Eigen::Index i = 0; i < out.size(); ++i) out[i] = random.uniform(-size_m, size_m);
    return out;
}

/// Nominal stress of a bar of this material at a stretch, its sides free: their stretch is found by bisection.
double bar_stress_pa(const Elastic& m, double stretch) {
    const auto stress = [&](double across, bool lengthwise) {
        const double j = stretch * across * across, i1 = stretch * stretch + 2.0 * across * across;
        const double own = lengthwise ? stretch : across;
        return m.shear_pa() * std::pow(j, -2.0 / 3.0) * (own - i1 / (3.0 * own)) + m.bulk_pa() * (j - 1.0) * j / own;
    };
    double low = 0.3, high = 3.0;
    for (int i = 0; i < 100; ++i) {
        const double middle = 0.5 * (low + high);
        (stress(middle, false) > 0.0 ? high : low) = middle;
    }
    return stress(low, true);
}

}  // namespace

TEST_CASE("one cell drawn out follows the neo-Hookean law", "[sim][tissue][final]") {
    const CellMesh mesh = cube(1);
    const Elastic rubber{3e4, 0.49};
    const FiniteStrain body(mesh, made_of(mesh, rubber), std::vector<double>(1, 0.0), {}, {});
    support::Prescribed held;  // three planes of symmetry
    Eigen::VectorXd pull = Eigen::VectorXd::Zero(mesh.unknowns());
    for (int n = 0; n < 8; ++n)
        for (int r = 0; r < 3; ++r)
            if (mesh.node_m[static_cast<std::size_t>(n)][r] == 0.0) held[3 * n + r] = 0.0;
    const sim::fe::SparseUpper k = assemble(mesh, made_of(mesh, rubber), sim::fe::ElementForm::mean_dilatation);
    const auto solve = [&](const Eigen::VectorXd& f) { return support::solve_prescribed(k, f, held); };
    for (const double stress_pa : {-8e3, 2e3, 1e4, 2e4}) {
        for (int n = 0; n < 8; ++n)
            if (mesh.node_m[static_cast<std::size_t>(n)].x > 0.0) pull[3 * n] = 0.25 * stress_pa * kSide * kSide;
        const auto shape = final_shape(body, solve, pull, {}, {1e-6, 200});
        REQUIRE(shape.converged);
        const double stretch = 1.0 + shape.moved_m[3 * 7] / kSide;
        // nominal stress of an incompressible neo-Hookean bar: Treloar 1943, Trans Faraday Soc 39:241
        CHECK_THAT(rubber.shear_pa() * (stretch - 1.0 / (stretch * stretch)), WithinRel(stress_pa, 0.03));
        // and with the volume change that this one allows: sides free of stress, solved here for the one unknown
        CHECK_THAT(bar_stress_pa(rubber, stretch), WithinRel(stress_pa, 1e-5));
    }
}

TEST_CASE("turned as a whole, nothing is stored and nothing pushes back", "[sim][tissue][final]") {
    const CellMesh mesh = uneven_cube(2);
    const FiniteStrain body(mesh, made_of(mesh, {2e4, 0.45}), std::vector<double>(mesh.cell.size(), 0.0), {}, {});
    Eigen::VectorXd turned(mesh.unknowns()), slope;
    for (std::size_t n = 0; n < mesh.node_m.size(); ++n) {
        const Vec3& p = mesh.node_m[n];
        const double c = std::cos(0.7), s = std::sin(0.7);
        const Vec3 moved = Vec3(c * p.x - s * p.y, s * p.x + c * p.y, p.z) + Vec3(0.03, 0, -0.01) - p;
        turned.segment<3>(3 * static_cast<Eigen::Index>(n)) = Eigen::Vector3d(moved.x, moved.y, moved.z);
    }
    CHECK_THAT(body.energy_j(turned, &slope), WithinAbs(0.0, 1e-15));
    CHECK(slope.lpNorm<Eigen::Infinity>() < 1e-12);
    CHECK_THAT(body.least_volume_ratio(turned), WithinAbs(1.0, 1e-12));
}

TEST_CASE("the slope is the energy's, by finite differences", "[sim][tissue][final]") {
    const CellMesh mesh = uneven_cube(2);
    std::vector<double> tension(mesh.cell.size(), 0.0), spring(mesh.node_m.size(), 0.0);
    tension[3] = 2e4;
    spring[5] = 30.0;
    const FiniteStrain body(mesh, made_of(mesh, {2e4, 0.47}), tension, {}, spring);
    const Eigen::VectorXd at = some_motion(mesh, 0.4 * kMm), along = some_motion(mesh, 1.0).normalized();
    Eigen::VectorXd slope;
    REQUIRE(std::isfinite(body.energy_j(at, &slope)));
    constexpr double kStepM = 1e-7;
    const double forward = body.energy_j(at + kStepM * along, nullptr),
                 back = body.energy_j(at - kStepM * along, nullptr);
    CHECK_THAT((forward - back) / (2.0 * kStepM), WithinRel(slope.dot(along), 1e-6));
    // and the slope's own change over a small step is what the linear body says there: K with tension and springs
    Eigen::VectorXd near;
    static_cast<void>(body.energy_j(kStepM * along, &near));
    sim::fe::Assembly assembly(mesh);
    for (std::size_t c = 0; c < mesh.cell.size(); ++c) {
        sim::fe::CellMatrix k = stiffness(mesh.nodes_of(c), Elastic{2e4, 0.47}, sim::fe::ElementForm::mean_dilatation);
        if (tension[c] > 0.0) k += sim::fe::tension_stiffness(mesh.nodes_of(c), tension[c]);
        assembly.add(c, k);
    }
    assembly.add_spring(5, 30.0);
    const Eigen::VectorXd linear = sim::fe::times(assembly.matrix(), along);
    CHECK((near / kStepM - linear).norm() < 1e-4 * linear.norm());
}

TEST_CASE("a cell turned inside out is no state, and one at rest is refused", "[sim][tissue][final]") {
    CellMesh mesh = cube(1);
    const std::vector<Elastic> material = made_of(mesh, {2e4, 0.45});
    const std::vector<double> none(1, 0.0);
    const FiniteStrain body(mesh, material, none, {}, {});
    Eigen::VectorXd inside_out = Eigen::VectorXd::Zero(mesh.unknowns());
    for (int n = 4; n < 8; ++n) inside_out[3 * n + 2] = -1.5 * kSide;
    CHECK(std::isinf(body.energy_j(inside_out, nullptr)));
    CHECK(body.least_volume_ratio(inside_out) < 0.0);
    std::swap(mesh.node_m[0], mesh.node_m[4]);
    CHECK_THROWS_AS(FiniteStrain(mesh, material, none, {}, {}), sim::InputError);
}

TEST_CASE("a search that gave way goes on where it stood", "[sim][tissue][final]") {
    const CellMesh mesh = uneven_cube(2);
    const Elastic soft{2e4, 0.45};
    const FiniteStrain body(mesh, made_of(mesh, soft), std::vector<double>(mesh.cell.size(), 0.0), {}, {});
    support::Prescribed held;
    Eigen::VectorXd pull = Eigen::VectorXd::Zero(mesh.unknowns());
    for (std::size_t n = 0; n < mesh.node_m.size(); ++n) {
        const int first = 3 * static_cast<int>(n);
        if (mesh.node_m[n].z < 0.3 * kSide)
            for (int r = 0; r < 3; ++r) held[first + r] = 0.0;
        else
            pull[first] = 0.03;
    }
    const sim::fe::SparseUpper k = assemble(mesh, made_of(mesh, soft), sim::fe::ElementForm::mean_dilatation);
    const auto solve = [&](const Eigen::VectorXd& f) { return support::solve_prescribed(k, f, held); };
    const auto whole = final_shape(body, solve, pull, {}, {1e-6, 200});
    REQUIRE(whole.converged);
    REQUIRE(whole.iterations > 2);
    sim::fe::FinalShapeSearch search(body, solve, pull, {}, {1e-6, 200});
    // every other call is told to give way at its second question: the step is half done by then
    bool tells = false, more = true;
    while (more) {
        int asked = 0;
        tells = !tells;
        more = search.step([&] { return tells && ++asked == 2; });
    }
    CHECK(search.found().converged);
    CHECK(search.found().iterations == whole.iterations);
    CHECK(search.found().moved_m == whole.moved_m);
    // and one that always gives way stays where it began
    sim::fe::FinalShapeSearch waits(body, solve, pull, {}, {1e-6, 200});
    for (int i = 0; i < 5; ++i) CHECK(waits.step([] { return true; }));
    CHECK(waits.found().iterations == 0);
}

TEST_CASE("a head's final shape under a pulled thread", "[.slow][sim][tissue][final]") {
    sim::fe::TetheredBody& body = support::shared_coarse_body();
    const FiniteStrain finite = finite_strain_of(body.mesh(), body.body());
    const auto solve = [&](const Eigen::VectorXd& f) -> Eigen::VectorXd { return body.response().solve(f); };
    const auto jowl = locate(body.mesh(), sim::fe::compartment_m(*support::tissue_head(), "jowl", sim::Side::left));
    REQUIRE(jowl);
    const auto skin_at = [&](const Eigen::VectorXd& moved_m) {
        return read(patch_at(body.mesh(), {jowl->s_m, jowl->t_m, 7.0}), moved_m);
    };
    const auto settled_with = [&](double pull_n) {
        return body.settle(
            {{}, sim::fe::lifting_paths(*support::tissue_head(), body.mesh(), sim::Side::left, 1, pull_n)});
    };
    // next to nothing: the linear body's answer
    const auto small = settled_with(0.01);
    const auto near = final_shape(finite, solve, small.force_n, small.displacement_m);
    REQUIRE(near.converged);
    CHECK(glm::length(skin_at(near.moved_m) - skin_at(small.displacement_m)) <
          0.01 * glm::length(skin_at(small.displacement_m)));
    CHECK(near.iterations < 5);
    // a firm pull: lift within a few per cent of the linear body's, as a study of this body found up to 4 N
    const auto firm = settled_with(2.0);
    const auto shape = final_shape(finite, solve, firm.force_n, {});
    REQUIRE(shape.converged);
    CHECK(shape.least_volume_ratio > 0.0);
    const Vec3 linear = skin_at(firm.displacement_m), finite_m = skin_at(shape.moved_m);
    INFO("linear " << 1e3 * glm::length(linear) << " mm, final " << 1e3 * glm::length(finite_m) << " mm, "
                   << shape.iterations << " iterations, least volume ratio " << shape.least_volume_ratio);
    CHECK_THAT(glm::length(finite_m), WithinRel(glm::length(linear), 0.05));
    CHECK(glm::length(finite_m - linear) > 1e-4 * glm::length(linear));
    // begun from rest or from the linear answer it ends in the same place
    const auto again = final_shape(finite, solve, firm.force_n, firm.displacement_m);
    REQUIRE(again.converged);
    CHECK((again.moved_m - shape.moved_m).norm() < 0.01 * shape.moved_m.norm());
}
