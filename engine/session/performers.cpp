#include "engine/session/performers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/session/performers_visit.hpp"
#include "sim/patient/patient.hpp"

namespace session {

namespace {

struct FlawWords {
    std::string_view name;
    sim::Heading heading;
};
constexpr std::array<FlawWords, kFlaws> kFlawTable{{{"tremor", sim::Heading::plane_accuracy},
                                                    {"depth bias", sim::Heading::plane_accuracy},
                                                    {"hurry", sim::Heading::comfort_and_dose},
                                                    {"skipped checks", sim::Heading::consult_and_judgement},
                                                    {"flooding", sim::Heading::comfort_and_dose},
                                                    {"forcing", sim::Heading::ligament_resistance},
                                                    {"over-traction", sim::Heading::barb_engagement},
                                                    {"poor asepsis", sim::Heading::asepsis}}};

/// The loaded cannula whose barbs find most room on a vector.
int best_loaded(const sim::Scenario& scenario, const sim::PlannedVector& plan) {
    int best = -1;
    const auto over_m = [&](int tray) {
        const sim::ThreadSpec& thread = scenario.tray[static_cast<std::size_t>(tray)].thread;
        return std::abs(thread.barb_free_m + thread.barbed_length_m - plan.length_m);
    };
    for (int i = 0; i < static_cast<int>(scenario.tray.size()); ++i)
        if (scenario.tray[static_cast<std::size_t>(i)].loaded && (best < 0 || over_m(i) < over_m(best))) best = i;
    return best;
}

void open_fresh(Player& p, int tray) {
    p.w.line(fmt::format("take {}", tray));
    p.w.line("discard");
    p.w.line(fmt::format("do open_another {}", tray));
}

/// That one, a fresh one where it has been used, its pack read; and another where that is past its date.
int next_loaded(Player& p, const sim::PlannedVector& plan) {
    const int best = best_loaded(p.scenario(), plan);
    if (best < 0 || !p.scenario().visit) return best;
    if (!p.used.insert(best).second) {
        p.w.comment("an empty cannula is thrown away, a fresh one opened");
        open_fresh(p, best);
    }
    if (p.as.much(Flaw::poor_asepsis) >= 0.3) return best;
    p.w.line(fmt::format("do read_pack {}", best));
    if (sim::in_date(p.w.model(), p.w.state().visit, best)) return best;
    p.w.comment("past its date: away with it");
    open_fresh(p, best);
    p.w.line(fmt::format("do read_pack {}", best));
    return best;
}

void work_along(Player& p, int vector) {
    const sim::Scenario& scenario = p.scenario();
    const sim::PlannedVector& plan = scenario.plan[static_cast<std::size_t>(vector)];
    if (scenario.visit && plan.reinforces) look_upright(p);
    p.w.line(place_line("entry", plan.entry_m));
    if (scenario.visit) numb_entry(p);
    pilot(p, plan, 38.0, 0.5);
    const int bare = cannula_number(scenario, false);
    if (scenario.visit && bare >= 0 && cannula_number(scenario, true) >= 0) {
        p.w.comment("the track with a bare cannula, numbed on the way back");
        if (pass(p, bare, plan)) numb_track(p);
    }
    const int loaded = next_loaded(p, plan);
    if (pass(p, loaded >= 0 ? loaded : bare, plan)) leave_thread(p, vector);
}

bool wants_finish(const sim::Scenario& scenario) {
    return std::find(scenario.headings.begin(), scenario.headings.end(), sim::key_of(sim::Heading::finish)) !=
           scenario.headings.end();
}

void play_well(Player& p) {
    const sim::Scenario& scenario = p.scenario();
    p.w.comment(scenario.title + ": a capable pair of hands");
    if (scenario.visit && scenario.visit->opening) return play_opening(p);
    if (scenario.visit && !consult(p)) return p.w.finish();
    if (wants_lift(scenario))
        for (const sim::PlannedVector& plan : scenario.plan) test_shift(p.w, plan);
    if (scenario.visit) {
        mark(p);
        prepare(p);
    }
    for (std::size_t i = 0; i < scenario.plan.size(); ++i) work_along(p, static_cast<int>(i));
    if (scenario.visit)
        finish_visit(p);
    else if (wants_finish(scenario))
        bury_ends(p);
    p.w.finish();
}

void anchor_roughly(ScriptWriter& w, std::size_t thread) {
    w.comment("tissue pushed the wrong way, then pulled hard");
    for (int i = 0; i < 2; ++i) {
        w.line(fmt::format("stroke 9 N away from far on {}", thread));
        w.line("wait 0.4 s");
    }
    w.line(fmt::format("traction 3 N on {} for 1 s", thread));
    w.line("wait 0.5 s");
}

void pass_carelessly(ScriptWriter& w, const sim::PlannedVector& plan) {
    const sim::Scenario& scenario = w.model().scenario;
    // beside the mark by 7 mm, across the vector
    const sim::SkinPoint skin = w.model().anatomy->nearest_skin(plan.entry_m);
    const sim::Vec3 across = glm::normalize(glm::cross(skin.normal, plan.end_m - plan.entry_m));
    w.line(place_line("entry", plan.entry_m + across * (7.0 * sim::kMm)));
    w.line(fmt::format("take {}", pilot_number(scenario)));
    w.aim(0.0, 62.0);
    w.line("push 11 mm at 12 mm/s");
    if (scenario.visit) w.line("inject 2 ml over 2 s");
    w.line("withdraw all at 20 mm/s");
    w.line("wait 0.3 s");
    const int loaded = cannula_number(scenario, true);
    const std::size_t before = w.state().threads.size();
    w.line(fmt::format("take {}", loaded >= 0 ? loaded : cannula_number(scenario, false)));
    w.aim(0.0, 34.0);
    w.line("push 18 mm at 15 mm/s");
    w.comment("levelled late, never looked");
    const double rest_mm = std::max(5.0, 0.9 * plan.length_m / sim::kMm - 18.0);
    w.line(fmt::format("push {:.1f} mm at 15 mm/s turning pitch 12", rest_mm));
    w.line("withdraw all at 25 mm/s");
    w.line("wait 0.5 s");
    if (!plan.lift.empty() && w.state().threads.size() > before) anchor_roughly(w, w.state().threads.size());
}

void open_carelessly(ScriptWriter& w) {
    if (w.model().scenario.visit->opening->gone_home) {
        w.comment("one call, and no word to what was heard");
        w.line("do call_back 1_week");
        w.line("do answer_call carry_on");
    } else {
        w.comment("a swab held on it for a moment, and goodbye");
        w.line("let 1 min pass");
        w.line("do discharge");
    }
}

}  // namespace

std::string_view name_of(Flaw flaw) { return kFlawTable[static_cast<std::size_t>(flaw)].name; }
sim::Heading heading_of(Flaw flaw) { return kFlawTable[static_cast<std::size_t>(flaw)].heading; }

Performance perform(std::shared_ptr<const sim::Model> model, const Performer& performer,
                    std::shared_ptr<AnswerSource> answers) {
    Player player(std::move(model), performer, std::move(answers));
    play_well(player);
    return {player.w.text(), player.w.recording()};
}

Performance perform_carelessly(std::shared_ptr<const sim::Model> model, std::shared_ptr<AnswerSource> answers) {
    ScriptWriter w(std::move(model), std::move(answers));
    const sim::Scenario& scenario = w.model().scenario;
    w.comment(scenario.title + ": hurried and not looking");
    if (scenario.visit && scenario.visit->opening) {
        open_carelessly(w);
    } else {
        if (scenario.visit) begin_carelessly(w);
        for (const sim::PlannedVector& plan : scenario.plan) pass_carelessly(w, plan);
        if (scenario.visit) finish_carelessly(w);
    }
    w.finish();
    return {w.text(), w.recording()};
}

}  // namespace session
