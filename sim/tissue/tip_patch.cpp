#include "sim/tissue/tip_patch.hpp"

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

/// The columns of a mesh that a fine column lies between, two or four of them with equal shares, or one.
std::vector<int> between(int wide, int first_i, int first_j, int i, int j) {
    std::vector<int> out;
    for (int b = j / 2; b <= (j + 1) / 2; ++b)
        for (int a = i / 2; a <= (i + 1) / 2; ++a) out.push_back((first_j + b) * wide + first_i + a);
    return out;
}

std::vector<double> halved(const std::vector<double>& lines, int first, int last) {
    std::vector<double> out;
    for (int k = first; k <= last; ++k) {
        const auto at = static_cast<std::size_t>(k);
        if (k > first) out.push_back(0.5 * (lines[at - 1] + lines[at]));
        out.push_back(lines[at]);
    }
    return out;
}

Chart fine_chart(const Chart& chart, int first_i, int first_j, int last_i, int last_j) {
    Chart out;
    out.s_m = halved(chart.s_m, first_i, last_i);
    out.t_m = halved(chart.t_m, first_j, last_j);
    out.wide = static_cast<int>(out.s_m.size());
    out.high = static_cast<int>(out.t_m.size());
    out.right = out.wide - 1;
    out.bottom = out.high - 1;
    return out;
}

/// Node lines of a chart within a reach of a place, one at least on each side of it.
std::pair<int, int> lines_about(const std::vector<double>& lines, double x, double reach_m) {
    const auto last = static_cast<int>(lines.size()) - 1;
    const auto low = std::lower_bound(lines.begin(), lines.end(), x - reach_m) - lines.begin();
    const auto high = std::upper_bound(lines.begin(), lines.end(), x + reach_m) - lines.begin() - 1;
    return {std::clamp(static_cast<int>(low), 0, last - 1), std::clamp(static_cast<int>(high), 1, last)};
}

}  // namespace

FinePart fine_part(const HexMesh& mesh, const LayeredBody& body, int first_i, int first_j, int last_i, int last_j) {
    SIM_ASSERT(first_i >= 0 && first_i < last_i && last_i < mesh.chart.wide);
    SIM_ASSERT(first_j >= 0 && first_j < last_j && last_j < mesh.chart.high);
    FinePart out;
    out.first_i = first_i;
    out.first_j = first_j;
    HexMesh& fine = out.mesh;
    fine.chart = fine_chart(mesh.chart, first_i, first_j, last_i, last_j);
    const auto columns = static_cast<std::size_t>(fine.columns());
    std::vector<char> held(columns * kLevels, 0);
    fine.cells.node_m.reserve(held.size());
    for (int j = 0; j < fine.chart.high; ++j)
        for (int i = 0; i < fine.chart.wide; ++i) {
            const std::vector<int> from = between(mesh.chart.wide, first_i, first_j, i, j);
            const double share = 1.0 / static_cast<double>(from.size());
            const auto mean = [&](const auto& of) {
                auto sum = share * of(from.front());
                for (std::size_t k = 1; k < from.size(); ++k) sum += share * of(from[k]);
                return sum;
            };
            const auto at = [](int k) { return static_cast<std::size_t>(k); };
            held[fine.cells.node_m.size()] = 1;  // the floor
            for (int level = 0; level < kLevels; ++level) {
                fine.cells.node_m.push_back(mean([&](int c) { return mesh.cells.node_m[at(mesh.node(c, level))]; }));
                fine.depth_m.push_back(mean([&](int c) { return mesh.depth_m[at(mesh.node(c, level))]; }));
            }
            fine.inward.push_back(glm::normalize(mean([&](int c) { return mesh.inward[at(c)]; })));
            fine.chart.base_m.push_back(mean([&](int c) { return mesh.chart.base_m[at(c)]; }));
            fine.chart.outward.push_back(-fine.inward.back());
            out.body.mobility.push_back(mean([&](int c) { return body.mobility[at(c)]; }));
        }
    fine.cells.hold(held);
    for (int j = 0; j + 1 < fine.chart.high; ++j)
        for (int i = 0; i + 1 < fine.chart.wide; ++i)
            for (int layer = 0; layer < kCellsDeep; ++layer) {
                const int at_i = first_i + i / 2, at_j = first_j + j / 2;
                const auto c = static_cast<std::size_t>(mesh.cell(at_i, at_j, layer));
                std::array<int, 8> cell{};  // its corners as the cell has them that it is a quarter of
                for (std::size_t a = 0; a < cell.size(); ++a) {
                    const int column = mesh.cells.cell[c][a] / kLevels, level = mesh.cells.cell[c][a] % kLevels;
                    const int beside = column % mesh.chart.wide - at_i, below = column / mesh.chart.wide - at_j;
                    cell[a] = fine.node((j + below) * fine.chart.wide + i + beside, level);
                }
                fine.cells.cell.push_back(cell);
                out.body.material.push_back(body.material[c]);
                out.body.density_kg_per_m3.push_back(body.density_kg_per_m3[c]);
                out.body.tension_pa.push_back(body.tension_pa[c]);
            }
    out.body.edge_n_per_m.assign(static_cast<std::size_t>(fine.cells.free_nodes), 0.0);
    return out;
}

PatchLines patch_lines(const HexMesh& mesh, const ChartPlace& about, double reach_m) {
    const Chart& chart = mesh.chart;
    require_within("tip.s_m", about.s_m, chart.s_m.front(), chart.s_m.back());
    require_within("tip.t_m", about.t_m, chart.t_m.front(), chart.t_m.back());
    const ChartMetric metric = metric_at(mesh, {about.s_m, about.t_m, static_cast<double>(kCellsDeep)});
    const auto [first_i, last_i] = lines_about(chart.s_m, about.s_m, reach_m / metric.m_per_s);
    const auto [first_j, last_j] = lines_about(chart.t_m, about.t_m, reach_m / metric.m_per_t);
    return {first_i, first_j, last_i, last_j};
}

TipPatch::TipPatch(const HexMesh& mesh, const LayeredBody& body, const ChartPlace& about, double reach_m)
    : TipPatch(mesh, body, patch_lines(mesh, about, reach_m)) {}

TipPatch::TipPatch(const HexMesh& mesh, const LayeredBody& body, const PatchLines& lines)
    : wide_(mesh.chart.wide), part_(fine_part(mesh, body, lines.first_i, lines.first_j, lines.last_i, lines.last_j)) {
    stiffness_ = stiffness_of(part_.mesh, part_.body, ElementForm::mean_dilatation, true);

    constexpr int kPerColumn = 3 * kCellsDeep;
    for (int c = 0; c < part_.mesh.columns(); ++c)
        for (int r = 0; r < kPerColumn; ++r) inner_.push_back(at_rim(c) ? -1 : inner_unknowns_++);
    std::vector<Eigen::Triplet<double>> entries;
    for (int j = 0; j < stiffness_.cols(); ++j)
        for (SparseUpper::InnerIterator it(stiffness_, j); it; ++it) {
            const int row = inner_[static_cast<std::size_t>(it.row())], column = inner_[static_cast<std::size_t>(j)];
            if (row >= 0 && column >= 0) entries.emplace_back(row, column, it.value());
        }
    SparseUpper inside(inner_unknowns_, inner_unknowns_);
    inside.setFromTriplets(entries.begin(), entries.end());
    factor_.emplace(inside, dissection_order(part_.mesh.chart.wide - 2, part_.mesh.chart.high - 2, kPerColumn));
}

bool TipPatch::at_rim(int column) const {
    const Chart& chart = part_.mesh.chart;
    const int i = column % chart.wide, j = column / chart.wide;
    return i == 0 || j == 0 || i == chart.wide - 1 || j == chart.high - 1;
}

double TipPatch::to_rim_m(const ChartPlace& place) const {
    const Chart& chart = part_.mesh.chart;
    return std::min({place.s_m - chart.s_m.front(), chart.s_m.back() - place.s_m, place.t_m - chart.t_m.front(),
                     chart.t_m.back() - place.t_m});
}

Eigen::MatrixXd TipPatch::coarse_here_m(const Eigen::MatrixXd& coarse_m) const {
    constexpr int kPerColumn = 3 * kCellsDeep;
    const Chart& chart = part_.mesh.chart;
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(part_.mesh.cells.unknowns(), coarse_m.cols());
    for (int c = 0; c < part_.mesh.columns(); ++c) {
        const std::vector<int> from = between(wide_, part_.first_i, part_.first_j, c % chart.wide, c / chart.wide);
        for (const int column : from)
            out.middleRows(kPerColumn * c, kPerColumn) +=
                coarse_m.middleRows(kPerColumn * column, kPerColumn) / static_cast<double>(from.size());
    }
    return out;
}

Eigen::MatrixXd TipPatch::solve_from(const Eigen::MatrixXd& load_n, Eigen::MatrixXd here_m) {
    SIM_ASSERT(load_n.rows() == stiffness_.rows() && load_n.cols() == here_m.cols());
    SIM_ASSERT(here_m.rows() == stiffness_.rows());
    Eigen::MatrixXd moved = std::move(here_m);
    for (Eigen::Index k = 0; k < moved.rows(); ++k)
        if (inner_[static_cast<std::size_t>(k)] >= 0) moved.row(k).setZero();
    // what the rim, moved as it is, leaves to be carried inside
    const Eigen::MatrixXd rest = load_n - stiffness_.selfadjointView<Eigen::Upper>() * moved;
    Eigen::MatrixXd inside(inner_unknowns_, load_n.cols());
    for (Eigen::Index k = 0; k < moved.rows(); ++k)
        if (const int at = inner_[static_cast<std::size_t>(k)]; at >= 0) inside.row(at) = rest.row(k);
    inside = factor_->solve(inside);
    for (Eigen::Index k = 0; k < moved.rows(); ++k)
        if (const int at = inner_[static_cast<std::size_t>(k)]; at >= 0) moved.row(k) = inside.row(at);
    return moved;
}

}  // namespace sim::fe
