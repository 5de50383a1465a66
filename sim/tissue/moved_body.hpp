#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include <Eigen/Core>
#include <glm/vec3.hpp>

#include "sim/tissue/hex_mesh.hpp"
#include "sim/tissue/neck_turn.hpp"

/// A settled body as a motion of space: where what lay at a place of the reference shape lies now, and back.
///
/// The mesh ends at its rim, and nose and ears stand out of it. A place outside the mesh moves as the skin below it;
/// towards the rim motion fades out over 30 mm, so that cap and crown keep still. That is for looking at, not for
/// figures.

namespace sim::fe {

/// How places follow the mesh's skin: fixed weights of its columns, worked out once.
struct FollowWeights {
    std::vector<std::uint32_t> first;  ///< of each place its first weight; one more than there are places
    std::vector<std::uint32_t> column;
    std::vector<float> weight;
    /// Where in the chart each place is, and the share that it moves: for what is told on finer columns.
    struct Spot {
        float s_m = 0.0f, t_m = 0.0f, share = 0.0f;
    };
    std::vector<Spot> spot;

    [[nodiscard]] std::size_t places() const { return first.empty() ? 0 : first.size() - 1; }
    /// @param skin_m three a column
    [[nodiscard]] Vec3 moved_m(std::size_t place, const Eigen::VectorXd& skin_m) const;
    /// All places at once, in single precision: for a frame. @param moved_mm made as long as there are places
    void moved_mm(const Eigen::VectorXd& skin_m, std::vector<glm::vec3>& moved_mm) const;
};

/// Each place by the Gaussian patch about the skin below it, the same that TetheredBody::skin_moved_m reads.
/// @param far_m beyond this distance from the skin a place lets go, wholly at twice of it; about 20 us a place
[[nodiscard]] FollowWeights follow_skin(const HexMesh& mesh, std::span<const Vec3> places_m, double far_m);

/// Where places are in the chart, looked up quickly.
class ChartLattice {
 public:
    /// About 0.3 s at 4 mm.
    explicit ChartLattice(const HexMesh& mesh);

    /// @param displacement_m three a node that moves
    [[nodiscard]] Vec3 moved_m(const Vec3& p_m, const Eigen::VectorXd& displacement_m) const;

 private:
    using Node = std::array<float, 4>;  ///< s, t, depth below the skin, share that it moves; SI
    [[nodiscard]] bool place_of(const Vec3& p_m, Node& out) const;

    Chart chart_;
    std::vector<double> depth_m_;       ///< as HexMesh::depth_m
    std::vector<Vec3> top_m_, inward_;  ///< of each column
    Vec3 low_m_{};
    std::array<int, 3> size_{};
    std::vector<Node> nodes_;
};

class MovedBody {
 public:
    /// @param round the neck goes round with it, outside the mesh too; displacements are what is done beside that
    MovedBody(std::shared_ptr<const ChartLattice> lattice, Eigen::VectorXd displacement_m, const NeckTurn& round = {})
        : lattice_(std::move(lattice)), displacement_m_(std::move(displacement_m)), round_(round) {}

    /// How far what lay at this place has moved.
    [[nodiscard]] Vec3 moved_m(const Vec3& rest_m) const {
        return round_.moved_m(rest_m) + lattice_->moved_m(rest_m, displacement_m_);
    }
    /// A direction at a place of the reference shape, gone round with it. What the tissue bends it by is left out.
    [[nodiscard]] Vec3 turned(const Vec3& rest_m, const Vec3& direction) const {
        return round_.turned(direction, rest_m.y);
    }
    /// What is at this place now: where it lay. Within 10 um, or, where small strains fold space, near it.
    [[nodiscard]] Vec3 rest_of(const Vec3& now_m) const;

 private:
    std::shared_ptr<const ChartLattice> lattice_;
    Eigen::VectorXd displacement_m_;
    NeckTurn round_;
};

}  // namespace sim::fe
