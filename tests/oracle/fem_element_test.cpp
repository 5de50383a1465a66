#include "sim/tissue/element.hpp"

#include <Eigen/Eigenvalues>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/fem.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kPi;
using sim::Vec3;
using sim::fe::CellMesh;
using sim::fe::Elastic;
using sim::fe::ElementForm;
using support::Prescribed;

namespace {

constexpr ElementForm kForms[] = {ElementForm::mean_dilatation, ElementForm::full};

/// The unit cube of seven cells with a skewed one inside: MacNeal, Harder 1985, Finite Elem Anal Des 1:3-20, places of
/// the inner nodes from memory. Any others would do: the test is that no shape of cell matters.
CellMesh patch() {
    CellMesh mesh;
    mesh.node_m = {{0.249, 0.342, 0.192},
                   {0.826, 0.288, 0.288},
                   {0.850, 0.649, 0.263},
                   {0.273, 0.750, 0.230},
                   {0.320, 0.186, 0.643},
                   {0.677, 0.305, 0.683},
                   {0.788, 0.693, 0.644},
                   {0.165, 0.745, 0.702},
                   {0, 0, 0},
                   {1, 0, 0},
                   {1, 1, 0},
                   {0, 1, 0},
                   {0, 0, 1},
                   {1, 0, 1},
                   {1, 1, 1},
                   {0, 1, 1}};
    mesh.cell = {{0, 1, 2, 3, 4, 5, 6, 7},   {8, 9, 10, 11, 0, 1, 2, 3},  {4, 5, 6, 7, 12, 13, 14, 15},
                 {8, 9, 1, 0, 12, 13, 5, 4}, {9, 10, 2, 1, 13, 14, 6, 5}, {10, 11, 3, 2, 14, 15, 7, 6},
                 {11, 8, 0, 3, 15, 12, 4, 7}};
    support::free_all(mesh);
    return mesh;
}

Vec3 patch_displacement(const Vec3& p) {
    return 0.5e-3 * Vec3(2.0 * p.x + p.y + p.z, p.x + 2.0 * p.y + p.z, p.x + p.y + 2.0 * p.z);
}

/// Quarter of a thick cylinder of unit length in plane strain, `radial` cells through the wall, pressure 1 inside.
/// @return displacement of the inner wall over the exact one
double cylinder_ratio(int radial, double poisson, ElementForm form) {
    constexpr double kInner = 3.0, kOuter = 9.0, kYoungs = 1000.0;
    constexpr int kAround = 9;
    const auto radius = [&](int i) { return kInner * std::pow(kOuter / kInner, static_cast<double>(i) / radial); };
    const auto angle = [&](int j) { return 0.5 * kPi * j / kAround; };
    const CellMesh mesh = support::block(radial, kAround, 1, [&](int i, int j, int k) {
        return Vec3(radius(i) * std::cos(angle(j)), radius(i) * std::sin(angle(j)), k);
    });
    const std::vector<Elastic> material(mesh.cell.size(), Elastic{kYoungs, poisson});
    Eigen::VectorXd load = Eigen::VectorXd::Zero(mesh.unknowns());
    Prescribed held;
    for (int k = 0; k <= 1; ++k)
        for (int j = 0; j <= kAround; ++j)
            for (int i = 0; i <= radial; ++i) {
                const int node = (k * (kAround + 1) + j) * (radial + 1) + i;
                held[3 * node + 2] = 0.0;
                if (j == 0) held[3 * node + 1] = 0.0;
                if (j == kAround) held[3 * node] = 0.0;
                if (i > 0) continue;
                const double share = (j == 0 || j == kAround ? 0.5 : 1.0) * 0.5;
                const double force = share * kInner * 0.5 * kPi / kAround;
                load[3 * node] = force * std::cos(angle(j));
                load[3 * node + 1] = force * std::sin(angle(j));
            }
    const Eigen::VectorXd u = support::solve_prescribed(sim::fe::assemble(mesh, material, form), load, held);
    // Lame: (1 + nu) p Ri^2 / (E (Ro^2 - Ri^2)) (Ro^2 / Ri + (1 - 2 nu) Ri)
    const double exact = (1.0 + poisson) * kInner * kInner / (kYoungs * (kOuter * kOuter - kInner * kInner)) *
                         (kOuter * kOuter / kInner + (1.0 - 2.0 * poisson) * kInner);
    return u[0] / exact;
}

/// Cook's tapered panel, E 1, nu 1/3, plane stress, total shear 1 on the right edge.
/// @return vertical displacement at the middle of that edge
double cook(int cells, ElementForm form) {
    const auto place = [&](int i, int j, int k) {
        const double s = static_cast<double>(i) / cells;
        const double t = static_cast<double>(j) / cells;
        const double low = 44.0 * s;
        const double high = 44.0 + 16.0 * s;
        return Vec3(48.0 * s, low + t * (high - low), k);
    };
    const CellMesh mesh = support::block(cells, cells, 1, place);
    const std::vector<Elastic> material(mesh.cell.size(), Elastic{1.0, 1.0 / 3.0});
    Eigen::VectorXd load = Eigen::VectorXd::Zero(mesh.unknowns());
    Prescribed held;
    const auto node = [&](int i, int j, int k) { return (k * (cells + 1) + j) * (cells + 1) + i; };
    for (int k = 0; k <= 1; ++k)
        for (int j = 0; j <= cells; ++j) {
            held[3 * node(0, j, k)] = held[3 * node(0, j, k) + 1] = 0.0;
            load[3 * node(cells, j, k) + 1] = 0.5 * (j == 0 || j == cells ? 0.5 : 1.0) / cells;
        }
    // the thickness may change: plane stress
    for (int i = 0; i < static_cast<int>(mesh.node_m.size()) / 2; ++i) held[3 * i + 2] = 0.0;
    const Eigen::VectorXd u = support::solve_prescribed(sim::fe::assemble(mesh, material, form), load, held);
    return u[3 * node(cells, cells / 2, 0) + 1];
}

}  // namespace

TEST_CASE("constant strain passes through skewed cells unchanged", "[oracle][tissue]") {
    const ElementForm form = GENERATE(from_range(std::begin(kForms), std::end(kForms)));
    const CellMesh mesh = patch();
    // MacNeal, Harder 1985: E 1e6, nu 0.25; all six strains 1e-3 make stresses 2000 and 400 everywhere
    const std::vector<Elastic> material(mesh.cell.size(), Elastic{1e6, 0.25});
    const auto k = sim::fe::assemble(mesh, material, form);
    Prescribed held;
    for (int n = 8; n < 16; ++n)
        for (int r = 0; r < 3; ++r) held[3 * n + r] = patch_displacement(mesh.node_m[static_cast<std::size_t>(n)])[r];
    const Eigen::VectorXd u = support::solve_prescribed(k, Eigen::VectorXd::Zero(mesh.unknowns()), held);
    for (int n = 0; n < 8; ++n)
        for (int r = 0; r < 3; ++r)
            CHECK_THAT(u[3 * n + r], WithinAbs(patch_displacement(mesh.node_m[static_cast<std::size_t>(n)])[r], 1e-15));
    // energy of the unit cube: half of 3 * 2000 * 1e-3 + 3 * 400 * 1e-3
    CHECK_THAT(0.5 * u.dot(sim::fe::times(k, u)), WithinRel(3.6, 1e-12));
}

TEST_CASE("a cell resists nothing but strain", "[oracle][tissue]") {
    const ElementForm form = GENERATE(from_range(std::begin(kForms), std::end(kForms)));
    const CellMesh mesh = patch();
    const sim::fe::CellMatrix k = sim::fe::stiffness(mesh.nodes_of(0), {20e3, 0.49}, form);
    const Eigen::VectorXd values = Eigen::SelfAdjointEigenSolver<sim::fe::CellMatrix>(k).eigenvalues();
    const double largest = values[23];
    for (int i = 0; i < 6; ++i) CHECK(std::abs(values[i]) < 1e-12 * largest);  // three shifts, three turns
    CHECK(values[6] > 1e-5 * largest);                                         // and no seventh
    CHECK((k - k.transpose()).cwiseAbs().maxCoeff() == 0.0);
}

TEST_CASE("a thick cylinder swells as Lame says, up to near incompressibility", "[oracle][tissue]") {
    // MacNeal, Harder 1985, radii 3 and 9, E 1000: inner wall moves 5.03993e-3, 5.06025e-3, 5.06227e-3 at these nu
    const double poisson = GENERATE(0.3, 0.45, 0.49, 0.499, 0.4999);
    CHECK_THAT(cylinder_ratio(5, poisson, ElementForm::mean_dilatation), WithinAbs(1.0, 0.02));
    CHECK_THAT(cylinder_ratio(20, poisson, ElementForm::mean_dilatation), WithinAbs(1.0, 0.006));
}

TEST_CASE("the full brick locks where the mean dilatation does not", "[oracle][tissue]") {
    // published for the full 8-node brick of five cells: 0.98 at nu 0.3, under 0.4 at 0.499, under 0.1 at 0.4999
    // (MacNeal, Harder 1985, from memory)
    CHECK_THAT(cylinder_ratio(5, 0.3, ElementForm::full), WithinAbs(1.0, 0.03));
    CHECK(cylinder_ratio(5, 0.499, ElementForm::full) < 0.5);
    CHECK(cylinder_ratio(5, 0.4999, ElementForm::full) < 0.1);
}

TEST_CASE("Cook's panel bends as published", "[oracle][tissue]") {
    // 23.96 at the middle of the loaded edge: Cook, Malkus, Plesha; the quantity is in general use
    const ElementForm form = GENERATE(from_range(std::begin(kForms), std::end(kForms)));
    const double coarse = cook(16, form);
    const double fine = cook(32, form);
    CHECK(coarse < fine);
    CHECK_THAT(fine, WithinRel(23.96, 0.012));
    CHECK_THAT(fine + (fine - coarse) / 3.0, WithinRel(23.96, 0.004));  // second order in the size of a cell
}

TEST_CASE("quality of a cell: a brick is perfect, shear lowers it, a flat or inverted one is caught", "[sim][tissue]") {
    const auto sheared = [](double slope, double height) {
        return support::block(1, 1, 1, [&](int i, int j, int k) { return Vec3(i + slope * k, j, height * k); });
    };
    CHECK_THAT(sim::fe::scaled_jacobian(sheared(0.0, 1.0).nodes_of(0)), WithinAbs(1.0, 1e-15));
    CHECK_THAT(sim::fe::scaled_jacobian(sheared(0.0, 0.01).nodes_of(0)), WithinAbs(1.0, 1e-15));  // thin is no fault
    CHECK_THAT(sim::fe::scaled_jacobian(sheared(1.0, 1.0).nodes_of(0)), WithinAbs(std::sqrt(0.5), 1e-15));
    CHECK(sim::fe::scaled_jacobian(sheared(0.0, 0.0).nodes_of(0)) == 0.0);
    CHECK(sim::fe::scaled_jacobian(sheared(0.0, -1.0).nodes_of(0)) < 0.0);
}

TEST_CASE("a cell's volume and weight are what geometry says", "[sim][tissue]") {
    const CellMesh mesh = patch();
    double volume = 0.0;
    for (std::size_t c = 0; c < mesh.cell.size(); ++c)
        for (const double v : sim::fe::nodal_volumes_m3(mesh.nodes_of(c))) volume += v;
    CHECK_THAT(volume, WithinRel(1.0, 1e-14));
}

TEST_CASE("tension resists turning a sheet but not shifting it", "[sim][tissue]") {
    // a flat cell of a by b and thickness t under tension sigma, tilted by a small angle about y: energy is
    // sigma a b t angle^2 / 2
    const CellMesh mesh = support::block(1, 1, 1, [](int i, int j, int k) { return Vec3(4.0 * i, 3.0 * j, 0.5 * k); });
    const sim::fe::CellMatrix k = sim::fe::tension_stiffness(mesh.nodes_of(0), 20.0);
    Eigen::Matrix<double, 24, 1> shift = Eigen::Matrix<double, 24, 1>::Zero();
    Eigen::Matrix<double, 24, 1> tilt = Eigen::Matrix<double, 24, 1>::Zero();
    for (std::size_t a = 0; a < 8; ++a) {
        shift[3 * static_cast<int>(a)] = 1.0;
        tilt[3 * static_cast<int>(a) + 2] = 1e-3 * mesh.nodes_of(0)[a].x;
    }
    CHECK((k * shift).cwiseAbs().maxCoeff() < 1e-12);
    CHECK_THAT(0.5 * tilt.dot(k * tilt), WithinRel(0.5 * 20.0 * 4.0 * 3.0 * 0.5 * 1e-6, 1e-12));
}
