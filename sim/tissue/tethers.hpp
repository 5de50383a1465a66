#pragma once

#include <span>
#include <vector>

#include <Eigen/Core>

#include "sim/core/vec.hpp"

/// Strings with slack, barbs that slip and threads that stretch, all at once, on a body known by its compliance.
///
/// Unknown are generalised forces f on the body's coordinates q = q_load + C f. The strings and barbs store convex
/// energy in q, so that the state is the one minimum of 1/2 f'Cf + psi(q). It is found by a semismooth Newton method
/// whose line search looks at the derivative: a plain active set cycles as soon as barbs slip.

namespace sim::fe {

/// Holds an attachment back from an anchor once it is taut: three coordinates of the attachment's displacement.
struct String {
    int first = 0;                   ///< its three coordinates are first, first + 1, first + 2
    Vec3 rest_m{};                   ///< from anchor to attachment in the reference shape
    double length_m = 0.0;           ///< > 0; below this distance it is slack
    double stiffness_n_per_m = 0.0;  ///< > 0
    bool parted = false;
};

/// Grips the tissue along the thread: a spring up to its capacity, then it slips.
struct Barb {
    int tissue = 0, thread = 0;      ///< coordinates: tissue along the thread, and the thread's own node
    double stiffness_n_per_m = 0.0;  ///< > 0
    double capacity_n = 0.0;         ///< >= 0, while the thread is pulled forwards along its coordinate
    double reverse_n = 0.0;          ///< >= 0, the other way
    double slipped_m = 0.0;          ///< what it has dragged through already
};

struct TetherProblem {
    Eigen::MatrixXd compliance_m_per_n;  ///< symmetric, positive semidefinite
    Eigen::VectorXd load_m;              ///< coordinates under the loads alone
    std::vector<String> strings;
    std::vector<Barb> barbs;
};

struct TetherState {
    Eigen::VectorXd force_n;  ///< on each coordinate; start of the next solve
    Eigen::VectorXd moved_m;  ///< q
    int iterations = 0, taut = 0, slipping = 0;
    bool converged = false;
    double residual = 0.0;  ///< worst force error over the largest force
};

struct TetherSettings {
    double tolerance = 1e-11;  ///< on the residual
    int most_iterations = 60;  ///< of the first attempt, and of each of the six that follow where it fails
};

/// @param start forces to begin with: those of the state before, or empty
/// @pre arrays agree, coordinates are in range
[[nodiscard]] TetherState solve_tethers(const TetherProblem& problem, const Eigen::VectorXd& start,
                                        const TetherSettings& settings = {});

/// What a barb holds the thread back with, along the thread's coordinate.
[[nodiscard]] double barb_force_n(const Barb& barb, const Eigen::VectorXd& moved_m);

/// Pull of a string in a state, 0 when slack.
[[nodiscard]] double string_force_n(const String& string, const Eigen::VectorXd& moved_m);

/// What one barb holds the thread back with, each way along the thread's coordinate.
struct BarbHold {
    double forwards_n = 0.0, back_n = 0.0;  ///< >= 0
    double slipped_m = 0.0;                 ///< what it has dragged through already
};

/// One thread between the problem's barbs.
struct ThreadLine {
    std::vector<int> tissue;  ///< coordinates of the tissue along the thread at its barbs, far end first
    double spacing_m = 0.0;   ///< of barbs, where gap_m is empty
    double axial_n = 100.0;   ///< stretch stiffness EA; from memory, a USP 2-0 polydioxanone thread
    double barb_n_per_m = 500.0, capacity_n = 0.2, reverse_share = 0.1;  ///< assumed
    std::vector<double> gap_m;                                           ///< between neighbours, > 0; empty: spacing_m
    std::vector<BarbHold> hold;  ///< of each barb; empty: capacity_n, and reverse_share of it the other way
};

/// Where a thread stands in a problem.
struct ThreadInProblem {
    int first_node = 0;       ///< coordinate of its far end
    std::vector<int> tissue;  ///< of ThreadLine
    double barb_n_per_m = 0.0;
};

/// Adds the thread's nodes as coordinates of their own, its barbs, and a pull at its near end.
/// @param start extended by forces that carry the pull evenly
ThreadInProblem add_thread(TetherProblem& problem, const ThreadLine& thread, double pull_n, Eigen::VectorXd& start);

/// Another pull at the near end of a thread that is there.
/// @param was_n the pull that `start` belongs to @param start its barbs' shares are scaled to the new pull
void pull_thread(TetherProblem& problem, const ThreadInProblem& thread, double was_n, double pull_n,
                 Eigen::VectorXd& start);

}  // namespace sim::fe
