#include <catch2/catch.hpp>
#include <limits>

#include "sim/core/errors.hpp"
#include "sim/tissue/hex_mesh.hpp"
#include "tests/support/heads.hpp"

using Catch::Matchers::Contains;
using sim::kMm;
using sim::Vec3;
using sim::fe::ChartSettings;
using sim::fe::HexMesh;
using sim::fe::kCellsDeep;
using sim::fe::MeshQuality;

TEST_CASE("every patient's mesh is sound", "[sim][tissue]") {
    const std::size_t patient = GENERATE(0u, 1u, 2u, 3u);
    const HexMesh mesh = sim::fe::build_mesh(support::patient_tissue(patient), {});
    const MeshQuality q = sim::fe::quality_of(mesh);
    CHECK(q.least_jacobian >= sim::fe::kJacobianLimit);
    CHECK(q.percentile_1_jacobian >= 0.45);
    CHECK(q.unknowns == 3 * kCellsDeep * mesh.columns());
    CHECK(std::abs(q.edge_mean_m - 4.0 * kMm) < 0.6 * kMm);
    // the drawing in of steep floors stays an exception
    CHECK(mesh.mended_columns < mesh.columns() / 20);
    for (const auto& range : q.thickness) CHECK(range.least_m > 0.2 * kMm);
}

TEST_CASE("the mesh's skin and layers are the anatomy's", "[sim][tissue]") {
    const sim::HeadTissue& tissue = support::patient_tissue(1);
    const HexMesh mesh = sim::fe::build_mesh(tissue, {});
    std::vector<double> off;
    int right_layer = 0;
    int asked = 0;
    for (int j = mesh.chart.top; j <= mesh.chart.bottom; ++j)
        for (int i = mesh.chart.left; i <= mesh.chart.right; ++i) {
            const int column = static_cast<int>(mesh.chart.at(i, j));
            const auto at = [&](int level) {
                return mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, level))];
            };
            off.push_back(std::abs(tissue.depth_m(at(kCellsDeep))));
            ++asked;
            right_layer += tissue.layers_at(0.5 * (at(3) + at(4))).layer == sim::Layer::smas;
        }
    std::sort(off.begin(), off.end());
    CHECK(off[off.size() / 2] < 0.2 * kMm);       // the chart's own smoothing
    CHECK(off[off.size() * 9 / 10] < 1.0 * kMm);  // nose, lips and folds are left to the visible skin
    CHECK(right_layer > asked * 3 / 4);           // SMAS of under a millimetre found in the middle of its cell
}

TEST_CASE("finer cells, same body", "[sim][tissue]") {
    const double edge_mm = GENERATE(3.0, 2.5);
    ChartSettings settings;
    settings.edge_m = edge_mm * kMm;
    const HexMesh mesh = sim::fe::build_mesh(support::patient_tissue(3), settings);
    const MeshQuality q = sim::fe::quality_of(mesh);
    CHECK(q.least_jacobian >= sim::fe::kJacobianLimit);
    const auto volume = [](const HexMesh& m) {
        double sum = 0.0;
        for (std::size_t c = 0; c < m.cells.cell.size(); ++c)
            for (const double v : sim::fe::nodal_volumes_m3(m.cells.nodes_of(c))) sum += v;
        return sum;
    };
    CHECK_THAT(volume(mesh),
               Catch::Matchers::WithinRel(volume(sim::fe::build_mesh(support::patient_tissue(3), {})), 0.02));
}

TEST_CASE("a mesh setting outside its range is refused by name", "[sim][tissue]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const auto [edge_mm, margin_mm, field] =
        GENERATE_COPY(table<double, double, const char*>({{1.9, 70.0, "tissue.edge_m"},
                                                          {8.1, 70.0, "tissue.edge_m"},
                                                          {nan, 70.0, "tissue.edge_m"},
                                                          {4.0, 19.0, "tissue.margin_m"},
                                                          {4.0, 71.0, "tissue.margin_m"},
                                                          {4.0, nan, "tissue.margin_m"}}));
    CHECK_THROWS_WITH(sim::fe::validate(ChartSettings{edge_mm * kMm, margin_mm * kMm}), Contains(field));
}
