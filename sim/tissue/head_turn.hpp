#pragma once

#include <array>
#include <cstddef>

#include "sim/tissue/neck_turn.hpp"
#include "sim/tissue/posture.hpp"

/// What a turn of the head does to face and neck.
///
/// Everything is told in the head's frame (`neck_turn.hpp`). Each node first goes round with its height; what that
/// strains is elastic, rotation taken out cell by cell, and settles by solves of the same factor. A turn of everything
/// by one angle so strains nothing, however large.

namespace sim::fe {

/// Accepted either way. Twist shears the neck: by estimate at 45 degrees a third to a half, beyond what small strains
/// are trusted for (0.3, at about 25 degrees).
inline constexpr double kMostTurnRad = 45.0 * kPi / 180.0;

class HeadTurn {
 public:
    static constexpr int kAngles = 6;  ///< that are solved ahead

    /// At once; the body must outlive it.
    HeadTurn(TetheredBody& body, const TurningNeck& neck);

    /// Solves the next angle: three columns. What asks for a turn before all are there solves the rest.
    void prepare_next();
    [[nodiscard]] int prepared() const { return prepared_; }
    [[nodiscard]] bool ready() const { return prepared_ == kAngles; }
    [[nodiscard]] const TurningNeck& neck() const { return neck_; }
    [[nodiscard]] std::size_t bytes() const { return sizeof(double) * static_cast<std::size_t>(field_m_.size()); }

    /// The skin alone, in milliseconds; what it does beside going round, in the head's frame.
    ///
    /// @param turn_rad > 0 to the patient's left, within kMostTurnRad
    /// @param gravity_change in the head's frame, which has turned
    /// @param start tethers of the state before, or a fresh one
    /// @throws InputError for an angle or a gravity outside its range, NotSettled
    [[nodiscard]] SkinSettled settle_skin(double turn_rad, const Vec3& gravity_change_m_per_s2,
                                          const TetherState& start = {});
    /// Of every unknown, as settle_skin() has the skin: one back-solve.
    [[nodiscard]] Eigen::VectorXd whole_m(double turn_rad, const Vec3& gravity_change_m_per_s2,
                                          const TetherState& tethers);

    struct Turned {
        Eigen::VectorXd displacement_m;  ///< three a node of the mesh, the floor's among them, gone round
        TetherState tethers;
        [[nodiscard]] Vec3 of(int node) const {
            return {displacement_m[3 * node], displacement_m[3 * node + 1], displacement_m[3 * node + 2]};
        }
    };
    /// Both of the above, and where every node goes. @throws as settle_skin()
    [[nodiscard]] Turned settle(double turn_rad, const Vec3& gravity_change_m_per_s2, const TetherState& start = {});

    // In the frame that goes round with each node's height:
    /// what each unknown does beside going round where no string and no thread holds, by the angles that were solved
    /// ahead,
    [[nodiscard]] Eigen::VectorXd slack_m(double turn_rad, const Vec3& gravity_change_m_per_s2 = {});
    /// the same solved for the very angle,
    [[nodiscard]] Eigen::VectorXd slack_solved_m(double turn_rad, const Vec3& gravity_change_m_per_s2 = {});
    /// both with strings: one back-solve,
    [[nodiscard]] Eigen::VectorXd beside_m(double turn_rad, const Vec3& gravity_change, const TetherState& tethers);
    /// what gravity and strings put on every unknown, the twist not among it,
    [[nodiscard]] Eigen::VectorXd load_n(double turn_rad, const Vec3& gravity_change, const TetherState& tethers) const;
    [[nodiscard]] Eigen::VectorXd weight_n(double turn_rad, const Vec3& gravity_change) const;
    /// and what going round does to the strings' coordinates, in the frame of their tops.
    [[nodiscard]] Eigen::VectorXd string_twist_m(double turn_rad) const;
    /// From that frame to the head's. @param moved_m three a column of the mesh, of every unknown
    void turn_skin(double turn_rad, Eigen::VectorXd& moved_m) const;
    void turn_whole(double turn_rad, Eigen::VectorXd& moved_m) const;

 private:
    [[nodiscard]] double share_of(int node) const;
    [[nodiscard]] Eigen::VectorXd twist_force_n(double turn_rad) const;

    TetheredBody& body_;
    TurningNeck neck_;
    int prepared_ = 0;
    std::array<double, kAngles> angle_rad_{};
    /// For each of those angles: of the twist, and of 1 m/s2 along x and along z in the head's frame.
    Eigen::MatrixXd field_m_;
};

}  // namespace sim::fe
