#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include <Eigen/Core>

#include "engine/view/draw_list.hpp"
#include "sim/tissue/hex_mesh.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/tip_detail.hpp"

/// Vertices of skin, and of what lies on it, that follow the tissue's skin under a live tip.

namespace view {

/// From the skin of the tissue's mesh to the vertices of what is drawn. Only what moves visibly is touched, so that a
/// frame costs what the tent covers.
class SkinFollower {
 public:
    /// @param weights of each part's vertices, both outlive this
    SkinFollower(const sim::fe::HexMesh& mesh, const std::vector<sim::fe::FollowWeights>& weights);

    /// Of each part, in the order of the weights; null where nothing of it moves.
    /// @param skin_m three a column of the mesh @param detail_m what finer cells add, three a node of its FineGrid; or
    /// empty
    [[nodiscard]] std::vector<std::shared_ptr<const VertexMoves>> moves(const Eigen::VectorXf& skin_m,
                                                                        const Eigen::VectorXf& detail_m = {});

 private:
    /// Where a vertex lies on the fine grid.
    struct Spot {
        std::uint32_t node = 0;  ///< first corner of its cell
        float along = 0.0f, below = 0.0f, share = 0.0f;
    };
    void place_spots();
    void see_columns(const Eigen::VectorXf& skin_m);
    void see_detail(const Eigen::VectorXf& detail_m);
    void add_detail(const Spot& spot, Eigen::Matrix<float, 8, 1>& sum) const;
    [[nodiscard]] std::shared_ptr<const VertexMoves> moves_of(std::size_t part) const;

    const sim::fe::HexMesh& mesh_;
    const std::vector<sim::fe::FollowWeights>& weights_;
    std::vector<std::vector<std::uint32_t>> main_column_;  ///< of each vertex the column that it follows most
    std::vector<glm::vec3> top_mm_, normal_;               ///< of each column at rest
    Eigen::Matrix<float, 8, Eigen::Dynamic> column_;       ///< move and turn of each, mm and unit; with two zeros
    sim::fe::FineGrid grid_;
    std::vector<std::vector<Spot>> spot_;             ///< of each vertex
    Eigen::Matrix<float, 8, Eigen::Dynamic> detail_;  ///< of each fine node, as column_
    bool any_detail_ = false;
    std::vector<bool> near_;  ///< a column that moves, or near one: others have nothing to say
};

}  // namespace view
