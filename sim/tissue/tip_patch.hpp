#pragma once

#include <optional>

#include "sim/tissue/factor.hpp"
#include "sim/tissue/layered.hpp"
#include "sim/tissue/response.hpp"

/// The skin about a tip on cells half as wide as the mesh's: a rectangle of its cells, each cut in four along the skin.
///
/// At the rectangle's rim it moves as the mesh's own field does under the same load, so that a membrane which is drawn
/// along far beyond stays drawn along; a patch with its rim held still would be wrong by tens of per cent. For the eye
/// alone, as the blocks of a tip are (tip_response.hpp).

namespace sim::fe {

/// Part of a mesh with each cell cut in four along the skin: what it is made of stays the same.
struct FinePart {
    int first_i = 0, first_j = 0;  ///< column of the mesh at its first corner
    HexMesh mesh;                  ///< column (2 i, 2 j) is the mesh's (first_i + i, first_j + j)
    LayeredBody body;
};

/// @param first_i, first_j, last_i, last_j columns of the mesh at opposite corners @pre they span a cell or more
[[nodiscard]] FinePart fine_part(const HexMesh& mesh, const LayeredBody& body, int first_i, int first_j, int last_i,
                                 int last_j);

inline constexpr double kTipPatchReachM = 20.0 * kMm;  ///< from its middle to each side

/// Columns of a mesh at opposite corners of a patch.
struct PatchLines {
    int first_i = 0, first_j = 0, last_i = 0, last_j = 0;
};
/// About a place, cut short at the mesh's rim. @throws InputError for a place outside the mesh
[[nodiscard]] PatchLines patch_lines(const HexMesh& mesh, const ChartPlace& about, double reach_m = kTipPatchReachM);

class TipPatch {
 public:
    /// Cuts, assembles and factors. @param about its middle; cut short at the mesh's rim
    /// @throws InputError for a place outside the mesh, FactorError
    TipPatch(const HexMesh& mesh, const LayeredBody& body, const ChartPlace& about, double reach_m = kTipPatchReachM);
    /// @pre as fine_part()
    TipPatch(const HexMesh& mesh, const LayeredBody& body, const PatchLines& lines);

    [[nodiscard]] const HexMesh& mesh() const { return part_.mesh; }
    [[nodiscard]] const FinePart& part() const { return part_; }
    [[nodiscard]] const Factor& factor() const { return *factor_; }
    /// Least way along the chart from a place to the rim; negative outside.
    [[nodiscard]] double to_rim_m(const ChartPlace& place) const;

    /// Displacement of every unknown of the patch's mesh under loads, one a column.
    /// @param load_n on those unknowns, as patch_at() of the patch's mesh spreads it
    /// @param coarse_m of every unknown of the whole mesh under the same loads
    [[nodiscard]] Eigen::MatrixXd solve(const Eigen::MatrixXd& load_n, const Eigen::MatrixXd& coarse_m) {
        return solve_from(load_n, coarse_here_m(coarse_m));
    }
    /// The same. @param here_m as coarse_here_m() gives it; of it only the rim counts
    [[nodiscard]] Eigen::MatrixXd solve_from(const Eigen::MatrixXd& load_n, Eigen::MatrixXd here_m);

    /// The mesh's own field at the patch's nodes, between columns as its cells have it.
    [[nodiscard]] Eigen::MatrixXd coarse_here_m(const Eigen::MatrixXd& coarse_m) const;

 private:
    [[nodiscard]] bool at_rim(int column) const;

    int wide_ = 0;  ///< columns of the whole mesh along s
    FinePart part_;
    std::vector<int> inner_;  ///< of each unknown its place among those that are solved for, -1 at the rim
    int inner_unknowns_ = 0;
    SparseUpper stiffness_;
    std::optional<Factor> factor_;
};

}  // namespace sim::fe
