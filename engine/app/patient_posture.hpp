#pragma once

#include <memory>
#include <optional>
#include <string>

#include "engine/session/live_tissue.hpp"
#include "engine/view/scene.hpp"

/// The patient who sits up and lies back while one practises, and the tissue that makes it so. For the eye alone:
/// commands, record and score stay in the reference shape, upright, whatever is shown.

namespace app {

class PatientPosture {
 public:
    /// @param builder null: the patient stays as they are, and nothing is said of it
    PatientPosture(session::TissueBuilder builder, const view::Scene& scene);
    /// @param tissue made for the same parts, on its way or there; null: as above
    explicit PatientPosture(std::shared_ptr<session::LiveTissue> tissue);

    /// Whether there is tissue at all, be it on its way or failed.
    [[nodiscard]] bool any() const { return tissue_ != nullptr; }
    /// Which also answers about threads; may be null.
    [[nodiscard]] std::shared_ptr<session::LiveTissue> tissue() const { return tissue_; }
    [[nodiscard]] bool ready() const { return status_.stage == session::TissueStatus::Stage::ready; }
    [[nodiscard]] const session::TissueStatus& status() const { return status_; }
    [[nodiscard]] const session::Position& shown() const { return shown_; }  ///< or on the way to it
    /// The head as it is shown now, on the way too. > 0 to the patient's left.
    [[nodiscard]] double turn_rad() const { return turn_rad_; }
    /// What a turn needs is there; until then a turn takes seconds.
    [[nodiscard]] bool can_turn() const { return ready() && !(status_.turn_share < 1.0); }

    /// In a replay: let the skin lie as the threads of this moment hold it, upright. Nothing until the tissue is ready.
    void follow(const sim::State& state);
    /// Whether the skin is shown as that moment has it; false while it is on its way or the tissue has not come.
    [[nodiscard]] bool followed() const { return ready() && !following_; }
    /// Begin to place the patient so; nothing while the tissue is not ready or the patient still moves.
    void ask(const session::Position& position);
    /// @param at_once without a motion  @return the picture changes
    bool advance(double elapsed_s, bool at_once, view::Scene& scene);
    /// Wait until the tissue has come or failed, and the patient lies as asked: for stills.
    void wait(const session::Position& position, view::Scene& scene);
    /// Wait until the tissue has come or failed, and the skin is shown as follow() asked: for stills.
    void wait_for_replay(const sim::State& state, view::Scene& scene);
    /// Wait until the skin has followed what was last answered about threads: for stills.
    void wait_for_threads(view::Scene& scene);
    /// Wait until the skin lies in its final shape, or there is none to look for: for stills.
    void wait_for_final_shape(view::Scene& scene);

    /// "Lying": the posture alone.
    [[nodiscard]] std::string name() const;
    /// "43 %" while it is built, the posture and how far its shape is settled, or that there is none: a few words for a
    /// switch.
    [[nodiscard]] std::string label() const;
    /// The same for the head's turn: "Turn 33 %" while it is prepared, "Head 30° left".
    [[nodiscard]] std::string turn_label() const;
    /// How far the marks lie from where they were, or why the tissue has not come; empty when there is nothing to tell.
    [[nodiscard]] std::string words() const;

 private:
    void take(view::Scene& scene);
    void sit_up();
    void go_to(const session::SettledPosture& settled, double way_s, view::Scene& scene);

    std::shared_ptr<session::LiveTissue> tissue_;
    session::TissueStatus status_;
    session::Position shown_;
    double turn_rad_ = 0.0, from_turn_rad_ = 0.0, to_turn_rad_ = 0.0;
    std::optional<session::Position> asked_;  ///< and not yet answered
    std::shared_ptr<const view::PatientMoves> from_, to_;
    double share_ = 1.0;    ///< of the way
    double way_s_ = 0.0;    ///< that it takes
    bool threads_ = false;  ///< hold the skin, whatever the posture
    session::RecordedForces followed_;
    bool following_ = false;  ///< asked and not yet answered
    std::vector<sim::Vec3> marks_shift_m_;
};

/// "Head 30° left", the patient's own; "Head straight".
[[nodiscard]] std::string turn_words(int degrees);

/// "2.1 to 2.9 mm up and back": how far marks have shifted, and mostly where to.
[[nodiscard]] std::string shift_words(const std::vector<sim::Vec3>& shifts_m);

}  // namespace app
