#pragma once

#include <set>
#include <vector>

#include "engine/session/performers.hpp"
#include "engine/session/script_writer.hpp"
#include "sim/core/random.hpp"

/// How a scripted performer passes a cannula and anchors what it leaves. Internal to engine/session.

namespace session {

/// A performer at work on a script.
struct Player {
    ScriptWriter w;
    Performer as;
    sim::Random random;
    std::vector<int> served;  ///< of each thread that was left, the planned vector
    std::set<int> used;       ///< loaded cannulas that have been in the tissue

    Player(std::shared_ptr<const sim::Model> model, const Performer& performer, std::shared_ptr<AnswerSource> answers)
        : w(std::move(model), std::move(answers)), as(performer), random(performer.seed + 1) {}

    [[nodiscard]] const sim::Scenario& scenario() const { return w.model().scenario; }
    /// Something that a flaw makes happen as often as it is large.
    [[nodiscard]] bool slips(Flaw flaw) { return random.uniform(0.0, 1.0) < as.much(flaw); }
};

/// Whether a scenario asks for more than passes anywhere: threads drawn tight.
[[nodiscard]] bool wants_lift(const sim::Scenario& scenario);
/// A cannula of a tray, loaded or bare; -1: the tray has none.
[[nodiscard]] int cannula_number(const sim::Scenario& scenario, bool loaded);
/// The thickest needle of a tray; the thinnest. -1: there is none.
[[nodiscard]] int pilot_number(const sim::Scenario& scenario);
[[nodiscard]] int fine_needle_number(const sim::Scenario& scenario);

/// Answer what is to be seen and heard: hold still, lay flat, press, let pain pass.
/// @return whether the work goes on where it was: false once all has been taken out
bool attend(Player& p);

/// The skin at the far end pushed back towards the entry, before anything is opened: what does it bring along?
void test_shift(ScriptWriter& w, const sim::PlannedVector& plan);

/// Pilot needle in until its tip lies at this share of the superficial fat, and out.
void pilot(Player& p, const sim::PlannedVector& plan, double pitch_deg, double share_of_fat);

/// A cannula in along the plan, through the hole; again when something made the performer take it out.
/// @return whether it lies along the plan
bool pass(Player& p, int cannula, const sim::PlannedVector& plan);

/// Straight out with a finger over the far end, then traction and strokes, where the plan asks for lift.
void leave_thread(Player& p, int vector);

/// A thread that lies loosened by strokes away from its centre and drawn out along its axis.
void draw_out(Player& p, int thread);

}  // namespace session
