#pragma once

#include <functional>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "sim/tissue/factor.hpp"
#include "sim/tissue/layered.hpp"

/// What forces on small patches of tissue do to one another: the once-factored body seen from where instruments,
/// strings and barbs take hold.

namespace sim::fe {

/// A place in the chart: nominal coordinates and depth as a level, 0 on the floor, 7 on the skin, fractions between.
struct ChartPlace {
    double s_m = 0.0, t_m = 0.0, level = 0.0;
};

/// The place of a point in the tissue, or nothing when no column holds it within 8 mm.
[[nodiscard]] std::optional<ChartPlace> locate(const HexMesh& mesh, const Vec3& p_m);
[[nodiscard]] Vec3 position_m(const HexMesh& mesh, const ChartPlace& place);

/// The column that a place lies on, in the mesh or above and below it.
struct ColumnPlace {
    double s_m = 0.0, t_m = 0.0;  ///< within the chart
    double depth_m = 0.0;         ///< below the column's top; negative outside
    double off_m = 0.0;           ///< distance from that column: 0 but beside the mesh
};

/// Finds columns for places that follow one another: each search starts where the last one ended.
class ColumnFinder {
 public:
    explicit ColumnFinder(const HexMesh& mesh) : mesh_(mesh) {}
    [[nodiscard]] ColumnPlace find(const Vec3& p_m);

 private:
    const HexMesh& mesh_;
    int last_ = -1;  ///< column; -1: none yet
};

/// The unit vectors in which s and t grow on the surface there, and metres of way per metre of s and t.
struct ChartMetric {
    Vec3 along_s{}, along_t{};
    double m_per_s = 1.0, m_per_t = 1.0;
};
[[nodiscard]] ChartMetric metric_at(const HexMesh& mesh, const ChartPlace& place);

/// Weights of moving nodes whose sum is 1: how a force spreads, and how a displacement is read.
struct Patch {
    std::vector<std::pair<int, double>> weight;  ///< index of the moving node, ascending
    double held = 0.0;                           ///< share that fell on the floor, which does not move
};

/// Reach of what grips the tissue: a point load on single nodes would hang on the mesh (wrong by up to four times).
inline constexpr double kPatchSigmaM = 2.0 * kMm;  // assumed

/// A Gaussian patch along the layers about a place.
[[nodiscard]] Patch patch_at(const HexMesh& mesh, const ChartPlace& place, double sigma_m = kPatchSigmaM);

[[nodiscard]] Vec3 read(const Patch& patch, const Eigen::VectorXd& displacement_m);

/// Of what every unknown does, the skin: three a column of the mesh.
[[nodiscard]] Eigen::VectorXd skin_rows(const HexMesh& mesh, const Eigen::VectorXd& whole_m);

/// Columns of unit forces, and the displacements that they make.
using SparseColumns = Eigen::SparseMatrix<double, Eigen::ColMajor, int>;

/// The body of one patient, factored.
class Response {
 public:
    /// @throws FactorError
    Response(const HexMesh& mesh, const LayeredBody& body);

    [[nodiscard]] Eigen::MatrixXd solve(const Eigen::MatrixXd& load) { return factor_.solve(load); }
    /// Solves for every column, in batches of a fixed width. @param take told the first column of a batch and what its
    /// columns do to each unknown
    void each_batch(const SparseColumns& columns,
                    const std::function<void(int first, const Eigen::Ref<const Eigen::MatrixXd>& moved)>& take);
    /// B' K^-1 B, symmetric to the last bit.
    [[nodiscard]] Eigen::MatrixXd compliance(const SparseColumns& columns);
    /// B' K^-1 A
    [[nodiscard]] Eigen::MatrixXd cross_compliance(const SparseColumns& columns, const SparseColumns& others);

    [[nodiscard]] const Factor& factor() const { return factor_; }

 private:
    Factor factor_;
};

}  // namespace sim::fe
