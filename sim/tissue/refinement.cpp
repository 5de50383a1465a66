#include "sim/tissue/refinement.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/tissue/posture.hpp"
#include "sim/tissue/read_out.hpp"

namespace sim::fe {

std::optional<Extrapolated> extrapolate(const std::array<double, 3>& h, const std::array<double, 3>& value) {
    constexpr double kLeastOrder = 0.1, kMostOrder = 8.0;
    constexpr int kHalvings = 60;
    SIM_ASSERT(h[0] > h[1] && h[1] > h[2] && h[2] > 0.0);
    const double first = value[0] - value[1];
    const double second = value[1] - value[2];
    const auto ratio = [&](double order) {
        return (std::pow(h[0], order) - std::pow(h[1], order)) / (std::pow(h[1], order) - std::pow(h[2], order));
    };
    // the ratio grows with the order; two differences of opposite sign have none
    const double wanted = first / second;
    if (!(wanted >= ratio(kLeastOrder) && wanted <= ratio(kMostOrder))) return std::nullopt;
    double low = kLeastOrder;
    double high = kMostOrder;
    for (int k = 0; k < kHalvings; ++k) {
        const double middle = 0.5 * (low + high);
        (ratio(middle) < wanted ? low : high) = middle;
    }
    const double finest = std::pow(h[2], high);
    return Extrapolated{high, value[2] - second * finest / (std::pow(h[1], high) - finest)};
}

namespace {

double skin_peak_m(const HexMesh& mesh, const Eigen::Ref<const Eigen::VectorXd>& moved_m) {
    double most = 0.0;
    for (int c = 0; c < mesh.columns(); ++c)
        most = std::max(most, moved_m.segment<3>(3 * mesh.free_node(c, kCellsDeep)).norm());
    return most;
}

/// One column a barb, out of the skin.
SparseColumns outward_columns(const HexMesh& mesh, const ThreadPath& path) {
    std::vector<Eigen::Triplet<double>> entries;
    for (int k = 0; k < path.barbs; ++k) {
        const double f = static_cast<double>(k) / (path.barbs - 1);
        const ChartPlace place{path.far_end.s_m + f * (path.near_end.s_m - path.far_end.s_m),
                               path.far_end.t_m + f * (path.near_end.t_m - path.far_end.t_m),
                               path.far_end.level + f * (path.near_end.level - path.far_end.level)};
        const ChartMetric metric = metric_at(mesh, place);
        const Vec3 outward = glm::normalize(glm::cross(metric.along_t, metric.along_s));
        for (const auto& [node, weight] : patch_at(mesh, place).weight)
            for (int r = 0; r < 3; ++r) entries.emplace_back(3 * node + r, k, weight * outward[r]);
    }
    SparseColumns out(mesh.cells.unknowns(), path.barbs);
    out.setFromTriplets(entries.begin(), entries.end());
    return out;
}

}  // namespace

MeshFigures mesh_figures(const Head& head, const ChartSettings& settings, const TissueParameters& parameters) {
    refuse_too_large(settings);
    const HexMesh mesh = build_mesh(head.tissue(), settings);
    refuse_degenerate(mesh);
    const LayeredBody body = make_body(mesh, head.tissue(), parameters);
    Response response(mesh, body);

    MeshFigures out;
    out.unknowns = mesh.cells.unknowns();
    out.factor_bytes = static_cast<double>(response.factor().bytes());
    const ThreadPath path = lifting_paths(head, mesh, Side::left, 1, 1.0).front();
    const double share = 1.0 / path.barbs;
    const auto single = [&](const SparseColumns& columns, double& barb, double& skin) {
        response.each_batch(columns, [&](int first, const Eigen::Ref<const Eigen::MatrixXd>& moved) {
            for (int k = 0; k < moved.cols(); ++k) {
                barb += share * columns.col(first + k).dot(moved.col(k));
                skin += share * skin_peak_m(mesh, moved.col(k));
            }
        });
    };
    const SparseColumns along = barb_columns(mesh, path);
    single(along, out.barb_along, out.skin_along);
    single(outward_columns(mesh, path), out.barb_outward, out.skin_outward);
    Eigen::MatrixXd load(mesh.cells.unknowns(), 2);
    load.col(0) = along * Eigen::VectorXd::Constant(path.barbs, share);
    const Vec3 change = lying_down();
    load.col(1) = unit_gravity_loads(mesh, body) * Eigen::Vector3d(change.x, change.y, change.z);
    const Eigen::MatrixXd moved = response.solve(load);
    out.skin_thread = skin_peak_m(mesh, moved.col(0));
    out.skin_lying = skin_peak_m(mesh, moved.col(1));
    return out;
}

}  // namespace sim::fe
