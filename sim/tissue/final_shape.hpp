#pragma once

#include <array>
#include <deque>
#include <functional>
#include <memory>
#include <span>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "sim/tissue/gone_round.hpp"
#include "sim/tissue/layered.hpp"

/// How the tissue lies where displacements are not small.
///
/// Total Lagrangian, neo-Hookean with one dilatation a cell: with F the deformation's gradient and J its determinant,
///
///   W = mu/2 (J^-2/3 F:F - 3) at each point, kappa/2 (mean J - 1)^2 of each cell,
///
/// so that for small strains it is the linear body to the last term. Tension of the skin and springs at the rim store
/// what they store there, and so do the glide space and deep fat: they let layers slide over one another by several
/// times their thickness, which no solid would bear. Loads keep their size and direction: what strings, barbs and
/// fingers gave the linear body. Found by a limited-memory quasi-Newton method that starts from the factor of the
/// linear body.

namespace sim::fe {

/// The energy of a mesh and its slope. Keeps the slopes of the shape functions: 1.5 kB a cell.
class FiniteStrain {
 public:
    /// Refers to the mesh, which must outlive it. @param material, tension_pa one a cell
    /// @param slides          one a cell that stays as it is in the linear body, or empty
    /// @param spring_n_per_m one a node that moves, or empty @throws InputError for a cell that is inverted at rest
    FiniteStrain(const CellMesh& mesh, std::span<const Elastic> material, std::span<const double> tension_pa,
                 std::span<const char> slides, std::span<const double> spring_n_per_m);

    /// @param slope_n filled with the energy's slope, where not null
    /// @param round   of this mesh, where the head is turned: displacements and slope are then told in the frame that
    ///                goes round with each node's height, and the floor goes round
    /// @return J; infinite where a point has turned inside out, and the slope means nothing
    double energy_j(const Eigen::VectorXd& moved_m, Eigen::VectorXd* slope_n,
                    const CellsGoneRound* round = nullptr) const;

    /// Least J of any point that does not slide: below 0 inside out, 1 at rest.
    [[nodiscard]] double least_volume_ratio(const Eigen::VectorXd& moved_m,
                                            const CellsGoneRound* round = nullptr) const;

 private:
    struct Cell {
        std::array<CellPoint, 8> point;
        Vec3 normal{};  ///< of the layer
        double volume_m3 = 0.0, shear_pa = 0.0, bulk_pa = 0.0, tension_pa = 0.0;
    };

    const CellMesh& mesh_;
    std::vector<Cell> cells_;
    std::vector<std::pair<std::size_t, CellMatrix>> sliding_;  ///< cell and its linear stiffness
    std::vector<double> spring_n_per_m_;
};

/// Of a patient's body. Refers to the mesh, which must outlive it.
[[nodiscard]] FiniteStrain finite_strain_of(const HexMesh& mesh, const LayeredBody& body);

struct FinalShapeSettings {
    double tolerance = 1e-3;    ///< of what is out of balance, against the load, as the body would move under it
    int most_iterations = 100;  ///< one back-solve and one or a few energies each
};

struct FinalShape {
    Eigen::VectorXd moved_m;  ///< three a node that moves
    int iterations = 0;
    double residual = 0.0;
    double least_volume_ratio = 1.0;
    bool converged = false;
};

/// What the linear body does under a load: any positive definite stand-in serves, a near one is quick.
using LinearSolve = std::function<Eigen::VectorXd(const Eigen::VectorXd& force_n)>;

/// The search, a step at a time, for whoever has something more urgent to do between.
class FinalShapeSearch {
 public:
    /// Refers to the body, which must outlive it.
    /// @param force_n on every node that moves
    /// @param start_m where to begin: the linear body's answer, or none: at rest
    /// @param round   where the head is turned, as FiniteStrain::energy_j() has it: forces and displacements too
    FinalShapeSearch(const FiniteStrain& body, LinearSolve solve, Eigen::VectorXd force_n, Eigen::VectorXd start_m,
                     const FinalShapeSettings& settings = {}, std::shared_ptr<const CellsGoneRound> round = {});

    /// One back-solve and one or a few energies.
    /// @param give_way asked between these: when it says so the step is left undone, and the next call does it anew
    /// @return whether there is more to do
    bool step(const std::function<bool()>& give_way = {});
    /// As far as it has come; whole when step() has said that there is no more to do.
    [[nodiscard]] const FinalShape& found() const { return out_; }

 private:
    /// The last steps and what they changed: a stand-in for the curvature beyond the linear body's (Nocedal 1980, Math
    /// Comput 35:773).
    struct Kept {
        Eigen::VectorXd step_m, change_n;
        double scale = 0.0;
    };

    void begin();
    void keep(const Eigen::VectorXd& step_m, const Eigen::VectorXd& change_n);
    [[nodiscard]] Eigen::VectorXd descent(Eigen::VectorXd residual_n) const;
    bool end();

    const FiniteStrain& body_;
    LinearSolve solve_;
    Eigen::VectorXd force_n_, start_m_;
    FinalShapeSettings settings_;
    std::shared_ptr<const CellsGoneRound> round_;
    FinalShape out_;
    std::deque<Kept> kept_;
    Eigen::VectorXd slope_n_;
    double energy_j_ = 0.0;
    double load_ = 0.0;  ///< size of the load, as the linear body moves under it
    bool begun_ = false, ended_ = false;
};

/// The whole search at once.
[[nodiscard]] FinalShape final_shape(const FiniteStrain& body, const LinearSolve& solve, const Eigen::VectorXd& force_n,
                                     const Eigen::VectorXd& start_m, const FinalShapeSettings& settings = {},
                                     std::shared_ptr<const CellsGoneRound> round = {});

}  // namespace sim::fe
