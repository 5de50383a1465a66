#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/final_shape.hpp"
#include "sim/tissue/head_turn.hpp"
#include "tests/support/coarse_tissue.hpp"

using Catch::Matchers::WithinRel;
using sim::kMm;
using sim::Vec3;
using sim::fe::HeadTurn;
using sim::fe::HexMesh;
using sim::fe::TetheredBody;
using sim::fe::TurningNeck;

namespace {

constexpr double kDegree = sim::kPi / 180.0;

TurningNeck neck() { return sim::fe::turning_neck(support::tissue_head()->tissue()); }

HeadTurn& shared_turn() {
    static HeadTurn turn(support::shared_coarse_body(), neck());
    return turn;
}

Vec3 turned_by(const Vec3& p, double rad) {
    return {std::cos(rad) * p.x + std::sin(rad) * p.z, p.y, std::cos(rad) * p.z - std::sin(rad) * p.x};
}

/// Node of the skin or another level in the middle of the front of the neck's treated part, so far to the left.
int neck_node(const HexMesh& mesh, double left_m, int level) {
    const Vec3 wanted(left_m, neck().top_m - 30.0 * kMm, 0.0);
    int best = 0;
    double best_m = 1e9;
    for (int c = 0; c < mesh.columns(); ++c) {
        const Vec3& p = mesh.cells.node_m[static_cast<std::size_t>(mesh.node(c, sim::fe::kCellsDeep))];
        const double off_m = std::hypot(p.x - wanted.x, p.y - wanted.y) + (p.z < 0.0 ? 1.0 : 0.0);
        if (off_m >= best_m) continue;
        best_m = off_m;
        best = mesh.node(c, level);
    }
    return best;
}

}  // namespace

TEST_CASE("what goes round as one is strained by nothing, however far", "[sim][tissue][turn]") {
    TetheredBody& body = support::shared_coarse_body();
    TurningNeck whole = neck();
    whole.top_m = 2.0;  // all of the mesh lies below
    whole.bottom_m = 1.0;
    const double turn_rad = 45.0 * kDegree;
    HeadTurn all(body, whole);
    CHECK(all.slack_solved_m(turn_rad).norm() < 1e-12);
    // and under gravity that has gone round too it settles as it does lying, gone round
    const auto turned = all.settle(turn_rad, turned_by(sim::fe::lying_down(), -turn_rad));
    double worst_m = 0.0;
    for (int c = 0; c < body.mesh().columns(); ++c) {
        const int node = body.mesh().node(c, sim::fe::kCellsDeep);
        const Eigen::Vector3d lying =
            support::coarse_body_lying().displacement_m.segment<3>(3 * body.mesh().free_node(c, sim::fe::kCellsDeep));
        const Vec3 r = body.mesh().cells.node_m[static_cast<std::size_t>(node)] - whole.axis_m;
        const Vec3 expected = turned_by(r + Vec3(lying.x(), lying.y(), lying.z()), -turn_rad) - r;
        worst_m = std::max(worst_m, glm::length(turned.of(node) - expected));
    }
    CHECK(worst_m < 1e-6 * kMm);
}

TEST_CASE("a small turn is linear elasticity with its floor displaced", "[oracle][tissue][turn]") {
    // without tension and rim springs, whose ground goes along: no force is left on any node that moves
    sim::fe::TissueParameters p = support::few_strings(sim::fe::Laxity::middle);
    p.string_spacing_m = 50.0 * kMm;
    p.skin_tension_pa = 0.0;
    p.edge_share = 0.0;
    TetheredBody body(*support::tissue_head(), support::coarse_chart(), p);
    HeadTurn turn(body, neck());
    constexpr double kTurnRad = 1e-6;
    const Eigen::VectorXd twist_m = turn.slack_solved_m(kTurnRad);
    const HexMesh& mesh = body.mesh();
    const auto nodes = mesh.cells.node_m.size();
    Eigen::VectorXd moved_m(3 * static_cast<Eigen::Index>(nodes));
    for (std::size_t n = 0; n < nodes; ++n) {
        const Vec3& at = mesh.cells.node_m[n];
        const double rad = -kTurnRad * neck().share(at.y);
        Vec3 u(rad * (at.z - neck().axis_m.z), 0.0, -rad * (at.x - neck().axis_m.x));
        if (const int node = mesh.cells.free_index[n]; node >= 0)
            u += Vec3(twist_m[3 * node], twist_m[3 * node + 1], twist_m[3 * node + 2]);
        for (int r = 0; r < 3; ++r) moved_m[3 * static_cast<Eigen::Index>(n) + r] = u[r];
    }
    Eigen::VectorXd force_n = Eigen::VectorXd::Zero(moved_m.size());
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const auto k =
            sim::fe::stiffness(mesh.cells.nodes_of(c), body.body().material[c], sim::fe::ElementForm::mean_dilatation);
        Eigen::Matrix<double, 24, 1> u;
        for (std::size_t a = 0; a < 8; ++a)
            u.segment<3>(3 * static_cast<Eigen::Index>(a)) = moved_m.segment<3>(3 * mesh.cells.cell[c][a]);
        const Eigen::Matrix<double, 24, 1> f = k * u;
        for (std::size_t a = 0; a < 8; ++a)
            force_n.segment<3>(3 * mesh.cells.cell[c][a]) += f.segment<3>(3 * static_cast<Eigen::Index>(a));
    }
    double on_floor_n = 0.0, left_n = 0.0;
    for (std::size_t n = 0; n < nodes; ++n) {
        const double f = force_n.segment<3>(3 * static_cast<Eigen::Index>(n)).norm();
        double& most = mesh.cells.free_index[n] < 0 ? on_floor_n : left_n;
        most = std::max(most, f);
    }
    REQUIRE(on_floor_n > 0.0);
    INFO("left over " << left_n / on_floor_n);
    CHECK(left_n < 1e-3 * on_floor_n);  // second order in the turn, and digits lost to so small a turn
}

TEST_CASE("left and right turns mirror each other, and the face stays", "[sim][tissue][turn]") {
    const HexMesh& mesh = support::shared_coarse_body().mesh();
    constexpr int kSkin = sim::fe::kCellsDeep;
    const auto left = shared_turn().settle(25.0 * kDegree, {});
    const auto right = shared_turn().settle(-25.0 * kDegree, {});
    for (const double side_m : {0.0, 15.0 * kMm, 35.0 * kMm}) {
        const Vec3 a = left.of(neck_node(mesh, side_m, kSkin)), b = right.of(neck_node(mesh, -side_m, kSkin));
        CHECK(a.x < -0.2 * kMm);  // the head went to the left: the neck goes to its right
        CHECK(glm::length(a - Vec3(-b.x, b.y, b.z)) < 0.1 * glm::length(a));  // two sides that are not quite alike
    }
    const Vec3 at_brow =
        left.of(mesh.node(static_cast<int>(mesh.chart.at(mesh.chart.wide / 2, mesh.chart.top)), kSkin));
    CHECK(glm::length(at_brow) < 0.5 * kMm);
    CHECK_THAT(left.of(neck_node(mesh, 0.0, 0)).x,
               WithinRel(-right.of(neck_node(mesh, 0.0, 0)).x, 0.05));  // the floor goes as it is told
}

TEST_CASE("between the angles solved ahead a turn is what a solve says", "[sim][tissue][turn]") {
    CHECK(shared_turn().slack_m(0.0).norm() == 0.0);
    // gravity's part against the twist's alone, which is the larger
    for (const double degrees : {-40.0, 4.0, 22.0})
        for (const Vec3& change : {Vec3{}, sim::fe::lying_down(), Vec3(5.0, 0.0, 0.0)}) {
            const Eigen::VectorXd solved_m = shared_turn().slack_solved_m(degrees * kDegree, change);
            const Eigen::VectorXd between_m = shared_turn().slack_m(degrees * kDegree, change);
            CHECK((between_m - solved_m).norm() < 1e-3 * solved_m.norm());
            const Eigen::VectorXd weight_m = solved_m - shared_turn().slack_solved_m(degrees * kDegree);
            const Eigen::VectorXd between_weight_m = between_m - shared_turn().slack_m(degrees * kDegree);
            CHECK((between_weight_m - weight_m).norm() <= 1e-4 * weight_m.norm());
        }
}

TEST_CASE("the skin alone turns as the whole does", "[sim][tissue][turn]") {
    const HexMesh& mesh = support::shared_coarse_body().mesh();
    const double turn_rad = 35.0 * kDegree;
    const Vec3 change = turned_by(sim::fe::lying_down(), -turn_rad);
    const auto whole = shared_turn().settle(turn_rad, change);
    const auto skin = shared_turn().settle_skin(turn_rad, change);
    const sim::fe::NeckTurn round{neck(), turn_rad};
    double worst_m = 0.0;
    for (int c = 0; c < mesh.columns(); ++c) {
        const int node = mesh.node(c, sim::fe::kCellsDeep);
        const Vec3 gone_m = round.moved_m(mesh.cells.node_m[static_cast<std::size_t>(node)]);
        const Vec3 u(skin.skin_m[3 * c], skin.skin_m[3 * c + 1], skin.skin_m[3 * c + 2]);
        worst_m = std::max(worst_m, glm::length(whole.of(node) - gone_m - u));
    }
    CHECK(worst_m < 1e-3 * kMm);  // the skin goes by single precision
}

TEST_CASE("what has gone round is found back where it lay", "[sim][tissue][turn]") {
    const sim::fe::NeckTurn round{neck(), 45.0 * kDegree};
    const Vec3 chin(0.0, neck().top_m + 1.0 * kMm, 0.1), trunk(0.1, neck().bottom_m - 10.0 * kMm, 0.05);
    CHECK(round.moved_m(chin) == Vec3(0.0));
    // the head looks to the left: the trunk's front goes to the patient's right
    const Vec3 gone = trunk + round.moved_m(trunk);
    CHECK(glm::length(gone - neck().axis_m - turned_by(trunk - neck().axis_m, -45.0 * kDegree)) < 1e-12);
    for (const double down_m : {0.0, 0.03, 0.07, 0.2}) {
        const Vec3 p(0.05, neck().top_m - down_m, 0.04);
        CHECK(glm::length(round.rest_of(p + round.moved_m(p)) - p) < 1e-12);
    }
}

TEST_CASE("without a turn a head settles as it does lying", "[sim][tissue][turn]") {
    const auto turned = shared_turn().settle(0.0, sim::fe::lying_down());
    const HexMesh& mesh = support::shared_coarse_body().mesh();
    double worst_m = 0.0;
    for (int c = 0; c < mesh.columns(); ++c) {
        const auto free = 3 * mesh.free_node(c, sim::fe::kCellsDeep);
        const Eigen::Vector3d lying = support::coarse_body_lying().displacement_m.segment<3>(free);
        worst_m = std::max(
            worst_m, glm::length(turned.of(mesh.node(c, sim::fe::kCellsDeep)) - Vec3(lying.x(), lying.y(), lying.z())));
    }
    CHECK(worst_m < 1e-6 * kMm);
}

TEST_CASE("a turn that no neck makes is refused by name", "[sim][tissue][turn]") {
    CHECK_THROWS_WITH(shared_turn().settle(46.0 * kDegree, {}), Catch::Matchers::Contains("turn_rad"));
    CHECK_THROWS_WITH(shared_turn().settle(std::nan(""), {}), Catch::Matchers::Contains("turn_rad"));
}

TEST_CASE("told in the frame that goes round, cells store what they store in space", "[sim][tissue][turn][final]") {
    TetheredBody& body = support::shared_coarse_body();
    const HexMesh& mesh = body.mesh();
    const double turn_rad = 30.0 * kDegree;
    const sim::fe::NeckTurn round{neck(), turn_rad};
    const sim::fe::CellsGoneRound cells(mesh.cells, neck(), turn_rad);
    const std::vector<double> no_tension(mesh.cells.cell.size(), 0.0);
    // the same cells with every node free: where each node lies in space is told outright, the floor's too
    sim::fe::CellMesh free = mesh.cells;
    free.hold(std::vector<char>(free.node_m.size(), 0));
    const sim::fe::FiniteStrain here(mesh.cells, body.body().material, no_tension, {}, {}),
        in_space(free, body.body().material, no_tension, {}, {});
    sim::Random random(3);
    Eigen::VectorXd beside_m(mesh.cells.unknowns()), space_m(free.unknowns());
    for (Eigen::Index i = 0; i < beside_m.size(); ++i) beside_m[i] = random.uniform(-0.1 * kMm, 0.1 * kMm);
    const auto angle = [&](std::size_t n) { return -turn_rad * neck().share(mesh.cells.node_m[n].y); };
    for (std::size_t n = 0; n < free.node_m.size(); ++n) {
        Vec3 u = round.moved_m(free.node_m[n]);
        if (const int node = mesh.cells.free_index[n]; node >= 0)
            u += turned_by({beside_m[3 * node], beside_m[3 * node + 1], beside_m[3 * node + 2]}, angle(n));
        for (int r = 0; r < 3; ++r) space_m[3 * free.free_index[n] + r] = u[r];
    }
    Eigen::VectorXd slope_n, space_slope_n;
    const double stored_j = here.energy_j(beside_m, &slope_n, &cells);
    CHECK(stored_j > 1e-3);
    CHECK_THAT(stored_j, WithinRel(in_space.energy_j(space_m, &space_slope_n), 1e-9));
    double off_n = 0.0, most_n = 0.0;
    for (std::size_t n = 0; n < free.node_m.size(); ++n) {
        const int node = mesh.cells.free_index[n], at = free.free_index[n];
        if (node < 0) continue;
        const Vec3 own =
            turned_by({space_slope_n[3 * at], space_slope_n[3 * at + 1], space_slope_n[3 * at + 2]}, -angle(n));
        off_n =
            std::max(off_n, glm::length(own - Vec3(slope_n[3 * node], slope_n[3 * node + 1], slope_n[3 * node + 2])));
        most_n = std::max(most_n, glm::length(own));
    }
    CHECK(off_n < 1e-9 * most_n);
    CHECK_THAT(here.least_volume_ratio(beside_m, &cells), WithinRel(in_space.least_volume_ratio(space_m), 1e-9));
}

TEST_CASE("the final shape of a turned head goes over into the linear one for small turns",
          "[sim][tissue][turn][final]") {
    TetheredBody& body = support::shared_coarse_body();
    HeadTurn& turn = shared_turn();
    const auto solve = [&](const Eigen::VectorXd& f) -> Eigen::VectorXd { return body.response().solve(f); };
    for (const double degrees : {0.5, 15.0, 30.0, 45.0}) {
        const double rad = degrees * kDegree;
        const Eigen::VectorXd linear_m = turn.slack_solved_m(rad);
        const auto found =
            final_shape(body.finite_strain(), solve, Eigen::VectorXd::Zero(linear_m.size()), linear_m, {1e-4, 200},
                        std::make_shared<const sim::fe::CellsGoneRound>(body.mesh().cells, turn.neck(), rad));
        const double peak_m = linear_m.cwiseAbs().maxCoeff(),
                     off = (found.moved_m - linear_m).cwiseAbs().maxCoeff() / peak_m;
        INFO(degrees << " degrees: moved " << peak_m / kMm << " mm, final off by " << off << " of it, least volume "
                     << found.least_volume_ratio << ", " << found.iterations << " steps");
        REQUIRE(found.converged);
        CHECK(found.least_volume_ratio > 0.0);
        if (degrees < 1.0) CHECK(off < 0.02);
    }
}
