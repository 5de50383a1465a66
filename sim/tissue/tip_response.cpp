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

/// Nodes about a tip with the share of its force that each takes. What the floor takes is left out.
std::vector<std::pair<TipNode, double>> shares_of(const HexMesh& mesh, const ChartPlace& tip) {
    const Chart& chart = mesh.chart;
    require_within("tip.s_m", tip.s_m, chart.s_m.front(), chart.s_m.back());
    require_within("tip.t_m", tip.t_m, chart.t_m.front(), chart.t_m.back());
    require_within("tip.level", tip.level, 0.0, kCellsDeep);
    const auto columns = corners(chart, cell_of(chart, tip.s_m, tip.t_m));
    const int low = std::min(static_cast<int>(std::floor(tip.level)), kCellsDeep - 1);
    const double up = tip.level - low;
    std::vector<std::pair<TipNode, double>> out;
    for (const auto& [level, along] : {std::pair(low, 1.0 - up), std::pair(low + 1, up)})
        for (const auto& [column, beside] : columns)
            if (level > 0 && along * beside > 0.0) out.emplace_back(TipNode{column, level}, along * beside);
    return out;
}

}  // namespace

std::vector<TipBlock> solve_tip_blocks(const HexMesh& mesh, Response& response, std::span<const TipNode> nodes,
                                       const TipFieldSeen& seen) {
    std::vector<TipBlock> out;
    for (const TipNode& node : nodes) {
        SIM_ASSERT(node.column >= 0 && node.column < mesh.columns() && node.level > 0 && node.level <= kCellsDeep);
        out.push_back({node, {}});
        out.back().skin_m_per_n.resize(3 * mesh.columns(), 3);
    }
    for (std::size_t first = 0; first < nodes.size(); first += kTipNodesABatch) {
        const std::size_t count = std::min(kTipNodesABatch, nodes.size() - first);
        Eigen::MatrixXd load = Eigen::MatrixXd::Zero(mesh.cells.unknowns(), 3 * static_cast<Eigen::Index>(count));
        for (std::size_t k = 0; k < count; ++k)
            for (const auto& [free, weight] : patch_at(mesh, place_of(mesh, nodes[first + k])).weight)
                for (int r = 0; r < 3; ++r) load(3 * free + r, 3 * static_cast<Eigen::Index>(k) + r) = weight;
        const Eigen::MatrixXd moved = response.solve(load);
        for (std::size_t k = 0; seen && k < count; ++k)
            seen(nodes[first + k], moved.middleCols(3 * static_cast<Eigen::Index>(k), 3));
        for (Eigen::Index k = 0; k < moved.cols(); ++k) {
            auto to = out[first + static_cast<std::size_t>(k / 3)].skin_m_per_n.col(k % 3);
            for (int c = 0; c < mesh.columns(); ++c)
                to.segment<3>(3 * c) = moved.col(k).segment<3>(3 * mesh.free_node(c, kCellsDeep)).cast<float>();
        }
    }
    return out;
}

TipResponse::TipResponse(const HexMesh& mesh, std::size_t most_bytes)
    : mesh_(mesh), most_bytes_(most_bytes), block_bytes_(9 * sizeof(float) * static_cast<std::size_t>(mesh.columns())) {
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
    Eigen::VectorXf sum;
    std::vector<bool> told;
    this->skin_m(std::array{TipForce{tip, force_n}}, sum, told);
    if (told.front()) skin_m = sum.cast<double>();
    return told.front();
}

void TipResponse::skin_m(std::span<const TipForce> forces, Eigen::VectorXf& skin_m, std::vector<bool>& told) {
    // forces near one another share nodes: each block is gone through once
    std::map<TipNode, Eigen::Vector3f> at_nodes;
    told.clear();
    for (const TipForce& force : forces) {
        const auto shares = shares_of(mesh_, force.place);
        told.push_back(std::all_of(shares.begin(), shares.end(),
                                   [this](const auto& share) { return blocks_.contains(share.first); }));
        if (!told.back()) continue;
        const Eigen::Vector3f whole = Eigen::Vector3d(force.force_n.x, force.force_n.y, force.force_n.z).cast<float>();
        for (const auto& [node, share] : shares)
            at_nodes.try_emplace(node, Eigen::Vector3f::Zero()).first->second += static_cast<float>(share) * whole;
    }
    skin_m.setZero(3 * mesh_.columns());
    ++now_;
    for (const auto& [node, force_n] : at_nodes) {
        Kept& kept = blocks_.at(node);
        kept.read = now_;
        skin_m.noalias() += kept.block.skin_m_per_n * force_n;
    }
}

}  // namespace sim::fe
