#include "sim/tissue/moved_body.hpp"

#include <algorithm>
#include <cmath>
#include <glm/mat3x3.hpp>
#include <glm/matrix.hpp>

#include "sim/tissue/response.hpp"

namespace sim::fe {

namespace {

constexpr double kFadeM = 30.0 * kMm;     ///< towards the rim; by eye
constexpr double kOutsideM = 25.0 * kMm;  ///< above the skin all moves with it: nose and ears; fades over as much again
constexpr double kSpacingM = 5.0 * kMm;

double smooth(double x) {
    x = std::clamp(x, 0.0, 1.0);
    return x * x * (3.0 - 2.0 * x);
}

/// 1 well inside the mesh, 0 at its rim.
double inside_rim(const Chart& chart, double s_m, double t_m) {
    const double s = std::min(s_m - chart.s_m.front(), chart.s_m.back() - s_m);
    const double t = std::min(t_m - chart.t_m.front(), chart.t_m.back() - t_m);
    return smooth(s / kFadeM) * smooth(t / kFadeM);
}

}  // namespace

Vec3 FollowWeights::moved_m(std::size_t place, const Eigen::VectorXd& skin_m) const {
    Vec3 sum{};
    for (std::uint32_t k = first[place]; k < first[place + 1]; ++k) {
        const auto c = static_cast<Eigen::Index>(3 * column[k]);
        sum += static_cast<double>(weight[k]) * Vec3(skin_m[c], skin_m[c + 1], skin_m[c + 2]);
    }
    return sum;
}

void FollowWeights::moved_mm(const Eigen::VectorXd& skin_m, std::vector<glm::vec3>& moved_mm) const {
    // four numbers a column, the last 0, so that a column is one load
    Eigen::Matrix4Xf skin_mm = Eigen::Matrix4Xf::Zero(4, skin_m.size() / 3);
    for (Eigen::Index c = 0; c < skin_mm.cols(); ++c)
        skin_mm.col(c).head<3>() = (skin_m.segment<3>(3 * c) / kMm).cast<float>();
    moved_mm.resize(places());
    for (std::size_t place = 0; place < moved_mm.size(); ++place) {
        Eigen::Vector4f sum = Eigen::Vector4f::Zero();
        for (std::uint32_t k = first[place]; k < first[place + 1]; ++k)
            sum += weight[k] * skin_mm.col(static_cast<Eigen::Index>(column[k]));
        moved_mm[place] = {sum[0], sum[1], sum[2]};
    }
}

FollowWeights follow_skin(const HexMesh& mesh, std::span<const Vec3> places_m, double far_m) {
    FollowWeights out;
    out.first.push_back(0);
    ColumnFinder finder(mesh);
    for (const Vec3& p : places_m) {
        const ColumnPlace place = finder.find(p);
        const double share = inside_rim(mesh.chart, place.s_m, place.t_m) *
                             smooth(2.0 - std::max(std::abs(place.depth_m), place.off_m) / far_m);
        out.spot.push_back(
            {static_cast<float>(place.s_m), static_cast<float>(place.t_m), static_cast<float>(std::max(share, 0.0))});
        if (share > 0.0)
            for (const auto& [node, weight] :
                 patch_at(mesh, {place.s_m, place.t_m, static_cast<double>(kCellsDeep)}).weight) {
                if (node % kCellsDeep != kCellsDeep - 1) continue;  // of the level below, with no weight
                out.column.push_back(static_cast<std::uint32_t>(node / kCellsDeep));
                out.weight.push_back(static_cast<float>(share * weight));
            }
        out.first.push_back(static_cast<std::uint32_t>(out.column.size()));
    }
    return out;
}

ChartLattice::ChartLattice(const HexMesh& mesh) : chart_(mesh.chart), depth_m_(mesh.depth_m), inward_(mesh.inward) {
    Vec3 high(-1e30);
    low_m_ = Vec3(1e30);
    for (int c = 0; c < mesh.columns(); ++c) {
        const Vec3& top = top_m_.emplace_back(mesh.cells.node_m[static_cast<std::size_t>(mesh.node(c, kCellsDeep))]);
        low_m_ = glm::min(low_m_, top);
        high = glm::max(high, top);
    }
    low_m_ -= Vec3(kOutsideM);
    high += Vec3(kOutsideM);
    for (int k = 0; k < 3; ++k)
        size_[static_cast<std::size_t>(k)] = static_cast<int>(std::ceil((high[k] - low_m_[k]) / kSpacingM)) + 1;
    ColumnFinder finder(mesh);
    for (int k = 0; k < size_[2]; ++k)
        for (int j = 0; j < size_[1]; ++j)
            for (int i = 0; i < size_[0]; ++i) {
                const ColumnPlace at = finder.find(low_m_ + kSpacingM * Vec3(i, j, k));
                const double share =
                    inside_rim(chart_, at.s_m, at.t_m) * smooth(2.0 - std::max(-at.depth_m, at.off_m) / kOutsideM);
                nodes_.push_back({static_cast<float>(at.s_m), static_cast<float>(at.t_m),
                                  static_cast<float>(at.depth_m), static_cast<float>(share)});
            }
}

bool ChartLattice::place_of(const Vec3& p_m, Node& out) const {
    std::array<int, 3> cell{};
    std::array<float, 3> f{};
    for (std::size_t k = 0; k < 3; ++k) {
        const double x = (p_m[static_cast<int>(k)] - low_m_[static_cast<int>(k)]) / kSpacingM;
        if (!(x >= 0.0 && x < size_[k] - 1)) return false;
        cell[k] = static_cast<int>(x);
        f[k] = static_cast<float>(x - cell[k]);
    }
    out = {};
    for (int corner = 0; corner < 8; ++corner) {
        std::array<int, 3> at = cell;
        float weight = 1.0f;
        for (std::size_t k = 0; k < 3; ++k) {
            const bool up = (corner >> k & 1) != 0;
            at[k] += up ? 1 : 0;
            weight *= up ? f[k] : 1.0f - f[k];
        }
        const Node& node = nodes_[static_cast<std::size_t>((at[2] * size_[1] + at[1]) * size_[0] + at[0])];
        for (std::size_t k = 0; k < node.size(); ++k) out[k] += weight * node[k];
    }
    return true;
}

Vec3 ChartLattice::moved_m(const Vec3& p_m, const Eigen::VectorXd& displacement_m) const {
    Node at{};
    if (!place_of(p_m, at) || !(at[3] > 0.0f)) return {};
    ChartCell cell = cell_of(chart_, static_cast<double>(at[0]), static_cast<double>(at[1]));
    cell.a = std::clamp(cell.a, 0.0, 1.0);
    cell.b = std::clamp(cell.b, 0.0, 1.0);
    std::array<std::size_t, 4> column{};
    std::array<double, 4> share{};
    for (std::size_t k = 0; k < 4; ++k) {
        const auto [of, own] = corners(chart_, cell)[k];
        column[k] = static_cast<std::size_t>(of);
        share[k] = own;
    }
    // the level at this depth: from the skin down until a level lies deeper; under the floor nothing moves
    const auto depth_of = [&](int level) {
        double depth = 0.0;
        for (std::size_t k = 0; k < 4; ++k)
            depth += share[k] * depth_m_[column[k] * kLevels + static_cast<std::size_t>(level)];
        return depth;
    };
    // between the lattice's nodes depth is a little off where the skin curves, which the glide space would show
    Vec3 top{}, inward{};
    for (std::size_t k = 0; k < 4; ++k) top += share[k] * top_m_[column[k]], inward += share[k] * inward_[column[k]];
    const Vec3 off = p_m - top - static_cast<double>(at[2]) * inward;
    const double depth = std::max(0.0, static_cast<double>(at[2]) + glm::dot(off, inward) / glm::dot(inward, inward));
    int low = kCellsDeep - 1;
    double above_m = 0.0;
    double below_m = depth_of(low);
    while (low > 0 && below_m < depth) {
        above_m = below_m;
        below_m = depth_of(--low);
    }
    const double f = std::clamp((below_m - depth) / (below_m - above_m), 0.0, 1.0);
    Vec3 sum{};
    for (std::size_t k = 0; k < 4; ++k)
        for (const auto& [level, part] : {std::pair(low, 1.0 - f), std::pair(low + 1, f)}) {
            if (level == 0) continue;  // the floor
            const auto n =
                static_cast<Eigen::Index>(3 * (column[k] * kCellsDeep + static_cast<std::size_t>(level) - 1));
            sum += share[k] * part * Vec3(displacement_m[n], displacement_m[n + 1], displacement_m[n + 2]);
        }
    return static_cast<double>(at[3]) * sum;
}

namespace {

/// Slopes of a motion, by differences.
glm::dmat3 slopes_of(const MovedBody& body, const Vec3& p_m, const Vec3& here_m) {
    constexpr double kStepM = 0.2 * kMm;
    glm::dmat3 out(0.0);
    for (int k = 0; k < 3; ++k) {
        Vec3 beside = p_m;
        beside[k] += kStepM;
        out[k] = (body.moved_m(beside) - here_m) / kStepM;
    }
    return out;
}

}  // namespace

Vec3 MovedBody::rest_of(const Vec3& now_m) const {
    // mostly going back by the motion there is enough; where it is steep, Newton's method
    constexpr int kRounds = 6, kSteepRounds = 10;
    constexpr double kCloseM = 1e-5, kMostStepM = 2.0 * kMm;
    Vec3 rest = round_.rest_of(now_m);
    for (int round = 0; round < kRounds + kSteepRounds; ++round) {
        const Vec3 moved = moved_m(rest);
        const Vec3 off = now_m - rest - moved;
        const double far = glm::length(off);
        if (far < kCloseM) break;
        if (round < kRounds) {
            rest = round_.rest_of(now_m - lattice_->moved_m(rest, displacement_m_));
            continue;
        }
        const Vec3 step = glm::inverse(glm::dmat3(1.0) + slopes_of(*this, rest, moved)) * off;
        const double length = glm::length(step);
        if (!std::isfinite(length)) break;
        rest += length > kMostStepM ? step * (kMostStepM / length) : step;
    }
    return rest;
}

}  // namespace sim::fe
