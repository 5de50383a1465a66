#pragma once

#include <array>
#include <vector>

#include "sim/tissue/layered.hpp"

namespace support {

/// A flat body of a cheek's layers on a rigid floor, 96 mm wide and high, its rim free.
struct Flat {
    sim::fe::HexMesh mesh;
    sim::fe::LayeredBody body;
};

inline Flat flat_body() {
    using sim::kMm;
    using sim::fe::kCellsDeep;
    constexpr int kCells = 24;
    constexpr double kEdgeM = 4.0 * kMm;
    constexpr std::array<double, kCellsDeep> kThickM{4e-3, 2e-3, 0.5e-3, 1e-3, 2.5e-3, 2.5e-3, 1.5e-3};
    // of the order of a lax cheek's; glide space soft in shear, skin under tension
    const std::array<sim::fe::Elastic, kCellsDeep> stuff{{{1e4, 0.45},
                                                          {500.0, 0.45},
                                                          sim::fe::Elastic::of_shear_and_bulk(50.0, 1e5),
                                                          {1e6, 0.45},
                                                          {3e3, 0.45},
                                                          {3e3, 0.45},
                                                          {1.5e5, 0.45}}};
    Flat out;
    sim::fe::HexMesh& mesh = out.mesh;
    sim::fe::Chart& chart = mesh.chart;
    chart.wide = chart.high = kCells + 1;
    chart.right = chart.bottom = kCells;
    for (int k = 0; k <= kCells; ++k) {
        chart.s_m.push_back(k * kEdgeM);
        chart.t_m.push_back(k * kEdgeM);
    }
    std::vector<char> held;
    for (int j = 0; j <= kCells; ++j)
        for (int i = 0; i <= kCells; ++i) {
            double up_m = 0.0;
            for (int level = 0; level < sim::fe::kLevels; ++level) {
                mesh.cells.node_m.emplace_back(i * kEdgeM, -j * kEdgeM, up_m);  // t runs down
                mesh.depth_m.push_back(17e-3 - up_m);
                held.push_back(level == 0 ? 1 : 0);
                if (level < kCellsDeep) up_m += kThickM[static_cast<std::size_t>(level)];
            }
            mesh.inward.emplace_back(0.0, 0.0, -1.0);
            chart.base_m.push_back(mesh.cells.node_m.back());
            chart.outward.emplace_back(0.0, 0.0, 1.0);
            out.body.mobility.push_back(1.0);
        }
    mesh.cells.hold(held);
    for (int j = 0; j < kCells; ++j)
        for (int i = 0; i < kCells; ++i)
            for (int k = 0; k < kCellsDeep; ++k) {
                const std::array<int, 4> round{j * chart.wide + i, (j + 1) * chart.wide + i,
                                               (j + 1) * chart.wide + i + 1, j * chart.wide + i + 1};
                std::array<int, 8> cell{};
                for (std::size_t a = 0; a < 4; ++a) {
                    cell[a] = mesh.node(round[a], k);
                    cell[a + 4] = mesh.node(round[a], k + 1);
                }
                mesh.cells.cell.push_back(cell);
                out.body.material.push_back(stuff[static_cast<std::size_t>(k)]);
                out.body.density_kg_per_m3.push_back(1000.0);
                out.body.tension_pa.push_back(k == kCellsDeep - 1 ? 2e4 : 0.0);
            }
    out.body.edge_n_per_m.assign(static_cast<std::size_t>(mesh.cells.free_nodes), 0.0);
    return out;
}

}  // namespace support
