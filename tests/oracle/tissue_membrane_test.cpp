#include <Eigen/SparseCholesky>
#include <catch2/catch.hpp>
#include <cmath>

#include "sim/tissue/assembly.hpp"
#include "tests/support/fem.hpp"

/// Skin under tension against the closed form of a stretched membrane on an elastic foundation: T lap w - k w = -p.
/// Under a line load q it sinks by q / (2 sqrt(T k)) and dies away as exp(-x / l), under a point load P as P K0(r / l)
/// / (2 pi T), l = sqrt(T / k). Textbook results (for instance Morse, Feshbach 1953), from memory, and checked here by
/// the sum of the foundation's forces.

using Catch::Matchers::WithinRel;
using sim::Vec3;
using sim::fe::CellMesh;

namespace {

constexpr double kTensionPa = 29e3, kThickM = 1.2e-3;  // as the skin of a patient
constexpr double kMembraneNPerM = kTensionPa * kThickM;
constexpr double kReachM = 10e-3;  // l: the foundation is chosen for it
constexpr double kFoundationPaPerM = kMembraneNPerM / (kReachM * kReachM);
constexpr double kHardlyPa = 1e-2;  // elasticity of the sheet itself: keeps the matrix regular and nothing else

/// A flat sheet one cell thick on springs, pushed down at one place. @return sinking of its nodes, top and bottom alike
class Sheet {
 public:
    /// @param nx,ny cells of edge_m
    Sheet(int nx, int ny, double edge_m)
        : mesh_(support::block(nx, ny, 1, [&](int i, int j, int k) {
              return Vec3(edge_m * (i - 0.5 * nx), edge_m * (j - 0.5 * ny), kThickM * k);
          })) {
        support::free_all(mesh_);
        sim::fe::Assembly assembly(mesh_);
        std::vector<double> area_m2(mesh_.node_m.size(), 0.0);
        for (std::size_t c = 0; c < mesh_.cell.size(); ++c) {
            assembly.add(c, sim::fe::stiffness(mesh_.nodes_of(c), {kHardlyPa, 0.0}, sim::fe::ElementForm::full));
            assembly.add(c, sim::fe::tension_stiffness(mesh_.nodes_of(c), kTensionPa));
            for (const int node : mesh_.cell[c]) area_m2[static_cast<std::size_t>(node)] += edge_m * edge_m / 8.0;
        }
        for (std::size_t n = 0; n < area_m2.size(); ++n)
            assembly.add_spring(mesh_.free_index[n], kFoundationPaPerM * area_m2[n]);
        area_m2_ = std::move(area_m2);
        solver_.compute(assembly.matrix().selfadjointView<Eigen::Upper>());
        REQUIRE(solver_.info() == Eigen::Success);
    }

    /// @param force_n of a node, downwards
    template <typename Force>
    Eigen::VectorXd sink(Force force_n) {
        Eigen::VectorXd load = Eigen::VectorXd::Zero(mesh_.unknowns());
        for (std::size_t n = 0; n < mesh_.node_m.size(); ++n)
            load[3 * mesh_.free_index[n] + 2] = -force_n(mesh_.node_m[n]);
        return solver_.solve(load);
    }
    /// Mean of the two faces at a place that is a node.
    [[nodiscard]] double depth_m(const Eigen::VectorXd& moved, double x_m, double y_m) const {
        double sum = 0.0;
        int count = 0;
        for (std::size_t n = 0; n < mesh_.node_m.size(); ++n) {
            if (std::hypot(mesh_.node_m[n].x - x_m, mesh_.node_m[n].y - y_m) > 1e-9) continue;
            sum -= moved[3 * mesh_.free_index[n] + 2];
            ++count;
        }
        REQUIRE(count == 2);
        return sum / count;
    }
    [[nodiscard]] double carried_n(const Eigen::VectorXd& moved) const {
        double sum = 0.0;
        for (std::size_t n = 0; n < area_m2_.size(); ++n)
            sum -= kFoundationPaPerM * area_m2_[n] * moved[3 * mesh_.free_index[n] + 2];
        return sum;
    }

 private:
    CellMesh mesh_;
    std::vector<double> area_m2_;
    Eigen::SimplicialLDLT<sim::fe::SparseUpper, Eigen::Upper> solver_;
};

}  // namespace

TEST_CASE("a strip of skin under tension sinks under a line load as a stretched membrane does", "[oracle][tissue]") {
    constexpr double kEdgeM = 1e-3, kLineNPerM = 2.0;
    Sheet strip(160, 1, kEdgeM);
    // across the strip's width of one cell, shared by its four nodes at x = 0
    const auto moved = strip.sink([](const Vec3& p) { return std::abs(p.x) < 1e-9 ? kLineNPerM * kEdgeM / 4.0 : 0.0; });
    const double deepest_m = kLineNPerM / (2.0 * std::sqrt(kMembraneNPerM * kFoundationPaPerM));
    CHECK_THAT(strip.carried_n(moved), WithinRel(kLineNPerM * kEdgeM, 1e-9));
    for (const double x_mm : {0.0, 5.0, 10.0, 20.0, 30.0}) {
        CAPTURE(x_mm);
        CHECK_THAT(strip.depth_m(moved, 1e-3 * x_mm, 0.5e-3),
                   WithinRel(deepest_m * std::exp(-1e-3 * x_mm / kReachM), 0.005));
    }
}

TEST_CASE("a sheet of skin under tension sinks round a point as a stretched membrane does", "[oracle][tissue]") {
    constexpr double kEdgeM = 2e-3, kForceN = 1.0;
    Sheet sheet(60, 60, kEdgeM);
    const auto moved = sheet.sink([](const Vec3& p) { return std::hypot(p.x, p.y) < 1e-9 ? kForceN / 2.0 : 0.0; });
    CHECK_THAT(sheet.carried_n(moved), WithinRel(kForceN, 1e-9));
    // at the point itself the closed form has no end: from three cells away
    for (const double r_mm : {6.0, 10.0, 16.0, 24.0}) {
        CAPTURE(r_mm);
        const double exact_m =
            kForceN * std::cyl_bessel_k(0.0, 1e-3 * r_mm / kReachM) / (2.0 * sim::kPi * kMembraneNPerM);
        CHECK_THAT(sheet.depth_m(moved, 1e-3 * r_mm, 0.0), WithinRel(exact_m, 0.02));
        CHECK_THAT(sheet.depth_m(moved, 0.0, 1e-3 * r_mm), WithinRel(exact_m, 0.02));
    }
}
