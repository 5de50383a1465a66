#pragma once

#include <optional>
#include <string>
#include <vector>

#include "engine/app/ui.hpp"
#include "sim/command.hpp"
#include "sim/model.hpp"
#include "sim/procedure/deeds.hpp"
#include "sim/scoring/recording.hpp"
#include "sim/state.hpp"

/// The visit, opened over the tray: stage by stage what can be done at once, and what came of it. Any deed may be done
/// at any time; the stages only say where it usually stands.

namespace app {

class VisitPanel {
 public:
    /// What was pressed, as commands; closed when the learner goes back to the instruments.
    struct Pressed {
        std::vector<sim::Command> commands;
        bool close = false;
    };
    [[nodiscard]] Pressed draw(Ui& ui, const Rect& rect, const sim::Model& model, const sim::State& state,
                               const sim::Recording& recording);

    [[nodiscard]] sim::Stage stage() const { return stage_; }
    void show(sim::Stage stage) { stage_ = stage; }
    void turn(int by);  ///< to another stage

 private:
    struct Rows;  ///< what a frame's drawing needs
    void draw_stage(Rows& rows);
    void draw_history(Rows& rows);
    void draw_decision(Rows& rows);
    void draw_reasons(Rows& rows);
    void draw_deed(Rows& rows, sim::Deed deed);
    void draw_injection(Rows& rows);
    void draw_packs(Rows& rows);
    void draw_tails(Rows& rows);

    sim::Stage stage_ = sim::Stage::consult;
    std::optional<sim::Decision> deciding_;  ///< chosen, and its reason not yet
};

}  // namespace app
