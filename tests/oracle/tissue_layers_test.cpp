#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "sim/tissue/material.hpp"
#include "tests/support/fem.hpp"

/// Layers bonded to one another over a rigid base, pressed on by a wave: Burmister 1945, J Appl Phys 16:89, whose
/// solution for a round load is the sum of such waves, each on its own.

using sim::kMm;
using sim::kPi;
using sim::fe::Elastic;
using sim::fe::ElementForm;

namespace {

struct Layer {
    double thickness_m;
    Elastic material;
};

/// Airy's function of one layer is f(z) cos(kx) with f = (A + B z) e^(-kz) + (C + D z) e^(k (z - h)), z from its top.
/// @return f and its first three derivatives for each of the four constants
Eigen::Matrix4d airy(double k, double h, double z) {
    const double down = std::exp(-k * z);
    const double up = std::exp(k * (z - h));
    Eigen::Matrix4d out;  // row: order of the derivative
    for (int n = 0; n < 4; ++n) {
        const double a = std::pow(-k, n);
        const double c = std::pow(k, n);
        out(n, 0) = a * down;
        out(n, 1) = (a * z + (n > 0 ? n * std::pow(-k, n - 1) : 0.0)) * down;
        out(n, 2) = c * up;
        out(n, 3) = (c * z + (n > 0 ? n * std::pow(k, n - 1) : 0.0)) * up;
    }
    return out;
}

/// Rows: normal stress / -k^2 and shear stress / k of the wave, then displacements along x and z.
Eigen::Matrix4d stress_and_displacement(const Layer& layer, double k, double z) {
    const Eigen::Matrix4d f = airy(k, layer.thickness_m, z);
    const double nu = layer.material.poisson;
    const double two_g = 2.0 * layer.material.shear_pa();
    Eigen::Matrix4d out;
    out.row(0) = f.row(0);
    out.row(1) = f.row(1);
    out.row(2) = ((1.0 - nu) * f.row(2) + nu * k * k * f.row(0)) / (k * two_g);
    out.row(3) = ((1.0 - nu) * f.row(3) / (k * k) + (nu - 2.0) * f.row(1)) / two_g;
    return out;
}

/// How far the surface sinks under the crest of a pressure of 1 Pa cos(kx), plane strain.
double sinks_m(const std::vector<Layer>& layers, double k) {
    const auto n = static_cast<Eigen::Index>(layers.size());
    Eigen::MatrixXd a = Eigen::MatrixXd::Zero(4 * n, 4 * n);
    Eigen::VectorXd b = Eigen::VectorXd::Zero(4 * n);
    a.topLeftCorner(2, 4) = stress_and_displacement(layers.front(), k, 0.0).topRows(2);
    b[0] = 1.0 / (k * k);
    for (Eigen::Index i = 0; i + 1 < n; ++i) {
        const Layer& above = layers[static_cast<std::size_t>(i)];
        a.block(4 * i + 2, 4 * i, 4, 4) = stress_and_displacement(above, k, above.thickness_m);
        a.block(4 * i + 2, 4 * i + 4, 4, 4) = -stress_and_displacement(layers[static_cast<std::size_t>(i + 1)], k, 0.0);
    }
    a.bottomRightCorner(2, 4) = stress_and_displacement(layers.back(), k, layers.back().thickness_m).bottomRows(2);
    // unlike units: scaled row by row, then column by column
    for (Eigen::Index i = 0; i < 4 * n; ++i) {
        const double scale = a.row(i).cwiseAbs().maxCoeff();
        a.row(i) /= scale, b[i] /= scale;
    }
    const Eigen::RowVectorXd columns = a.cwiseAbs().colwise().maxCoeff();
    const Eigen::MatrixXd scaled = a.array().rowwise() / columns.array();
    const Eigen::VectorXd x = scaled.fullPivLu().solve(b).array() / columns.transpose().array();
    return stress_and_displacement(layers.front(), k, 0.0).row(3).dot(x.head(4));
}

/// The same by finite elements over half a wave, one cell along the crest.
/// @param cells of each layer through its thickness; eight times as many along half a wave
double sinks_by_cells_m(const std::vector<Layer>& layers, double k, int cells) {
    const int along = 8 * cells;
    const double half_m = kPi / k;
    std::vector<double> height{0.0};  // of the levels of nodes, from the base up
    std::vector<Elastic> of_level;
    for (std::size_t i = layers.size(); i-- > 0;)
        for (int c = 0; c < cells; ++c) {
            height.push_back(height.back() + layers[i].thickness_m / cells);
            of_level.push_back(layers[i].material);
        }
    const int levels = static_cast<int>(of_level.size());
    const sim::fe::CellMesh mesh = support::block(along, 1, levels, [&](int i, int j, int level) {
        return sim::Vec3(half_m * i / along, 1.0 * kMm * j, height[static_cast<std::size_t>(level)]);
    });
    std::vector<Elastic> material;
    for (const Elastic& m : of_level) material.insert(material.end(), static_cast<std::size_t>(along), m);
    Eigen::VectorXd load = Eigen::VectorXd::Zero(mesh.unknowns());
    support::Prescribed held;
    const double step_m = half_m / along;
    // the work of a wave on straight edges: cos(kx) times 2 (1 - cos(k h)) / (k h)^2, half of that at either end
    const double share = 2.0 * (1.0 - std::cos(k * step_m)) / std::pow(k * step_m, 2);
    for (int level = 0; level <= levels; ++level)
        for (int j = 0; j <= 1; ++j)
            for (int i = 0; i <= along; ++i) {
                const int node = (level * 2 + j) * (along + 1) + i;
                held[3 * node + 1] = 0.0;
                if (i == 0 || i == along) held[3 * node] = 0.0;
                if (level == 0) held[3 * node] = held[3 * node + 2] = 0.0;
                if (level < levels) continue;
                const double end = i == 0 || i == along ? 0.5 : 1.0;
                load[3 * node + 2] = -end * share * std::cos(k * step_m * i) * step_m * 0.5 * kMm;
            }
    const auto stiffness = sim::fe::assemble(mesh, material, ElementForm::mean_dilatation);
    const Eigen::VectorXd u = support::solve_prescribed(stiffness, load, held);
    return -u[3 * (levels * 2) * (along + 1) + 2];
}

/// The cheek's layers at their usual thickness, from the skin down.
std::vector<Layer> cheek() {
    const sim::fe::TissueParameters p = sim::fe::parameters_for(sim::fe::Laxity::lax);
    const double glide_m = 1.5 * kMm;
    const Elastic glide = Elastic::of_shear_and_bulk(p.glide_pa_per_m * glide_m, p.glide_bulk_pa);
    return {{1.2 * kMm, {p.skin_pa, p.poisson}},     {3.0 * kMm, {p.fat_pa, p.poisson}},
            {0.8 * kMm, {p.smas_pa, p.poisson}},     {glide_m, glide},
            {3.0 * kMm, {p.deep_fat_pa, p.poisson}}, {6.0 * kMm, {p.muscle_pa, p.poisson}}};
}

}  // namespace

TEST_CASE("a wave on one deep layer sinks as on a half-space", "[oracle][tissue]") {
    // k u_z = p (1 - nu) / G, Boussinesq by waves; the base is five wavelengths below
    const Elastic material{3e3, 0.45};
    const double k = 2.0 * kPi / (20.0 * kMm);
    const double exact = (1.0 - material.poisson) / (material.shear_pa() * k);
    CHECK_THAT(sinks_m({{100.0 * kMm, material}}, k), Catch::Matchers::WithinRel(exact, 1e-9));
    // cut into layers of one kind nothing changes
    const std::vector<Layer> cut{{1.0 * kMm, material}, {7.0 * kMm, material}, {92.0 * kMm, material}};
    CHECK_THAT(sinks_m(cut, k), Catch::Matchers::WithinRel(exact, 1e-9));
}

TEST_CASE("layers under a wave sink as Burmister's do", "[oracle][tissue]") {
    const double wave_mm = GENERATE(16.0, 40.0, 100.0);
    const double k = 2.0 * kPi / (wave_mm * kMm);
    const double exact = sinks_m(cheek(), k);
    const double four = sinks_by_cells_m(cheek(), k, 4);
    const double eight = sinks_by_cells_m(cheek(), k, 8);
    INFO("exact " << exact << ", four cells a layer " << four / exact << ", eight " << eight / exact);
    CHECK(std::abs(eight / exact - 1.0) < 0.01);
    // the error goes with the square of the cell
    CHECK(std::abs(eight / exact - 1.0) < 0.35 * std::abs(four / exact - 1.0));
}
