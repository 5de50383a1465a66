#pragma once

#include <compare>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "sim/tissue/response.hpp"

/// How the skin follows a tip that moves in the tissue: what forces at the nodes near it do to the skin is solved
/// ahead, kept, and put together for the place and force of the moment.
///
/// For the eye only: no step reads it. Strings are left out; with all of them slack one thread lifts the lax cheek by 1
/// % more (README.md).

namespace sim::fe {

/// A node of the mesh at which a tip's force is solved for.
struct TipNode {
    int column = 0;
    int level = 0;  ///< 1 to 7: the floor does not move
    friend auto operator<=>(const TipNode&, const TipNode&) = default;
};

/// What 1 N along x, y and z about a node, spread over a patch of 2 mm, does to the skin.
struct TipBlock {
    TipNode node;
    Eigen::Matrix<float, Eigen::Dynamic, 3> skin_m_per_n;  ///< three rows a column of the mesh

    [[nodiscard]] std::size_t bytes() const { return static_cast<std::size_t>(skin_m_per_n.size()) * sizeof(float); }
};

/// Nodes that are worth solving for at once: wider batches gain little.
inline constexpr std::size_t kTipNodesABatch = 16;

/// Told of a node what every unknown does under 1 N along x, y, z about it: three columns.
using TipFieldSeen = std::function<void(const TipNode&, const Eigen::Ref<const Eigen::MatrixXd>& moved_m)>;

/// Back-solves three columns a node, kTipNodesABatch nodes at a time: work for the background. As long as its last
/// digits do not matter a narrow batch takes so much less.
/// @param seen of each node, where given @pre nodes are of the mesh
[[nodiscard]] std::vector<TipBlock> solve_tip_blocks(const HexMesh& mesh, Response& response,
                                                     std::span<const TipNode> nodes, const TipFieldSeen& seen = {});

/// A force somewhere in the tissue.
struct TipForce {
    ChartPlace place;
    Vec3 force_n{};
};

/// The blocks that are there. Belongs to one thread; solve_tip_blocks may run on another.
class TipResponse {
 public:
    static constexpr std::size_t kMostBytes = 100'000'000;

    /// Refers to the mesh, which must outlive it. @throws InputError when not even one place's blocks find room
    explicit TipResponse(const HexMesh& mesh, std::size_t most_bytes = kMostBytes);

    /// Nodes that a tip at a place reads: four columns, one level or two. None on the floor.
    /// @throws InputError for a place outside the mesh
    [[nodiscard]] std::vector<TipNode> nodes_of(const ChartPlace& tip) const;

    /// Nodes without a block, each once, in the order of the way. @param way where the tip is, then where it is heading
    /// @param most of them @throws InputError as nodes_of
    [[nodiscard]] std::vector<TipNode> missing(std::span<const ChartPlace> way, std::size_t most) const;

    /// Keeps a block and, where room is short, lets go those that were read longest ago.
    /// @pre the block is of this mesh
    void keep(TipBlock block);

    /// Displacement of the skin under a force at a place, three a column. What the eight nodes about it do is mixed:
    /// exact at nodes (single precision), within 0.1 % of the peak along a column, between columns see README.md.
    /// @return false, and `skin_m` untouched, while a block is missing @throws InputError as nodes_of
    [[nodiscard]] bool skin_m(const ChartPlace& tip, const Vec3& force_n, Eigen::VectorXd& skin_m);
    /// The same under several forces at once; one with a block missing is left out whole. In single precision.
    /// @param told of each force whether it is in `skin_m` @throws InputError as nodes_of
    void skin_m(std::span<const TipForce> forces, Eigen::VectorXf& skin_m, std::vector<bool>& told);

    [[nodiscard]] std::size_t bytes() const { return blocks_.size() * block_bytes_; }
    [[nodiscard]] std::size_t blocks() const { return blocks_.size(); }

 private:
    struct Kept {
        TipBlock block;
        std::uint64_t read = 0;  ///< when it was read last, or kept
    };

    const HexMesh& mesh_;
    std::size_t most_bytes_, block_bytes_;
    std::map<TipNode, Kept> blocks_;
    std::uint64_t now_ = 0;
};

}  // namespace sim::fe
