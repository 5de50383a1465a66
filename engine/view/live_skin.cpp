#include "engine/view/live_skin.hpp"

#include <algorithm>
#include <cmath>
#include <glm/geometric.hpp>
#include <limits>

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr float kSeenFromMm = 0.04f, kSeenWholeMm = 0.15f;  // a pixel is 0.2 mm from near: less is not seen; by eye
constexpr std::uint32_t kNone = std::numeric_limits<std::uint32_t>::max();
constexpr int kReachColumns = 2;  // further no vertex reads from the column that it follows most

/// The part of a motion that is shown: little ones fade out, so that they end somewhere.
float shown_share(float size_mm) {
    const float x = std::clamp((size_mm - kSeenFromMm) / (kSeenWholeMm - kSeenFromMm), 0.0f, 1.0f);
    return x * x * (3.0f - 2.0f * x);
}

}  // namespace

SkinFollower::SkinFollower(const sim::fe::HexMesh& mesh, const std::vector<sim::fe::FollowWeights>& weights)
    : mesh_(mesh), weights_(weights), grid_(mesh.chart) {
    for (const sim::fe::FollowWeights& part : weights) {
        std::vector<std::uint32_t>& main = main_column_.emplace_back(part.places(), kNone);
        for (std::size_t place = 0; place < part.places(); ++place) {
            float most = 0.0f;
            for (std::uint32_t k = part.first[place]; k < part.first[place + 1]; ++k)
                if (part.weight[k] > most) most = part.weight[k], main[place] = part.column[k];
        }
    }
    for (int c = 0; c < mesh.columns(); ++c)
        top_mm_.emplace_back(glm::vec3(mesh.cells.node_m[static_cast<std::size_t>(mesh.node(c, sim::fe::kCellsDeep))]) *
                             kMmPerM);
    column_ = Eigen::Matrix<float, 8, Eigen::Dynamic>::Zero(8, mesh.columns());
    near_.assign(static_cast<std::size_t>(mesh.columns()), false);
    normal_.assign(top_mm_.size(), glm::vec3(0.0f));
    for (int j = 1; j + 1 < mesh.chart.high; ++j)
        for (int i = 1; i + 1 < mesh.chart.wide; ++i) {
            const glm::vec3 along_s = top_mm_[mesh.chart.at(i + 1, j)] - top_mm_[mesh.chart.at(i - 1, j)];
            const glm::vec3 along_t = top_mm_[mesh.chart.at(i, j + 1)] - top_mm_[mesh.chart.at(i, j - 1)];
            normal_[mesh.chart.at(i, j)] = glm::normalize(glm::cross(along_t, along_s));  // t runs down, s to the left
        }
    place_spots();
    detail_ = Eigen::Matrix<float, 8, Eigen::Dynamic>::Zero(8, grid_.nodes());
}

void SkinFollower::place_spots() {
    for (const sim::fe::FollowWeights& part : weights_) {
        std::vector<Spot>& spots = spot_.emplace_back();
        spots.reserve(part.places());
        for (const sim::fe::FollowWeights::Spot& at : part.spot) {
            const sim::fe::FineGrid::Place place =
                grid_.place_of(mesh_.chart, static_cast<double>(at.s_m), static_cast<double>(at.t_m));
            spots.push_back({static_cast<std::uint32_t>(place.node), static_cast<float>(place.along),
                             static_cast<float>(place.below), at.share});
        }
    }
}

/// How far columns move and their skin turns.
void SkinFollower::see_columns(const Eigen::VectorXf& skin_m) {
    const sim::fe::Chart& chart = mesh_.chart;
    column_.setZero();
    std::fill(near_.begin(), near_.end(), false);
    for (int j = 0; j < chart.high; ++j)
        for (int i = 0; i < chart.wide; ++i) {
            const auto c = static_cast<Eigen::Index>(chart.at(i, j));
            const Eigen::Vector3f move = skin_m.segment<3>(3 * c) * kMmPerM;
            const float share = shown_share(move.norm());
            if (!(share > 0.0f)) continue;
            column_.col(c).head<3>() = share * move;
            for (int b = std::max(j - kReachColumns, 0); b <= std::min(j + kReachColumns, chart.high - 1); ++b)
                for (int a = std::max(i - kReachColumns, 0); a <= std::min(i + kReachColumns, chart.wide - 1); ++a)
                    near_[chart.at(a, b)] = true;
        }
    const auto now = [&](int i, int j) {
        const std::size_t c = chart.at(i, j);
        const auto move = column_.col(static_cast<Eigen::Index>(c));
        return top_mm_[c] + glm::vec3(move[0], move[1], move[2]);
    };
    for (int j = 1; j + 1 < chart.high; ++j)
        for (int i = 1; i + 1 < chart.wide; ++i) {
            const std::size_t c = chart.at(i, j);
            if (!near_[c]) continue;
            const glm::vec3 normal =
                glm::normalize(glm::cross(now(i, j + 1) - now(i, j - 1), now(i + 1, j) - now(i - 1, j)));
            const glm::vec3 turn = normal - normal_[c];
            column_.col(static_cast<Eigen::Index>(c)).segment<3>(4) = Eigen::Vector3f(turn.x, turn.y, turn.z);
        }
}

/// How far fine nodes move beside what columns do, and how that turns the skin: the sheet between columns for its rest.
void SkinFollower::see_detail(const Eigen::VectorXf& detail_m) {
    if (any_detail_) detail_.setZero();
    any_detail_ = detail_m.size() > 0 && (detail_m.array() != 0.0f).any();
    if (!any_detail_) return;
    for (Eigen::Index node = 0; node < grid_.nodes(); ++node)
        detail_.col(node).head<3>() = detail_m.segment<3>(3 * node) * kMmPerM;
    const auto rest = [&](int i, int j) {  // halfway between columns, or on one
        const std::size_t a = mesh_.chart.at(i / 2, j / 2), b = mesh_.chart.at((i + 1) / 2, (j + 1) / 2);
        return 0.5f * (top_mm_[a] + top_mm_[b]);
    };
    const auto moved = [&](int i, int j) {
        const auto move = detail_.col(j * grid_.wide + i);
        return glm::vec3(move[0], move[1], move[2]);
    };
    for (int j = 1; j + 1 < grid_.high; ++j)
        for (int i = 1; i + 1 < grid_.wide; ++i) {
            const glm::vec3 more_s = moved(i + 1, j) - moved(i - 1, j), more_t = moved(i, j + 1) - moved(i, j - 1);
            if (more_s == glm::vec3(0.0f) && more_t == glm::vec3(0.0f)) continue;
            const glm::vec3 along_s = rest(i + 1, j) - rest(i - 1, j), along_t = rest(i, j + 1) - rest(i, j - 1);
            const glm::vec3 turn = glm::normalize(glm::cross(along_t + more_t, along_s + more_s)) -
                                   glm::normalize(glm::cross(along_t, along_s));
            detail_.col(j * grid_.wide + i).segment<3>(4) = Eigen::Vector3f(turn.x, turn.y, turn.z);
        }
}

void SkinFollower::add_detail(const Spot& spot, Eigen::Matrix<float, 8, 1>& sum) const {
    const auto node = static_cast<Eigen::Index>(spot.node);
    sum += spot.share *
           ((1.0f - spot.below) * ((1.0f - spot.along) * detail_.col(node) + spot.along * detail_.col(node + 1)) +
            spot.below * ((1.0f - spot.along) * detail_.col(node + grid_.wide) +
                          spot.along * detail_.col(node + grid_.wide + 1)));
}

std::shared_ptr<const VertexMoves> SkinFollower::moves_of(std::size_t part) const {
    const sim::fe::FollowWeights& weights = weights_[part];
    const std::vector<std::uint32_t>& main = main_column_[part];
    auto out = std::make_shared<VertexMoves>();
    float most = 0.0f;
    for (std::size_t place = 0; place < main.size(); ++place) {
        if (main[place] == kNone || !near_[main[place]]) continue;
        Eigen::Matrix<float, 8, 1> sum = Eigen::Matrix<float, 8, 1>::Zero();
        for (std::uint32_t k = weights.first[place]; k < weights.first[place + 1]; ++k)
            sum += weights.weight[k] * column_.col(static_cast<Eigen::Index>(weights.column[k]));
        if (any_detail_) add_detail(spot_[part][place], sum);
        out->vertex.push_back(static_cast<std::uint32_t>(place));
        out->move_mm.emplace_back(sum[0], sum[1], sum[2]);
        out->turn.emplace_back(sum[4], sum[5], sum[6]);
        most = std::max(most, sum.head<3>().squaredNorm());
    }
    if (out->vertex.empty()) return nullptr;
    out->most_mm = std::sqrt(most);
    return out;
}

std::vector<std::shared_ptr<const VertexMoves>> SkinFollower::moves(const Eigen::VectorXf& skin_m,
                                                                    const Eigen::VectorXf& detail_m) {
    see_columns(skin_m);
    see_detail(detail_m);
    std::vector<std::shared_ptr<const VertexMoves>> out;
    for (std::size_t part = 0; part < weights_.size(); ++part) out.push_back(moves_of(part));
    return out;
}

}  // namespace view
