#include "engine/session/performers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "engine/session/performers_visit.hpp"
#include "engine/session/script_writer.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/scoring/bands.hpp"

namespace session {

namespace {

constexpr double kDegree = sim::kPi / 180.0;
constexpr double kStrideMm = 2.0;      // between looks
constexpr double kCheckEachMm = 15.0;  // between lifts of the tip

std::string entry_line(const sim::Vec3& entry_m) { return place_line("entry", entry_m); }

/// A cannula, loaded or bare; -1: the tray has none.
int cannula_number(const sim::Scenario& scenario, bool loaded) {
    for (std::size_t i = 0; i < scenario.tray.size(); ++i)
        if (scenario.tray[i].tip == sim::TipShape::blunt && scenario.tray[i].loaded == loaded)
            return static_cast<int>(i);
    return -1;
}

sim::AxisBand band_at(const sim::LayerPoint& at, const sim::InstrumentSpec& instrument) {
    return sim::target_band(at.bottom_m, sim::gauge(instrument.gauge).radius_m(), {});
}

/// Pilot needle in until its tip lies at this share of the superficial fat, and out.
void pilot(ScriptWriter& w, double pitch_deg, double share_of_fat) {
    w.line(fmt::format("take {}", pilot_number(w.model().scenario)));
    w.aim(0.0, pitch_deg);
    for (int i = 0; i < 60; ++i) {
        w.line("push 0.5 mm at 4 mm/s");
        const sim::LayerPoint at = w.at_tip();
        const double wanted_m =
            at.bottom_of(sim::Layer::skin) +
            share_of_fat * (at.bottom_of(sim::Layer::superficial_fat) - at.bottom_of(sim::Layer::skin));
        if (w.state().in_skin && at.depth_m >= wanted_m) break;
    }
    w.line("withdraw all at 8 mm/s");
    w.line("wait 0.5 s");
}

/// Angle in the skin by which to turn so that the heading points over the planned far end.
double yaw_error_deg(const ScriptWriter& w, const sim::Vec3& end_m) {
    const sim::State& s = w.state();
    const sim::Vec3 up = -w.model().anatomy->inward_at(s.tip_m);
    const auto flat = [&](sim::Vec3 v) { return v - up * glm::dot(v, up); };
    const sim::Vec3 to_end = flat(end_m - s.tip_m);
    const sim::Vec3 heading = flat(s.tip_heading);
    if (glm::length(to_end) < 8.0 * sim::kMm || glm::length(heading) < 1e-6) return 0.0;
    return std::atan2(glm::dot(glm::cross(heading, to_end), up), glm::dot(heading, to_end)) / kDegree;
}

/// Squared distances from the middle of the band over the next millimetres, were the pitch turned by so much in the
/// next stride and then held: what experience tells a capable hand, worked out on a copy of the state.
double outlook(const ScriptWriter& w, double turn_deg) {
    constexpr int kAheadMm = 5;
    constexpr int kStepsAMm = 50;  // 5 mm/s
    constexpr double kRampM = 8.0 * sim::kMm;
    constexpr double kOutOfBand = 20.0;  // leaving the band weighs more than not being in its middle
    sim::State state = w.state();
    const sim::InstrumentSpec& instrument = w.model().scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
    double cost = 0.0;
    for (int mm = 0; mm < kAheadMm; ++mm) {
        for (int i = 0; i < kStepsAMm; ++i) {
            const double share = mm == 0 ? (i + 1.0) / kStepsAMm : 1.0;
            const double pitch_deg = std::clamp(w.pitch_deg() + turn_deg * share, -30.0, 80.0);
            const std::array<sim::Command, 2> commands{
                sim::Command{sim::Verb::aim, {std::llround(w.yaw_deg() * 1e3), std::llround(pitch_deg * 1e3), 0}},
                sim::Command{sim::Verb::push, {20, 0, 0}}};
            std::vector<sim::Answer> answers;
            for (const sim::Request& request : sim::due(state)) answers.push_back(sim::answer(request));
            static_cast<void>(sim::step(w.model(), state, commands, answers));
        }
        const sim::LayerPoint at = w.model().anatomy->layers_at(state.tip_m);
        const sim::AxisBand band = band_at(at, instrument);
        const double off_mm = (at.depth_m - band.middle_m()) / sim::kMm;
        const double out_mm = band.excess_m(at.depth_m) / sim::kMm;
        cost += off_mm * off_mm + (state.inserted_m > kRampM ? kOutOfBand * out_mm * out_mm : 0.0);
    }
    // and where it is heading: a tip that arrives at a slope goes on past the middle
    const double slope = glm::dot(state.tip_heading, w.model().anatomy->inward_at(state.tip_m));
    const double drift_mm = slope * kAheadMm * 1.5;
    cost += drift_mm * drift_mm;
    return cost + 1e-3 * turn_deg * turn_deg;  // of two ways as good as each other, the calmer hand
}

double best_turn_deg(const ScriptWriter& w) {
    double best = 0.0;
    double least = outlook(w, 0.0);
    for (const double turn_deg : {-8.0, -5.0, -3.0, -1.5, -0.7, 0.7, 1.5, 3.0, 5.0, 8.0}) {
        const double cost = outlook(w, turn_deg);
        if (cost < least) {
            least = cost;
            best = turn_deg;
        }
    }
    return best;
}

/// Advance along the plan, watching depth and direction, until the planned length is reached.
void steer(ScriptWriter& w, const sim::PlannedVector& plan) {
    double since_check_mm = 0.0;
    const double length_mm = plan.length_m / sim::kMm;
    for (int i = 0; i < 200; ++i) {
        const sim::State& s = w.state();
        if (!s.in_skin && i > 4) return;
        const double left_mm = length_mm - s.inserted_m / sim::kMm;
        const double instrument_m = w.model().scenario.tray[static_cast<std::size_t>(s.hands.instrument)].length_m;
        if (left_mm < 0.2 || s.inserted_m >= instrument_m - 3.0 * sim::kMm) return;
        const double turn_deg = best_turn_deg(w);
        const double yaw_deg = std::clamp(yaw_error_deg(w, plan.end_m) * 0.3, -2.0, 2.0);
        const double mm = std::clamp(left_mm, 0.2, kStrideMm);
        w.push(mm, 5.0, std::clamp(w.yaw_deg() + yaw_deg, -40.0, 40.0),
               std::clamp(w.pitch_deg() + turn_deg, -30.0, 80.0));
        since_check_mm += mm;
        if (since_check_mm >= kCheckEachMm && left_mm > kCheckEachMm) {
            w.line("lift 0.4 N for 0.6 s");
            since_check_mm = 0.0;
        }
    }
}

/// Whether the scenario asks for more than the pass: a thread drawn tight.
bool wants_lift(const sim::PlannedVector& plan) { return !plan.lift.empty(); }

/// The skin at the far end pushed back towards the entry, before anything is opened: what does it bring along?
void test_shift(ScriptWriter& w, const sim::PlannedVector& plan) {
    w.comment("what does the skin give? pushed back along the vector, and let go");
    w.line(place_line("touch", plan.end_m));
    w.line("grip push 1 N turned 180 for 0.8 s");
    w.line("wait 0.4 s");
}

/// A gentle pull, and while it holds the tissue along the thread from both ends towards its centre: without the pull
/// the thread goes along with the stroke, and little is kept.
void anchor_gently(ScriptWriter& w, const sim::PlannedVector& plan) {
    w.comment("a finger holds the skin at the entry");
    w.line(place_line("touch", plan.entry_m));
    w.line("wait 0.2 s");
    w.line("grip counter-hold 2 N");
    w.comment("does it hold? and while it holds, the tissue along it, from both ends to the middle");
    w.line("traction 1 N on 1");
    w.line("wait 0.6 s");
    w.line("grip counter-hold 0 N");
    w.line("wait 0.2 s");
    for (const std::string_view end : {"entry", "far", "entry"})
        w.line(fmt::format("stroke 4 N toward from {} on 1", end));
    w.line("traction 0 N on 1");
    w.line("wait 0.5 s");
}

void anchor_roughly(ScriptWriter& w) {
    w.comment("tissue pushed the wrong way, then pulled hard");
    for (int i = 0; i < 2; ++i) {
        w.line("stroke 9 N away from far on 1");
        w.line("wait 0.4 s");
    }
    w.line("traction 3 N on 1 for 1 s");
    w.line("wait 0.5 s");
}

/// The cannula in along the plan, through the hole.
void pass(ScriptWriter& w, int cannula, const sim::PlannedVector& plan) {
    w.line(fmt::format("take {}", cannula));
    w.aim(0.0, 30.0);
    w.comment("through the hole, just into the fat");
    w.line("push 3 mm at 4 mm/s");
    steer(w, plan);
    w.line("lift 0.4 N for 0.6 s");
    w.line("wait 0.5 s");
}

void capable(ScriptWriter& w) {
    const sim::Scenario& scenario = w.model().scenario;
    const sim::PlannedVector& plan = scenario.plan.front();
    w.comment(scenario.title + ": a capable pair of hands");
    if (scenario.visit && !consult_well(w)) return w.line("finish");
    if (wants_lift(plan)) test_shift(w, plan);
    if (scenario.visit) {
        mark_well(w);
        prepare_well(w);
    }
    w.line(entry_line(plan.entry_m));
    if (scenario.visit) numb_entry(w);
    pilot(w, 38.0, 0.5);
    const int bare = cannula_number(scenario, false), loaded = cannula_number(scenario, true);
    if (scenario.visit && bare >= 0 && loaded >= 0) {
        w.comment("the track with a bare cannula, numbed on the way back");
        pass(w, bare, plan);
        numb_track(w);
    }
    pass(w, loaded >= 0 ? loaded : bare, plan);
    if (wants_lift(plan)) {
        w.comment("a finger over the far end");
        w.line(place_line("touch", w.state().tip_m));
        w.line("grip press 0.5 N");
        w.line("wait 0.3 s");
    }
    w.comment("straight out");
    w.line("withdraw all at 12 mm/s");
    if (wants_lift(plan)) w.line("grip press 0 N");
    w.line("wait 0.5 s");
    if (wants_lift(plan)) anchor_gently(w, plan);
    if (scenario.visit) finish_well(w);
    w.line("finish");
}

void careless(ScriptWriter& w) {
    const sim::Scenario& scenario = w.model().scenario;
    const sim::PlannedVector& plan = scenario.plan.front();
    w.comment(scenario.title + ": hurried and not looking");
    if (scenario.visit) begin_carelessly(w);
    // beside the mark by 7 mm, across the vector
    const sim::SkinPoint skin = w.model().anatomy->nearest_skin(plan.entry_m);
    const sim::Vec3 across = glm::normalize(glm::cross(skin.normal, plan.end_m - plan.entry_m));
    w.line(entry_line(plan.entry_m + across * (7.0 * sim::kMm)));
    w.line(fmt::format("take {}", pilot_number(scenario)));
    w.aim(0.0, 62.0);
    w.line("push 11 mm at 12 mm/s");
    if (scenario.visit) w.line("inject 2 ml over 2 s");
    w.line("withdraw all at 20 mm/s");
    w.line("wait 0.3 s");
    const int loaded = cannula_number(scenario, true);
    w.line(fmt::format("take {}", loaded >= 0 ? loaded : cannula_number(scenario, false)));
    w.aim(0.0, 34.0);
    w.line("push 18 mm at 15 mm/s");
    w.comment("levelled late, never looked");
    const double rest_mm = std::max(5.0, 0.9 * plan.length_m / sim::kMm - 18.0);
    w.line(fmt::format("push {:.1f} mm at 15 mm/s turning pitch 12", rest_mm));
    w.line("withdraw all at 25 mm/s");
    w.line("wait 0.5 s");
    if (wants_lift(plan)) anchor_roughly(w);
    if (scenario.visit) finish_carelessly(w);
    w.line("finish");
}

}  // namespace

std::string compose_script(std::shared_ptr<const sim::Model> model, Skill skill,
                           std::shared_ptr<AnswerSource> answers) {
    ScriptWriter writer(std::move(model), std::move(answers));
    skill == Skill::capable ? capable(writer) : careless(writer);
    return writer.text();
}

}  // namespace session
