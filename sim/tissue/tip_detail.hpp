#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "sim/tissue/tip_patch.hpp"
#include "sim/tissue/tip_response.hpp"

/// What cells half as wide change in the skin under a live tip: the difference between a patch about the tip
/// (tip_patch.hpp) and what blocks of the mesh's own cells show (tip_response.hpp), as it is drawn.
///
/// Solved ahead for nine places of a cell of the mesh, 2 mm apart, and mixed for the place of the moment. Towards the
/// patch's rim it fades to nothing, so that no seam is seen. For the eye only.

namespace sim::fe {

/// The mesh's columns and those halfway between them: where the difference is told.
struct FineGrid {
    int wide = 0, high = 0;

    FineGrid() = default;
    explicit FineGrid(const Chart& chart) : wide(2 * chart.wide - 1), high(2 * chart.high - 1) {}
    [[nodiscard]] int nodes() const { return wide * high; }

    struct Place {
        int node = 0;                     ///< first corner of the cell
        double along = 0.0, below = 0.0;  ///< in that cell, 0 to 1
    };
    [[nodiscard]] Place place_of(const Chart& chart, double s_m, double t_m) const;
};

/// What forces at one level of a cell change.
struct TipDetail {
    static constexpr int kPlaces = 9;  ///< of a force: 3 x 3 over the cell, along s first

    TipNode cell;                                           ///< its first column, and the level
    int first_i = 0, first_j = 0, wide = 0, high = 0;       ///< of the fine grid, what is told of
    Eigen::Matrix<float, Eigen::Dynamic, 27> skin_m_per_n;  ///< three rows a fine node; each place by x, y, z

    [[nodiscard]] std::size_t bytes() const { return static_cast<std::size_t>(skin_m_per_n.size()) * sizeof(float); }
};

/// Solves blocks and what belongs to them: work for the background. Belongs to one thread.
class TipDetailSolver {
 public:
    static constexpr std::size_t kMostFields = 128;  ///< of nodes, cut out about them: 73 kB each
    static constexpr std::size_t kMostPatches = 2;   ///< that are kept factored

    /// Refers to all three, which must outlive it.
    TipDetailSolver(const HexMesh& mesh, const LayeredBody& body, Response& response);

    /// As solve_tip_blocks(); what the tissue does about each node is remembered for detail().
    [[nodiscard]] std::vector<TipBlock> blocks(std::span<const TipNode> nodes);
    /// About a quarter of a second, more where the fields of its four nodes are no longer known.
    /// @pre a cell of the mesh by its first column, level 1 to 7 @throws FactorError
    [[nodiscard]] TipDetail detail(const TipNode& cell);

    /// Of what is remembered.
    [[nodiscard]] std::size_t bytes() const;

 private:
    /// What the tissue about a node does under 1 N along x, y, z there.
    struct Field {
        TipNode node;
        int first_i = 0, first_j = 0, wide = 0, high = 0;  ///< of the mesh's columns
        Eigen::Matrix<float, Eigen::Dynamic, 3> moved_m;
    };
    struct Patch;

    void remember(const TipNode& node, const Eigen::Ref<const Eigen::MatrixXd>& moved_m);
    [[nodiscard]] const Field* field_of(const TipNode& node) const;
    [[nodiscard]] std::shared_ptr<Patch> patch_of(int cell);
    [[nodiscard]] Eigen::MatrixXd mesh_field_m(const std::vector<TipNode>& corners);

    const HexMesh& mesh_;
    const LayeredBody& body_;
    Response& response_;
    std::vector<Field> fields_;                    ///< the latest last
    std::vector<std::shared_ptr<Patch>> patches_;  ///< the latest last
};

/// The details that are there. Belongs to one thread; TipDetailSolver may work on another.
class TipDetails {
 public:
    static constexpr std::size_t kMostBytes = 16'000'000;

    /// Refers to the mesh, which must outlive it.
    explicit TipDetails(const HexMesh& mesh, std::size_t most_bytes = kMostBytes);

    [[nodiscard]] const FineGrid& grid() const { return grid_; }
    /// What a force at a place reads: one level or two of its cell. @throws InputError for a place outside the mesh
    [[nodiscard]] std::vector<TipNode> cells_of(const ChartPlace& tip) const;
    /// Those that are not there, each once, in the order of the way. @throws as cells_of
    [[nodiscard]] std::vector<TipNode> missing(std::span<const ChartPlace> way, std::size_t most) const;
    /// Where room is short, lets go those that were read longest ago, never the one that comes.
    void keep(TipDetail detail);

    /// Adds what a force changes. @param fine_m three a node of the grid
    /// @return false, and nothing added, while something is missing @throws as cells_of
    [[nodiscard]] bool add(const TipForce& force, Eigen::VectorXf& fine_m);

    [[nodiscard]] std::size_t bytes() const { return bytes_; }
    [[nodiscard]] std::size_t details() const { return details_.size(); }

 private:
    struct Kept {
        TipDetail detail;
        std::uint64_t read = 0;
    };

    const HexMesh& mesh_;
    FineGrid grid_;
    std::size_t most_bytes_, bytes_ = 0;
    std::map<TipNode, Kept> details_;
    std::uint64_t now_ = 0;
};

/// Of a field on the fine grid what is at a place, between nodes as a cell has it.
/// @param place s and t within the chart
[[nodiscard]] Vec3 read_fine(const Chart& chart, const Eigen::VectorXf& fine_m, double s_m, double t_m);

}  // namespace sim::fe
