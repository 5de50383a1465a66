#pragma once

#include <array>

#include "sim/tissue/posture.hpp"

/// What a turn of the head does to face and neck.
///
/// Everything is told in the head's frame: the head stays, and the floor of the neck turns the other way about a
/// vertical axis through the ears, from nothing at the chin to the whole angle where the trunk begins. Each node first
/// goes round with its height; what that strains is elastic, rotation taken out cell by cell, and settles by solves of
/// the same factor. A turn of everything by one angle so strains nothing, however large.

namespace sim::fe {

/// Accepted either way. Twist shears the neck: by estimate at 45 degrees a third to a half, beyond what small strains are trusted
/// for (0.3, at about 25 degrees).
inline constexpr double kMostTurnRad = 45.0 * kPi / 180.0;

/// How far along the way from head (0) to trunk (1) a height is.
struct TurningNeck {
    double top_m = 0.0, bottom_m = 0.0;  ///< heights (y) where turning begins and is whole
    Vec3 axis_m{};                       ///< a point of the vertical axis
    [[nodiscard]] double share(double y_m) const;
};
/// From the chin's lowest point to 120 mm below it, about an axis between the ear canals; lengths assumed.
[[nodiscard]] TurningNeck turning_neck(const HeadTissue& tissue);

class HeadTurn {
 public:
    /// Six angles solved in one batch: about 1.5 s at 4 mm by estimate. Refers to the body, which must outlive it.
    HeadTurn(TetheredBody& body, const TurningNeck& neck);

    struct Turned {
        Eigen::VectorXd displacement_m;  ///< three a node of the mesh, the floor's among them
        TetherState tethers;
        [[nodiscard]] Vec3 of(int node) const {
            return {displacement_m[3 * node], displacement_m[3 * node + 1], displacement_m[3 * node + 2]};
        }
    };
    /// Turned, and under gravity's change in the head's frame; two back-solves.
    ///
    /// @param turn_rad > 0 to the patient's left, within kMostTurnRad
    /// @param start tethers of the state before, or a fresh one
    /// @throws InputError for an angle or a gravity outside its range, NotSettled
    [[nodiscard]] Turned settle(double turn_rad, const Vec3& gravity_change_m_per_s2, const TetherState& start = {});

    /// What each unknown does beside going round, in the frame that goes round with its height, without strings.
    [[nodiscard]] Eigen::VectorXd twist_m(double turn_rad) const;
    /// Solved for the very angle, where twist_m() goes by the angles that were solved ahead.
    [[nodiscard]] Eigen::VectorXd twist_solved_m(double turn_rad);

 private:
    static constexpr int kAngles = 6;

    [[nodiscard]] double share_of(int node) const;
    [[nodiscard]] Vec3 gone_round_m(const Vec3& p_m, double turn_rad) const;
    [[nodiscard]] Eigen::VectorXd twist_force_n(double turn_rad) const;
    [[nodiscard]] Eigen::VectorXd string_twist_m(double turn_rad) const;

    TetheredBody& body_;
    TurningNeck neck_;
    std::array<double, kAngles> angle_rad_{};
    Eigen::MatrixXd twist_m_;  ///< a column for each of those angles
};

}  // namespace sim::fe
