#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/session/live_tissue.hpp"
#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/final_shape.hpp"
#include "sim/tissue/head_turn.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/tip_detail.hpp"

/// A patient's tissue that has been built, on the one thread that may use it.

namespace session {

class ReadyTissue {
 public:
    /// @param followers outlives this @param between called between stages: what it throws ends the making
    ReadyTissue(std::unique_ptr<sim::fe::TetheredBody> body, const Followers& followers,
                const std::function<void()>& between);

    [[nodiscard]] std::shared_ptr<const TissueShape> shape() const { return shape_; }

    /// So placed, with the threads that were asked about last. @throws sim::fe::FactorError when strings find no
    /// rest
    [[nodiscard]] std::shared_ptr<const SettledPosture> settle(const Position& position);
    /// Upright under forces that are known: two back-solves and the strings. @throws as above
    [[nodiscard]] std::shared_ptr<const SettledPosture> settle(const RecordedForces& forces);

    /// Whether what was settled last moves the tissue at all.
    [[nodiscard]] bool can_refine() const { return (unrefined_.moved_m.array() != 0.0).any(); }
    /// One step more towards the final shape of what was settled last. @pre can_refine()
    /// @param give_way as FinalShapeSearch::step() @return whether there is more to do
    bool refine(const std::function<bool()>& give_way);
    /// That shape; null where it was not found. @pre refine() has said that there is no more to do
    [[nodiscard]] std::shared_ptr<const SettledPosture> refined() const;

    /// @param trouble why there is none, empty when there is one
    [[nodiscard]] sim::ThreadAnswer answer(const sim::ThreadRequest& request, std::string& trouble);
    /// The next piece of what a turn of the head needs. A posture with a turn that comes earlier solves what is
    /// missing.
    void prepare_turn() { turn_.prepare_next(); }
    [[nodiscard]] double turn_share() const {
        return static_cast<double>(turn_.prepared()) / sim::fe::HeadTurn::kAngles;
    }
    [[nodiscard]] std::vector<sim::fe::TipBlock> blocks(const std::vector<sim::fe::TipNode>& nodes);
    [[nodiscard]] sim::fe::TipDetail detail(const sim::fe::TipNode& cell) { return tip_.detail(cell); }

 private:
    /// What was settled last, by small strains; with the head turned in the frame that goes round with it.
    struct Unrefined {
        Position position;
        Eigen::VectorXd load_n, moved_m;  ///< of every unknown; empty where it cannot be refined
    };
    void settle_alone(SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m);
    void settle_turned(SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m);
    void settle_with_threads(SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m);
    [[nodiscard]] Eigen::VectorXd load_of(const RecordedForces& forces) const;
    void follow(SettledPosture& out, const Eigen::VectorXd& skin_m, Eigen::VectorXd whole_m) const;
    [[nodiscard]] sim::Vec3 shift_m(const std::optional<sim::fe::ChartPlace>& place,
                                    const Eigen::VectorXd& whole_m) const;

    std::shared_ptr<sim::fe::TetheredBody> body_;
    sim::fe::FeThreads threads_;
    sim::fe::HeadTurn turn_;
    sim::fe::TipDetailSolver tip_;
    std::optional<sim::ThreadRequest> pulled_;  ///< the last question about threads that had an answer
    const Followers& followers_;
    std::shared_ptr<const TissueShape> shape_;
    std::shared_ptr<const sim::fe::ChartLattice> lattice_;
    std::vector<std::optional<sim::fe::ChartPlace>> marks_;
    sim::fe::TetherState last_;
    Unrefined unrefined_;
    std::optional<sim::fe::FinalShapeSearch> search_;  ///< from there
    sim::fe::TetherProblem recorded_;                  ///< the strings under recorded forces
    sim::fe::TetherState last_recorded_;
};

}  // namespace session
