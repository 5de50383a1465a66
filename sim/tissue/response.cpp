#include "sim/tissue/response.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>

#include <glm/mat3x3.hpp>
#include <glm/matrix.hpp>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

Vec3 node_position(const HexMesh& mesh, int column, double level) {
    const int low = std::clamp(static_cast<int>(std::floor(level)), 0, kCellsDeep - 1);
    const double f = level - low;
    const Vec3& a = mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, low))];
    const Vec3& b = mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, low + 1))];
    return a + f * (b - a);
}

/// The level at a depth below the top of a column, between the four corners of a cell.
double level_at(const HexMesh& mesh, const ChartCell& cell, double depth_m) {
    std::array<double, kLevels> depth{};
    for (const auto& [column, weight] : corners(mesh.chart, cell))
        for (int k = 0; k < kLevels; ++k)
            depth[static_cast<std::size_t>(k)] += weight * mesh.depth_m[static_cast<std::size_t>(mesh.node(column, k))];
    std::size_t k = kCellsDeep;
    while (k > 1 && depth[k - 1] < depth_m) --k;
    return static_cast<double>(k) - (depth_m - depth[k]) / (depth[k - 1] - depth[k]);
}

}  // namespace

namespace {

/// Newton's method on the place itself: within a cell the columns fan out, which depth along one column leaves out.
void refine(const HexMesh& mesh, const Vec3& p_m, ChartPlace& place) {
    constexpr int kRounds = 3;
    constexpr double kStepM = 0.05 * kMm, kStepLevel = 0.01;
    for (int round = 0; round < kRounds; ++round) {
        const Vec3 here = position_m(mesh, place);
        const Vec3 by_s = (position_m(mesh, {place.s_m + kStepM, place.t_m, place.level}) - here) / kStepM;
        const Vec3 by_t = (position_m(mesh, {place.s_m, place.t_m + kStepM, place.level}) - here) / kStepM;
        const double up = place.level < 0.5 * kCellsDeep ? kStepLevel : -kStepLevel;
        const Vec3 by_level = (position_m(mesh, {place.s_m, place.t_m, place.level + up}) - here) / up;
        const Vec3 step = glm::inverse(glm::dmat3(by_s, by_t, by_level)) * (p_m - here);
        place.s_m += step.x;
        place.t_m += step.y;
        place.level = std::clamp(place.level + step.z, 0.0, static_cast<double>(kCellsDeep));
    }
}

}  // namespace

Vec3 position_m(const HexMesh& mesh, const ChartPlace& place) {
    Vec3 sum{};
    for (const auto& [column, weight] : corners(mesh.chart, cell_of(mesh.chart, place.s_m, place.t_m)))
        sum += weight * node_position(mesh, column, place.level);
    return sum;
}

namespace {

/// A few steps from a column to the place between columns. @param depth_m below the columns' tops
/// @return what is left between the place and the point
Vec3 step_between_columns(const HexMesh& mesh, const Vec3& p_m, double& s, double& t, double& depth_m) {
    constexpr int kRounds = 12;
    const Chart& chart = mesh.chart;
    Vec3 miss{};
    for (int round = 0; round < kRounds; ++round) {
        const ChartCell cell = cell_of(chart, s, t);
        Vec3 top{}, inward{}, by_a{}, by_b{};
        const auto column_point = [&](int i, int j) {
            const auto c = static_cast<std::size_t>(chart.at(i, j));
            return mesh.cells.node_m[c * kLevels + kCellsDeep] + depth_m * mesh.inward[c];
        };
        for (const auto& [column, weight] : corners(chart, cell)) {
            top += weight * mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, kCellsDeep))];
            inward += weight * mesh.inward[static_cast<std::size_t>(column)];
        }
        by_a = (1.0 - cell.b) * (column_point(cell.i + 1, cell.j) - column_point(cell.i, cell.j)) +
               cell.b * (column_point(cell.i + 1, cell.j + 1) - column_point(cell.i, cell.j + 1));
        by_b = (1.0 - cell.a) * (column_point(cell.i, cell.j + 1) - column_point(cell.i, cell.j)) +
               cell.a * (column_point(cell.i + 1, cell.j + 1) - column_point(cell.i + 1, cell.j));
        miss = p_m - top - depth_m * inward;
        const Vec3 step = glm::inverse(glm::dmat3(by_a, by_b, inward)) * miss;
        if (!std::isfinite(step.x + step.y + step.z)) break;  // deep inside, where columns meet
        const auto i = static_cast<std::size_t>(cell.i);
        const auto j = static_cast<std::size_t>(cell.j);
        s = std::clamp(s + std::clamp(step.x, -1.5, 1.5) * (chart.s_m[i + 1] - chart.s_m[i]), chart.s_m.front(),
                       chart.s_m.back());
        t = std::clamp(t + std::clamp(step.y, -1.5, 1.5) * (chart.t_m[j + 1] - chart.t_m[j]), chart.t_m.front(),
                       chart.t_m.back());
        depth_m += step.z;
        if (glm::length(miss) < 1e-9) break;
    }
    return miss;
}

/// From a point to a column, which may be drawn out beyond the skin.
double distance_to_column_m(const HexMesh& mesh, int column, const Vec3& p_m, double beyond_m) {
    const Vec3& top = mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, kCellsDeep))];
    const Vec3& inward = mesh.inward[static_cast<std::size_t>(column)];
    const double way = std::clamp(glm::dot(p_m - top, inward), -beyond_m,
                                  mesh.depth_m[static_cast<std::size_t>(mesh.node(column, 0))]);
    return glm::length(p_m - top - way * inward);
}

int nearest_column(const HexMesh& mesh, const Vec3& p_m) {
    double nearest = std::numeric_limits<double>::infinity();
    int found = 0;
    for (int c = 0; c < mesh.columns(); ++c) {
        const double d = distance_to_column_m(mesh, c, p_m, 0.0);
        if (d < nearest) nearest = d, found = c;
    }
    return found;
}

}  // namespace

std::optional<ChartPlace> locate(const HexMesh& mesh, const Vec3& p_m) {
    constexpr double kFarM = 8.0 * kMm;
    const Chart& chart = mesh.chart;
    const int start = nearest_column(mesh, p_m);
    double s = chart.s_m[static_cast<std::size_t>(start % chart.wide)];
    double t = chart.t_m[static_cast<std::size_t>(start / chart.wide)];
    double depth = 0.0;
    const Vec3 miss = step_between_columns(mesh, p_m, s, t, depth);
    if (!(glm::length(miss) < 0.5 * kMm) || !(depth > -kFarM)) return std::nullopt;
    ChartPlace place{s, t, level_at(mesh, cell_of(chart, s, t), std::max(depth, 0.0))};
    if (place.level > 0.0) refine(mesh, p_m, place);
    if (place.level < 0.0) {
        if (!(glm::length(position_m(mesh, {s, t, 0.0}) - p_m) < kFarM)) return std::nullopt;
        place.level = 0.0;
    }
    return place;
}

ColumnPlace ColumnFinder::find(const Vec3& p_m) {
    // columns are drawn out so far that nose and ears lie on some; a walk that ends far from its column has gone astray
    constexpr double kBeyondM = 40.0 * kMm, kAstrayM = 12.0 * kMm;
    constexpr int kEach = 4;  // columns apart, where a walk begins anew
    const Chart& chart = mesh_.chart;
    const auto distance_m = [&](int column) { return distance_to_column_m(mesh_, column, p_m, kBeyondM); };
    const auto climb = [&](int from) {
        std::pair best(distance_m(from), from);
        for (bool moved = true; moved;) {
            const int i = best.second % chart.wide;
            const int j = best.second / chart.wide;
            moved = false;
            for (int b = std::max(j - 1, 0); b <= std::min(j + 1, chart.high - 1); ++b)
                for (int a = std::max(i - 1, 0); a <= std::min(i + 1, chart.wide - 1); ++a) {
                    const std::pair next(distance_m(b * chart.wide + a), b * chart.wide + a);
                    if (next.first < best.first) best = next, moved = true;
                }
        }
        return best;
    };
    std::pair found(std::numeric_limits<double>::infinity(), 0);
    if (last_ >= 0) found = climb(last_);
    if (!(found.first < kAstrayM)) {
        std::pair start(std::numeric_limits<double>::infinity(), 0);
        for (int j = 0; j < chart.high; j += kEach)
            for (int i = 0; i < chart.wide; i += kEach)
                start = std::min(start, std::pair(distance_m(j * chart.wide + i), j * chart.wide + i));
        found = std::min(found, climb(start.second));
    }
    last_ = found.second;
    ColumnPlace out;
    out.s_m = chart.s_m[static_cast<std::size_t>(last_ % chart.wide)];
    out.t_m = chart.t_m[static_cast<std::size_t>(last_ / chart.wide)];
    out.off_m = glm::length(step_between_columns(mesh_, p_m, out.s_m, out.t_m, out.depth_m));
    return out;
}

ChartMetric metric_at(const HexMesh& mesh, const ChartPlace& place) {
    constexpr double kStepM = 2.0 * kMm;
    ChartMetric out;
    const Vec3 s = position_m(mesh, {place.s_m + kStepM, place.t_m, place.level}) -
                   position_m(mesh, {place.s_m - kStepM, place.t_m, place.level});
    const Vec3 t = position_m(mesh, {place.s_m, place.t_m + kStepM, place.level}) -
                   position_m(mesh, {place.s_m, place.t_m - kStepM, place.level});
    out.m_per_s = glm::length(s) / (2.0 * kStepM);
    out.m_per_t = glm::length(t) / (2.0 * kStepM);
    out.along_s = glm::normalize(s);
    out.along_t = glm::normalize(t);
    return out;
}

Patch patch_at(const HexMesh& mesh, const ChartPlace& place, double sigma_m) {
    constexpr double kStepShare = 0.25;  // of sigma between samples
    constexpr int kReach = 12;           // samples to each side: three sigma
    const ChartMetric metric = metric_at(mesh, place);
    const int low = std::clamp(static_cast<int>(std::floor(place.level)), 0, kCellsDeep - 1);
    const double upper = std::clamp(place.level - low, 0.0, 1.0);
    std::vector<std::pair<int, double>> gathered;
    double sum = 0.0;
    double held = 0.0;
    for (int a = -kReach; a <= kReach; ++a)
        for (int b = -kReach; b <= kReach; ++b) {
            if (a * a + b * b > kReach * kReach) continue;
            const double weight = std::exp(-0.5 * kStepShare * kStepShare * (a * a + b * b));
            sum += weight;
            const double step = kStepShare * sigma_m;
            const ChartCell cell = cell_of(
                mesh.chart,
                std::clamp(place.s_m + a * step / metric.m_per_s, mesh.chart.s_m.front(), mesh.chart.s_m.back()),
                std::clamp(place.t_m + b * step / metric.m_per_t, mesh.chart.t_m.front(), mesh.chart.t_m.back()));
            for (const auto& [column, share] : corners(mesh.chart, cell))
                for (const auto& [level, part] : {std::pair(low, 1.0 - upper), std::pair(low + 1, upper)}) {
                    const double w = weight * share * part;
                    if (w == 0.0) continue;
                    if (level == 0)
                        held += w;
                    else
                        gathered.emplace_back(mesh.free_node(column, level), w);
                }
        }
    std::stable_sort(gathered.begin(), gathered.end(), [](const auto& x, const auto& y) { return x.first < y.first; });
    Patch out;
    out.held = held / sum;
    for (const auto& [node, weight] : gathered) {
        if (out.weight.empty() || out.weight.back().first != node) out.weight.emplace_back(node, 0.0);
        out.weight.back().second += weight / sum;
    }
    return out;
}

Vec3 read(const Patch& patch, const Eigen::VectorXd& displacement_m) {
    Vec3 sum{};
    for (const auto& [node, weight] : patch.weight)
        for (int r = 0; r < 3; ++r) sum[r] += weight * displacement_m[3 * node + r];
    return sum;
}

Eigen::VectorXd skin_rows(const HexMesh& mesh, const Eigen::VectorXd& whole_m) {
    Eigen::VectorXd out(3 * mesh.columns());
    for (int c = 0; c < mesh.columns(); ++c)
        out.segment<3>(3 * c) = whole_m.segment<3>(3 * mesh.free_node(c, kCellsDeep));
    return out;
}

namespace {

/// The factor, whose trouble is told by place: an unknown's number says nothing to anybody.
Factor factor_of(const HexMesh& mesh, const LayeredBody& body) {
    try {
        return {stiffness_of(mesh, body, ElementForm::mean_dilatation, true), elimination_order(mesh)};
    } catch (const FactorError& error) {
        if (!error.unknown()) throw;
        const int column = *error.unknown() / (3 * kCellsDeep);
        const int level = *error.unknown() % (3 * kCellsDeep) / 3 + 1;
        const Vec3 p = mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, level))] / kMm;
        char where[96];
        std::snprintf(where, sizeof where, ", at %.0f %.0f %.0f mm, level %d of %d from the floor", p.x, p.y, p.z,
                      level, kCellsDeep);
        throw FactorError(error.trouble(), error.what() + std::string(where), error.unknown());
    }
}

}  // namespace

Response::Response(const HexMesh& mesh, const LayeredBody& body) : factor_(factor_of(mesh, body)) {}

void Response::each_batch(const SparseColumns& columns,
                          const std::function<void(int, const Eigen::Ref<const Eigen::MatrixXd>&)>& take) {
    constexpr int kBatch = 48;  // fixed: the width of a solve changes its last bits
    Eigen::MatrixXd load(columns.rows(), kBatch);
    for (int first = 0; first < columns.cols(); first += kBatch) {
        load.setZero();
        const int count = std::min(kBatch, static_cast<int>(columns.cols()) - first);
        for (int k = 0; k < count; ++k)
            for (SparseColumns::InnerIterator it(columns, first + k); it; ++it) load(it.row(), k) = it.value();
        const Eigen::MatrixXd moved = factor_.solve(load);
        take(first, moved.leftCols(count));
    }
}

Eigen::MatrixXd Response::cross_compliance(const SparseColumns& columns, const SparseColumns& others) {
    const SparseColumns transposed = columns.transpose();
    Eigen::MatrixXd out(columns.cols(), others.cols());
    each_batch(others, [&](int first, const Eigen::Ref<const Eigen::MatrixXd>& moved) {
        out.middleCols(first, moved.cols()).noalias() = transposed * moved;
    });
    return out;
}

Eigen::MatrixXd Response::compliance(const SparseColumns& columns) {
    const Eigen::MatrixXd c = cross_compliance(columns, columns);
    return 0.5 * (c + c.transpose());
}

}  // namespace sim::fe
