#pragma once

#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "engine/session/live_tissue.hpp"
#include "sim/model.hpp"
#include "sim/state.hpp"
#include "sim/tissue/tip_detail.hpp"

/// The skin under the hands, by finite elements: what tip and shaft put on the tissue, and how the skin comes there in
/// the time of whoever looks. For the eye alone: no step, record or score reads it.

namespace session {

/// A force that the hands put on the tissue.
struct HandForce {
    sim::Vec3 place_m{};  ///< in the reference shape
    sim::Vec3 force_n{};
    bool lifts = false;   ///< of a tip that is lifted: its closed form can stand in
    bool at_tip = false;  ///< in one place: what finer cells make of it is worth a look
};

inline constexpr double kShaftPieceM = 5.0 * sim::kMm;  ///< of the shaft, which takes what that length drags

/// What an instrument does to the tissue in a state: a tip that is lifted, that pushes on or presses closed skin, and
/// what the shaft drags. Left out is how a bent shaft leans on its way: there the step's closed form reaches
/// deflections of centimetres, far beyond what it is trusted for.
[[nodiscard]] std::vector<HandForce> hand_forces(const sim::State& state, const sim::Model& model);

/// Where blocks will be read: at the tip, on its way ahead, or where it is about to go in. In the reference shape.
[[nodiscard]] std::vector<sim::Vec3> way_of_tip(const sim::State& state);

/// Asks the tissue for what it lacks and goes on showing what it has: nothing waits, nothing jumps. Belongs to one
/// thread.
class LiveTip {
 public:
    /// @param tissue not null
    explicit LiveTip(std::shared_ptr<LiveTissue> tissue);

    /// One frame on. @param elapsed_s of the viewer's time @param at_once without a fade  @return the skin has changed
    bool advance(const sim::State& state, const sim::Model& model, double elapsed_s, bool at_once);

    /// Displacement of the skin as shown now, three a column of the mesh; empty: at rest. Drawn by FollowWeights, and
    /// with detail_m() on top.
    [[nodiscard]] const Eigen::VectorXf& skin_m() const { return shown_m_.skin_m; }
    /// What finer cells about the tip add to it, three a node of the mesh's FineGrid.
    [[nodiscard]] const Eigen::VectorXf& detail_m() const { return shown_m_.detail_m; }
    /// Share of a lifted tip's tent that is not in skin_m(): 1 without tissue, 0 when all of it is.
    [[nodiscard]] double closed_share() const { return closed_share_; }
    /// How far the skin over a place has moved, as it is drawn. Nothing outside the mesh.
    [[nodiscard]] sim::Vec3 skin_moved_m(const sim::Vec3& place_m);
    /// Whether some force of the last state is still without its blocks, or the tip without its details, and they may
    /// come.
    [[nodiscard]] bool lacks_blocks() const { return lacks_ || lacks_detail_; }
    /// Details that are kept for when the tip comes back, and what they take.
    [[nodiscard]] std::size_t details() const { return details_ ? details_->details() : 0; }
    [[nodiscard]] std::size_t detail_bytes() const { return details_ ? details_->bytes() : 0; }
    /// Null until the tissue is ready.
    [[nodiscard]] const std::shared_ptr<const TissueShape>& shape() const { return shape_; }

 private:
    /// A place that was looked up, and how the drawn skin over it reads the mesh's.
    struct Place {
        sim::Vec3 p_m{};
        std::optional<sim::fe::ChartPlace> chart;
        std::optional<sim::fe::Patch> skin;
    };
    struct Skin {
        Eigen::VectorXf skin_m, detail_m;
        [[nodiscard]] float off_m(const Skin& other) const;
        void move(const Skin& towards, float left);
    };

    [[nodiscard]] Place& place_of(const sim::Vec3& p_m);
    void begin();
    [[nodiscard]] bool take_what_came();
    void work_out(const std::vector<HandForce>& forces);
    void ask_for(const sim::State& state, const std::vector<HandForce>& forces);

    std::shared_ptr<LiveTissue> tissue_;
    std::shared_ptr<const TissueShape> shape_;
    std::optional<sim::fe::TipResponse> tips_;
    std::optional<sim::fe::TipDetails> details_;
    std::vector<Place> places_;  ///< looked up, the latest last
    std::vector<sim::fe::TipNode> asked_, details_asked_;
    std::vector<HandForce> forces_;  ///< that target_m_ belongs to
    Skin target_m_, shown_m_;
    double closed_target_ = 1.0, closed_share_ = 1.0;
    bool lacks_ = false, lacks_detail_ = false;
};

}  // namespace session
