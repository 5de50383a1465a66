#include "sim/tissue/hex_mesh.hpp"

#include <algorithm>
#include <cmath>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/skin_field.hpp"
#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

// Where the grid of the anatomy answers for itself (sim/anatomy/README.md), a little inside its faces.
constexpr Vec3 kGridLowM{-0.087, -0.181, -0.059}, kGridHighM{0.087, 0.069, 0.117};

constexpr double kMostOffBaseM = 7.0 * kMm;  ///< skin further than this from the base shape is a feature left out
constexpr double kLeastCellM = 0.25 * kMm;
constexpr double kGlideM = 1.5 * kMm;      ///< of the glide space where there is room; assumed, 1 to 3 mm
constexpr double kGlideShare = 0.4;        ///< of the deep fat that it takes at most
constexpr double kLeastDeepM = 1.6 * kMm;  ///< of deep fat and muscle together, so that a column has room

/// Thicknesses of a column's cells, from the floor up.
using Stack = std::array<double, kCellsDeep>;

struct StackSum {
    Stack v{};
    friend StackSum operator+(StackSum a, const StackSum& b) {
        for (std::size_t k = 0; k < a.v.size(); ++k) a.v[k] += b.v[k];
        return a;
    }
    friend StackSum operator*(double f, StackSum a) {
        for (double& x : a.v) x *= f;
        return a;
    }
};

bool in_grid(const Vec3& p) {
    for (int k = 0; k < 3; ++k)
        if (!(p[k] > kGridLowM[k] && p[k] < kGridHighM[k])) return false;
    return true;
}

/// How far outside the base shape the skin lies along its normal.
double skin_over_base_m(const SkinField& skin, const Vec3& base_m, const Vec3& outward) {
    constexpr int kRounds = 8;
    double t = 0.0;
    for (int i = 0; i < kRounds; ++i) {
        const Vec3 p = base_m + t * outward;
        t -= static_cast<double>(skin.value_mm(glm::vec3(p / kMm))) * kMm;
        t = std::clamp(t, -kMostOffBaseM, kMostOffBaseM);
    }
    return t;
}

/// Way along the column to where the depth below the skin equals the bottom of a layer there.
double way_to_bottom_m(const HeadTissue& tissue, const Vec3& top_m, const Vec3& inward, std::size_t bottom) {
    constexpr double kStepM = 0.5 * kMm, kFarM = 40.0 * kMm;
    constexpr int kHalvings = 16;
    const auto past = [&](double way) {
        const LayerPoint at = tissue.layers_at(top_m + way * inward);
        return at.depth_m >= at.bottom_m[bottom];
    };
    double far = kStepM;
    while (far < kFarM && !past(far)) far += kStepM;
    double near = far - kStepM;
    for (int i = 0; i < kHalvings; ++i) {
        const double middle = 0.5 * (near + far);
        (past(middle) ? far : near) = middle;
    }
    return far;
}

StackSum stack_at(const HeadTissue& tissue, const Vec3& top_m, const Vec3& inward) {
    std::array<double, kTissueLayers> way{};
    for (std::size_t k = 0; k < way.size(); ++k) way[k] = way_to_bottom_m(tissue, top_m, inward, k);
    const auto between = [&](std::size_t k) { return std::max(way[k] - (k > 0 ? way[k - 1] : 0.0), kLeastCellM); };
    const double deep = std::max(between(3), 0.6 * kLeastDeepM);
    const double muscle = std::max(between(4), 0.4 * kLeastDeepM);
    const double glide = std::min(kGlideM, kGlideShare * deep);
    const double fat = std::max(between(1), 2.0 * kLeastCellM);
    return {{muscle, deep - glide, glide, between(2), 0.5 * fat, 0.5 * fat, between(0)}};
}

/// Columns outside the grid repeat the nearest column inside, found along the chart in rings.
void fill_outside(const Chart& chart, const std::vector<char>& known, std::vector<StackSum>& stacks) {
    for (int j = 0; j < chart.high; ++j)
        for (int i = 0; i < chart.wide; ++i) {
            if (known[chart.at(i, j)]) continue;
            double nearest = 1e30;
            std::size_t from = chart.at(i, j);
            for (int b = 0; b < chart.high; ++b)
                for (int a = 0; a < chart.wide; ++a) {
                    if (!known[chart.at(a, b)]) continue;
                    const Vec3 off = chart.base_m[chart.at(a, b)] - chart.base_m[chart.at(i, j)];
                    const double d = glm::dot(off, off);
                    if (d < nearest) nearest = d, from = chart.at(a, b);
                }
            stacks[chart.at(i, j)] = stacks[from];
        }
}

void add_cells(HexMesh& mesh) {
    const int wide = mesh.chart.wide;
    for (int j = 0; j + 1 < mesh.chart.high; ++j)
        for (int i = 0; i + 1 < wide; ++i)
            for (int k = 0; k < kCellsDeep; ++k) {
                // t runs down and s to the left: a round (i, j) -> (i, j+1) -> ... is counter-clockwise from outside
                const std::array<int, 4> round{j * wide + i, (j + 1) * wide + i, (j + 1) * wide + i + 1,
                                               j * wide + i + 1};
                std::array<int, 8> cell{};
                for (std::size_t a = 0; a < 4; ++a) {
                    cell[a] = mesh.node(round[a], k);
                    cell[a + 4] = mesh.node(round[a], k + 1);
                }
                mesh.cells.cell.push_back(cell);
            }
}

/// Set the nodes below a column's top.
void place_column(HexMesh& mesh, std::size_t column, const StackSum& stack) {
    const std::size_t first = column * kLevels;
    const Vec3 top = mesh.cells.node_m[first + kCellsDeep];
    double depth = 0.0;
    for (std::size_t level = kCellsDeep; level-- > 0;) {
        depth += stack.v[level];
        mesh.depth_m[first + level] = depth;
        mesh.cells.node_m[first + level] = top + depth * mesh.inward[column];
    }
}

/// Columns of cells that are too skewed, and the columns next to them.
std::vector<char> columns_to_mend(const HexMesh& mesh) {
    constexpr double kAim = kJacobianLimit + 0.05;
    const Chart& chart = mesh.chart;
    std::vector<char> bad(static_cast<std::size_t>(mesh.columns()), 0);
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        if (scaled_jacobian(mesh.cells.nodes_of(c)) >= kAim) continue;
        for (const int node : mesh.cells.cell[c]) bad[static_cast<std::size_t>(node / kLevels)] = 1;
    }
    std::vector<char> wide = bad;
    for (int j = 0; j < chart.high; ++j)
        for (int i = 0; i < chart.wide; ++i) {
            if (!bad[chart.at(i, j)]) continue;
            for (int b = std::max(j - 1, 0); b <= std::min(j + 1, chart.high - 1); ++b)
                for (int a = std::max(i - 1, 0); a <= std::min(i + 1, chart.wide - 1); ++a) wide[chart.at(a, b)] = 1;
        }
    return wide;
}

/// Even out the skin itself where it steps too steeply for proper cells, as between a full and an empty side.
void even_tops(HexMesh& mesh, const std::vector<char>& bad) {
    std::vector<Vec3> tops;
    for (std::size_t c = 0; c < bad.size(); ++c) tops.push_back(mesh.cells.node_m[c * kLevels + kCellsDeep]);
    smooth_over(mesh.chart, tops, 1);
    for (int j = 1; j + 1 < mesh.chart.high; ++j)
        for (int i = 1; i + 1 < mesh.chart.wide; ++i) {
            const std::size_t c = mesh.chart.at(i, j);
            if (!bad[c]) continue;
            Vec3& top = mesh.cells.node_m[c * kLevels + kCellsDeep];
            mesh.mended_top_m = std::max(mesh.mended_top_m, glm::length(tops[c] - top));
            top = tops[c];
        }
}

/// Where the floor drops away too steeply for a proper cell (rim of the orbit, behind the jaw, the angle under the
/// chin), even out and draw in the deep layers until no cell is too skewed. What that changed is kept.
void mend(HexMesh& mesh, std::vector<StackSum>& stacks) {
    constexpr int kMostRounds = 160, kTopEach = 4;
    constexpr double kDrawIn = 0.97;
    const std::vector<StackSum> before = stacks;
    for (int round = 0; round < kMostRounds; ++round) {
        const std::vector<char> bad = columns_to_mend(mesh);
        if (std::find(bad.begin(), bad.end(), 1) == bad.end()) break;
        std::vector<StackSum> even = stacks;
        std::vector<Vec3> inward = mesh.inward;
        smooth_over(mesh.chart, even, 1);
        smooth_over(mesh.chart, inward, 1);
        if (round % kTopEach == kTopEach - 1) even_tops(mesh, bad);
        for (std::size_t c = 0; c < stacks.size(); ++c) {
            if (!bad[c]) continue;
            stacks[c] = even[c];
            mesh.inward[c] = glm::normalize(inward[c]);
            for (std::size_t k = 0; k < 2; ++k)  // muscle and deep fat
                stacks[c].v[k] = std::max(kDrawIn * stacks[c].v[k], std::min(stacks[c].v[k], 0.5 * kLeastDeepM));
            place_column(mesh, c, stacks[c]);
        }
    }
    const auto total = [](const StackSum& stack) {
        double sum = 0.0;
        for (const double v : stack.v) sum += v;
        return sum;
    };
    for (std::size_t c = 0; c < stacks.size(); ++c) {
        const double change = std::abs(total(stacks[c]) - total(before[c]));
        if (change > 0.1 * kMm) ++mesh.mended_columns;
        mesh.mended_most_m = std::max(mesh.mended_most_m, change);
    }
}

}  // namespace

std::string_view name_of(CellLayer layer) {
    constexpr std::string_view kNames[] = {"muscle",     "deep fat",   "glide space", "SMAS",
                                           "fat, lower", "fat, upper", "skin"};
    return kNames[static_cast<std::size_t>(layer)];
}

HexMesh build_mesh(const HeadTissue& tissue, const ChartSettings& settings) {
    constexpr int kSkinRounds = 2, kStackRounds = 6;
    HexMesh mesh;
    mesh.chart = build_chart(tissue.skin_field(), settings);
    const Chart& chart = mesh.chart;
    const auto columns = static_cast<std::size_t>(mesh.columns());

    std::vector<double> over(columns);
    for (std::size_t c = 0; c < columns; ++c)
        over[c] = skin_over_base_m(tissue.skin_field(), chart.base_m[c], chart.outward[c]);
    smooth_over(chart, over, kSkinRounds);

    std::vector<StackSum> stacks(columns);
    std::vector<char> known(columns, 0);
    for (std::size_t c = 0; c < columns; ++c) {
        const Vec3 top = chart.base_m[c] + over[c] * chart.outward[c];
        if (!in_grid(top)) continue;
        known[c] = 1;
        stacks[c] = stack_at(tissue, top, -chart.outward[c]);
    }
    fill_outside(chart, known, stacks);
    smooth_over(chart, stacks, kStackRounds);

    mesh.cells.node_m.resize(columns * kLevels);
    mesh.depth_m.resize(columns * kLevels);
    std::vector<char> held(columns * kLevels, 0);
    for (std::size_t c = 0; c < columns; ++c) {
        held[c * kLevels] = 1;
        mesh.inward.push_back(-chart.outward[c]);
        mesh.cells.node_m[c * kLevels + kCellsDeep] = chart.base_m[c] + over[c] * chart.outward[c];
        place_column(mesh, c, stacks[c]);
    }
    mesh.cells.hold(held);
    add_cells(mesh);
    mend(mesh, stacks);
    return mesh;
}

MeshQuality quality_of(const HexMesh& mesh) {
    const CellMesh& cells = mesh.cells;
    MeshQuality q;
    q.cells = static_cast<int>(cells.cell.size());
    q.nodes = static_cast<int>(cells.node_m.size());
    q.unknowns = cells.unknowns();
    std::vector<double> jacobian;
    q.least_jacobian = 2.0;
    for (std::size_t c = 0; c < cells.cell.size(); ++c) {
        jacobian.push_back(scaled_jacobian(cells.nodes_of(c)));
        if (!(jacobian.back() < q.least_jacobian)) continue;
        q.least_jacobian = jacobian.back();
        q.worst_m = Vec3(0.0);
        for (const Vec3& p : cells.nodes_of(c)) q.worst_m += 0.125 * p;
        q.worst_layer = static_cast<int>(c) % kCellsDeep;
    }
    q.share_under_limit = static_cast<double>(std::count_if(jacobian.begin(), jacobian.end(),
                                                            [](double v) { return v < kJacobianLimit; })) /
                          static_cast<double>(jacobian.size());
    std::sort(jacobian.begin(), jacobian.end());
    q.percentile_1_jacobian = jacobian[jacobian.size() / 100];

    const Chart& chart = mesh.chart;
    double edges = 0.0;
    int count = 0;
    std::array<std::vector<double>, kCellsDeep> thickness;
    for (int j = chart.top; j <= chart.bottom; ++j)
        for (int i = chart.left; i <= chart.right; ++i) {
            const int column = static_cast<int>(chart.at(i, j));
            for (int k = 0; k < kCellsDeep; ++k)
                thickness[static_cast<std::size_t>(k)].push_back(mesh.thickness_m(column, static_cast<CellLayer>(k)));
            const auto skin = [&](int c) { return cells.node_m[static_cast<std::size_t>(mesh.node(c, kCellsDeep))]; };
            if (i < chart.right) edges += glm::length(skin(column + 1) - skin(column)), ++count;
            if (j < chart.bottom) edges += glm::length(skin(column + chart.wide) - skin(column)), ++count;
        }
    q.edge_mean_m = edges / count;
    for (std::size_t k = 0; k < thickness.size(); ++k) {
        std::sort(thickness[k].begin(), thickness[k].end());
        q.thickness[k] = {thickness[k].front(), thickness[k][thickness[k].size() / 2], thickness[k].back()};
    }
    return q;
}

}  // namespace sim::fe
