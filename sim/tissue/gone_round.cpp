#include "sim/tissue/gone_round.hpp"

#include <algorithm>
#include <cmath>

namespace sim::fe {

CellsGoneRound::CellsGoneRound(const CellMesh& mesh, const TurningNeck& neck, double turn_rad) {
    const NeckTurn round{neck, turn_rad};
    for (std::size_t c = 0; c < mesh.cell.size(); ++c) {
        const CellNodes nodes = mesh.nodes_of(c);
        std::array<double, 8> share{};
        double mean = 0.0;
        for (std::size_t a = 0; a < 8; ++a) {
            share[a] = neck.share(nodes[a].y);
            mean += share[a] / 8.0;
        }
        index_.push_back(-1);
        if (*std::max_element(share.begin(), share.end()) == *std::min_element(share.begin(), share.end())) continue;
        index_.back() = static_cast<int>(cells_.size());
        Cell& cell = cells_.emplace_back();
        for (std::size_t a = 0; a < 8; ++a) {
            cell.way_m[a] = neck.axis_m - nodes[a] +
                            about_vertical(nodes[a] + round.moved_m(nodes[a]) - neck.axis_m, turn_rad * mean);
            cell.cosine[a] = std::cos(turn_rad * (mean - share[a]));
            cell.sine[a] = std::sin(turn_rad * (mean - share[a]));
        }
    }
}

}  // namespace sim::fe
