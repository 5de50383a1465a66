#include "sim/tissue/tip_response.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

ChartPlace place_of(const HexMesh& mesh, const TipNode& node) {
    return {mesh.chart.s_m[static_cast<std::size_t>(node.column % mesh.chart.wide)],
            mesh.chart.t_m[static_cast<std::size_t>(node.column / mesh.chart.wide)], static_cast<double>(node.level)};
}

/// Between which two of them x lies, and how far along. @pre x lies within
std::pair<int, double> between(const std::vector<double>& lines, double x) {
    const auto above = std::upper_bound(lines.begin(), lines.end() - 1, x);
    const auto k = static_cast<std::size_t>(std::max<std::ptrdiff_t>(above - lines.begin() - 1, 0));
    return {static_cast<int>(k), (x - lines[k]) / (lines[k + 1] - lines[k])};
}

/// Nodes about a tip with the share of its force that each takes. What the floor takes is left out.
std::vector<std::pair<TipNode, double>> shares_of(const HexMesh& mesh, const ChartPlace& tip) {
    const Chart& chart = mesh.chart;
    require_within("tip.s_m", tip.s_m, chart.s_m.front(), chart.s_m.back());
    require_within("tip.t_m", tip.t_m, chart.t_m.front(), chart.t_m.back());
    require_within("tip.level", tip.level, 0.0, kCellsDeep);
    const auto [i, a] = between(chart.s_m, tip.s_m);
    const auto [j, b] = between(chart.t_m, tip.t_m);
    const int low = std::min(static_cast<int>(std::floor(tip.level)), kCellsDeep - 1);
    const double up = tip.level - low;
    std::vector<std::pair<TipNode, double>> out;
    for (const auto& [level, along] : {std::pair(low, 1.0 - up), std::pair(low + 1, up)})
        for (const auto& [di, dj] : {std::pair(0, 0), std::pair(1, 0), std::pair(0, 1), std::pair(1, 1)}) {
            const double share = along * (di == 0 ? 1.0 - a : a) * (dj == 0 ? 1.0 - b : b);
            if (level > 0 && share > 0.0) out.emplace_back(TipNode{(j + dj) * chart.wide + i + di, level}, share);
        }
    return out;
}

}  // namespace

std::vector<TipBlock> solve_tip_blocks(const HexMesh& mesh, Response& response, std::span<const TipNode> nodes) {
    std::vector<Eigen::Triplet<double>> entries;
    int column = 0;
    for (const TipNode& node : nodes) {
        SIM_ASSERT(node.column >= 0 && node.column < mesh.columns() && node.level > 0 && node.level <= kCellsDeep);
        for (const auto& [free, weight] : patch_at(mesh, place_of(mesh, node)).weight)
            for (int r = 0; r < 3; ++r) entries.emplace_back(3 * free + r, column + r, weight);
        column += 3;
    }
    SparseColumns columns(mesh.cells.unknowns(), column);
    columns.setFromTriplets(entries.begin(), entries.end());
    std::vector<TipBlock> out;
    for (const TipNode& node : nodes) {
        out.push_back({node, {}});
        out.back().skin_m_per_n.resize(3 * mesh.columns(), 3);
    }
    response.each_batch(columns, [&](int first, const Eigen::Ref<const Eigen::MatrixXd>& moved) {
        for (int k = 0; k < moved.cols(); ++k) {
            auto to = out[static_cast<std::size_t>((first + k) / 3)].skin_m_per_n.col((first + k) % 3);
            for (int c = 0; c < mesh.columns(); ++c)
                to.segment<3>(3 * c) = moved.col(k).segment<3>(3 * mesh.free_node(c, kCellsDeep)).cast<float>();
        }
    });
    return out;
}

TipResponse::TipResponse(const HexMesh& mesh, std::size_t most_bytes)
    : mesh_(mesh),
      most_bytes_(most_bytes),
      block_bytes_(9 * sizeof(float) * static_cast<std::size_t>(mesh.columns())),
      sum_(3 * mesh.columns()) {
    constexpr std::size_t kBlocksAPlace = 8;
    if (!(most_bytes_ >= kBlocksAPlace * block_bytes_))
        throw InputError("tip response: most_bytes", static_cast<double>(most_bytes_),
                         "from " + std::to_string(kBlocksAPlace * block_bytes_));
}

std::vector<TipNode> TipResponse::nodes_of(const ChartPlace& tip) const {
    std::vector<TipNode> out;
    for (const auto& [node, share] : shares_of(mesh_, tip)) out.push_back(node);
    return out;
}

std::vector<TipNode> TipResponse::missing(std::span<const ChartPlace> way, std::size_t most) const {
    std::vector<TipNode> out;
    for (const ChartPlace& place : way)
        for (const TipNode& node : nodes_of(place)) {
            if (out.size() == most) return out;
            if (blocks_.contains(node) || std::find(out.begin(), out.end(), node) != out.end()) continue;
            out.push_back(node);
        }
    return out;
}

void TipResponse::keep(TipBlock block) {
    SIM_ASSERT(block.skin_m_per_n.rows() == 3 * mesh_.columns());
    const TipNode node = block.node;
    blocks_.insert_or_assign(node, Kept{std::move(block), ++now_});
    while (bytes() > most_bytes_)
        blocks_.erase(std::min_element(blocks_.begin(), blocks_.end(),
                                       [](const auto& x, const auto& y) { return x.second.read < y.second.read; }));
}

bool TipResponse::skin_m(const ChartPlace& tip, const Vec3& force_n, Eigen::VectorXd& skin_m) {
    const auto shares = shares_of(mesh_, tip);
    for (const auto& [node, share] : shares)
        if (!blocks_.contains(node)) return false;
    const Eigen::Vector3f force = Eigen::Vector3d(force_n.x, force_n.y, force_n.z).cast<float>();
    sum_.setZero();
    ++now_;
    for (const auto& [node, share] : shares) {
        Kept& kept = blocks_.at(node);
        kept.read = now_;
        sum_.noalias() += kept.block.skin_m_per_n * (static_cast<float>(share) * force);
    }
    skin_m = sum_.cast<double>();
    return true;
}

}  // namespace sim::fe
