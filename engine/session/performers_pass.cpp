#include "engine/session/performers_pass.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/instruments/gauge.hpp"
#include "sim/scoring/bands.hpp"

namespace session {

namespace {

constexpr double kDegree = sim::kPi / 180.0;
constexpr double kStrideMm = 2.0;      // between looks
constexpr double kCheckEachMm = 15.0;  // between lifts of the tip
constexpr double kMostTremorDeg = 6.0, kMostBiasM = 1.0 * sim::kMm;

/// A needle of a tray, by what is wanted of its gauge.
template <typename Better>
int needle_number(const sim::Scenario& scenario, Better better) {
    int best = -1;
    for (int i = 0; i < static_cast<int>(scenario.tray.size()); ++i) {
        const sim::InstrumentSpec& spec = scenario.tray[static_cast<std::size_t>(i)];
        if (spec.tip != sim::TipShape::bevel) continue;
        if (best < 0 || better(spec.gauge, scenario.tray[static_cast<std::size_t>(best)].gauge)) best = i;
    }
    return best;
}

/// Where the axis is in the band whatever the assumed limits are within their ranges; the usual band where there is no
/// such place.
sim::AxisBand band_at(const sim::LayerPoint& at, const sim::InstrumentSpec& instrument) {
    const double radius_m = sim::gauge(instrument.gauge).radius_m();
    sim::Bands strict;
    for (sim::Threshold* gap : {&strict.below_dermis_m, &strict.above_smas_m, &strict.thin_gap_m})
        gap->value += gap->spread;
    strict.middle_half_m.value -= strict.middle_half_m.spread;
    sim::AxisBand sure{-1.0, 1.0};
    for (const double thin : {-1.0, 1.0})
        for (const double thinnest : {-1.0, 1.0}) {
            sim::Bands drawn = strict;
            drawn.thin_fat_m.value += thin * drawn.thin_fat_m.spread;
            drawn.thinnest_fat_m.value += thinnest * drawn.thinnest_fat_m.spread;
            const sim::AxisBand band = sim::target_band(at.bottom_m, radius_m, drawn);
            sure.top_m = std::max(sure.top_m, band.top_m);
            sure.bottom_m = std::min(sure.bottom_m, band.bottom_m);
        }
    return sure.top_m <= sure.bottom_m ? sure : sim::target_band(at.bottom_m, radius_m, {});
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

constexpr int kStepsAMm = 50;  // 5 mm/s
constexpr std::int64_t kStepUm = 20;

/// One step of a copy of the state, with the shaft aimed and pushed so.
void step_ahead(const ScriptWriter& w, sim::State& state, double yaw_deg, double pitch_deg, std::int64_t by_um) {
    const std::array<sim::Command, 2> commands{
        sim::Command{sim::Verb::aim, {std::llround(yaw_deg * 1e3), std::llround(pitch_deg * 1e3), 0}},
        sim::Command{sim::Verb::push, {by_um, 0, 0}}};
    std::vector<sim::Answer> answers;
    for (const sim::Request& request : sim::due(state)) answers.push_back(sim::answer(request));
    static_cast<void>(sim::step(w.model(), state, commands, answers));
}

/// Squared distances from the middle of the band over the next millimetres, were the pitch turned by so much in the
/// next stride and then held: what experience tells a capable hand, worked out on a copy of the state.
double outlook(const ScriptWriter& w, double turn_deg, double bias_m) {
    constexpr int kAheadMm = 5;
    constexpr double kRampM = 8.0 * sim::kMm;
    constexpr double kOutOfBand = 20.0;  // leaving the band weighs more than not being in its middle
    sim::State state = w.state();
    const sim::InstrumentSpec& instrument = w.model().scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
    double cost = 0.0;
    for (int mm = 0; mm < kAheadMm; ++mm) {
        for (int i = 0; i < kStepsAMm; ++i) {
            const double share = mm == 0 ? (i + 1.0) / kStepsAMm : 1.0;
            const double pitch_deg = std::clamp(w.pitch_deg() + turn_deg * share, -30.0, 80.0);
            step_ahead(w, state, w.yaw_deg(), pitch_deg, kStepUm);
        }
        const sim::LayerPoint at = w.model().anatomy->layers_at(state.tip_m);
        const sim::AxisBand band = band_at(at, instrument);
        const double off_mm = (at.depth_m - band.middle_m() - bias_m) / sim::kMm;
        const double out_mm = band.excess_m(at.depth_m - bias_m) / sim::kMm;
        cost += off_mm * off_mm + (state.inserted_m > kRampM ? kOutOfBand * out_mm * out_mm : 0.0);
    }
    // and where it is heading: a tip that arrives at a slope goes on past the middle
    const double slope = glm::dot(state.tip_heading, w.model().anatomy->inward_at(state.tip_m));
    const double drift_mm = slope * kAheadMm * 1.5;
    cost += drift_mm * drift_mm;
    return cost + 1e-3 * turn_deg * turn_deg;  // of two ways as good as each other, the calmer hand
}

double best_turn_deg(const ScriptWriter& w, double bias_m) {
    double best = 0.0;
    double least = outlook(w, 0.0, bias_m);
    for (const double turn_deg : {-8.0, -5.0, -3.0, -1.5, -0.7, 0.7, 1.5, 3.0, 5.0, 8.0}) {
        const double cost = outlook(w, turn_deg, bias_m);
        if (cost < least) {
            least = cost;
            best = turn_deg;
        }
    }
    return best;
}

constexpr double kBackMm = 8.0;  // before going round a ligament

/// Whether a tip that comes back and goes on turned by so much meets a ligament again, worked out on a copy of the
/// state.
bool meets_again(const ScriptWriter& w, double turn_deg) {
    constexpr int kAheadMm = 20;
    sim::State state = w.state();
    const auto go = [&](int mm, std::int64_t by_um, double yaw_deg) {
        for (int i = 0; i < mm * kStepsAMm; ++i) {
            step_ahead(w, state, yaw_deg, w.pitch_deg(), by_um);
            if (by_um > 0 && state.ligament.ligament >= 0) return true;
        }
        return false;
    };
    static_cast<void>(go(static_cast<int>(kBackMm), -kStepUm, w.yaw_deg()));
    return go(kAheadMm, kStepUm, w.yaw_deg() + turn_deg);
}

/// A ligament resists: stop, back a little, and round it; or push on, all else as well as ever.
void meet_ligament(Player& p) {
    if (p.slips(Flaw::forcing)) {
        p.w.push(kStrideMm, 5.0 + 15.0 * p.as.much(Flaw::forcing), p.w.yaw_deg(), p.w.pitch_deg());
        return;
    }
    p.w.comment("it resists: stop, back, and round it");
    p.w.line("wait 0.4 s");
    static constexpr std::array<double, 8> kTurnsDeg{12.0, -12.0, 20.0, -20.0, 30.0, -30.0, 40.0, -40.0};
    const auto* free =
        std::find_if(kTurnsDeg.begin(), kTurnsDeg.end(), [&](double turn_deg) { return !meets_again(p.w, turn_deg); });
    const double round_deg = free == kTurnsDeg.end() ? kTurnsDeg.back() : *free;
    p.w.line(fmt::format("withdraw {:.0f} mm at 5 mm/s", kBackMm));
    p.w.push(1.0, 5.0, p.w.yaw_deg() + round_deg, p.w.pitch_deg());
}

double shake_deg(Player& p) { return kMostTremorDeg * p.as.much(Flaw::tremor) * p.random.normal(); }

/// Advance along the plan, watching depth and direction, until the planned length is reached.
/// @return false when something made the performer take all out
bool steer(Player& p, const sim::PlannedVector& plan) {
    ScriptWriter& w = p.w;
    double since_check_mm = 0.0;
    int resisted = 0;
    const double length_mm = plan.length_m / sim::kMm;
    for (int i = 0; i < 200; ++i) {
        if (!attend(p)) return false;
        const sim::State& s = w.state();
        if (!s.in_skin && i > 4) return true;
        const double left_mm = length_mm - s.inserted_m / sim::kMm;
        const double instrument_m = w.model().scenario.tray[static_cast<std::size_t>(s.hands.instrument)].length_m;
        if (left_mm < 0.2 || s.inserted_m >= instrument_m - 3.0 * sim::kMm) return true;
        if (s.ligament.ligament >= 0 && resisted < 6) {
            ++resisted;
            meet_ligament(p);
            continue;
        }
        const double turn_deg = best_turn_deg(w, kMostBiasM * p.as.much(Flaw::depth_bias));
        const double yaw_deg = std::clamp(yaw_error_deg(w, plan.end_m) * 0.3, -2.0, 2.0);
        const double mm = std::clamp(left_mm, 0.2, kStrideMm);
        w.push(mm, 5.0, std::clamp(w.yaw_deg() + yaw_deg + shake_deg(p), -60.0, 60.0),
               std::clamp(w.pitch_deg() + turn_deg + shake_deg(p), -30.0, 80.0));
        since_check_mm += mm;
        if (since_check_mm >= kCheckEachMm && left_mm > kCheckEachMm) {
            w.line("lift 0.4 N for 0.6 s");
            since_check_mm = 0.0;
        }
    }
    return true;
}

/// A gentle pull, and while it holds the tissue along the thread from both ends towards its centre: without the pull
/// the thread goes along with the stroke, and little is kept.
void anchor(Player& p, const sim::PlannedVector& plan, int thread) {
    ScriptWriter& w = p.w;
    const double rough = p.as.much(Flaw::over_traction);
    w.comment("a finger holds the skin at the entry");
    w.line(place_line("touch", plan.entry_m));
    w.line("wait 0.2 s");
    w.line("grip counter-hold 2 N");
    w.comment("does it hold? and while it holds, the tissue along it, from both ends to the middle");
    w.line(fmt::format("traction {:.1f} N on {}", 1.0 + 3.0 * rough, thread));
    w.line("wait 0.6 s");
    w.line("grip counter-hold 0 N");
    w.line("wait 0.2 s");
    for (const std::string_view end : {"entry", "far", "entry"})
        w.line(fmt::format("stroke {:.1f} N toward from {} on {}", 4.0 + 4.0 * rough, end, thread));
    w.line(fmt::format("traction 0 N on {}", thread));
    w.line("wait 0.5 s");
}

/// In the neck: the middle of the vector between two fingers, lifted.
void lift_fold(ScriptWriter& w, const sim::PlannedVector& plan) {
    w.comment("the skin over the way lifted in a fold");
    w.line(place_line("touch", 0.5 * (plan.entry_m + plan.end_m)));
    w.line("grip fold 1 N");
    w.line("wait 0.6 s");
}

}  // namespace

bool wants_lift(const sim::Scenario& scenario) {
    return std::any_of(scenario.plan.begin(), scenario.plan.end(),
                       [](const sim::PlannedVector& plan) { return !plan.lift.empty(); });
}

int cannula_number(const sim::Scenario& scenario, bool loaded) {
    for (std::size_t i = 0; i < scenario.tray.size(); ++i)
        if (scenario.tray[i].tip == sim::TipShape::blunt && scenario.tray[i].loaded == loaded)
            return static_cast<int>(i);
    return -1;
}

int pilot_number(const sim::Scenario& scenario) {
    return needle_number(scenario, [](int a, int b) { return a < b; });
}

int fine_needle_number(const sim::Scenario& scenario) {
    return needle_number(scenario, [](int a, int b) { return a > b; });
}

bool attend(Player& p) {
    ScriptWriter& w = p.w;
    if (!p.scenario().visit) return true;
    const sim::Visit& visit = w.state().visit;
    const auto out = [&w] {
        if (w.state().in_skin) w.line("withdraw all at 8 mm/s");
    };
    if (visit.swallows_s > 0.0) {
        w.comment("the patient swallows: hold still");
        w.line(fmt::format("wait {:.1f} s", visit.swallows_s + 0.3));
    }
    if (visit.faint_since_s >= 0.0 && !visit.faint_done) {
        w.comment("pale and sweating: all out, flat, legs up");
        out();
        w.line("do set_chair flat_legs_up");
        w.line("let 4 min pass");
        w.line("do set_chair reclined");
        return false;
    }
    for (const sim::Bleeding& one : visit.bleeding) {
        if (one.stopped) continue;
        w.comment("blood: all out, and firm pressure");
        out();
        w.line(place_line("touch", w.model().anatomy->nearest_skin(one.place_m).position_m));
        w.line("grip press 4 N");
        w.line("wait 0.6 s");
        w.line("let 6 min pass");
        w.line("wait 0.2 s");
        w.line("grip press 0 N");
        w.line("wait 0.5 s");
        return false;
    }
    if (visit.hurting && p.as.much(Flaw::hurry) < 0.5) {
        w.comment("it hurts: wait until it has passed");
        w.line("let 1 min pass");
    }
    return true;
}

void test_shift(ScriptWriter& w, const sim::PlannedVector& plan) {
    w.comment("what does the skin give? pushed back along the vector, and let go");
    w.line(place_line("touch", plan.end_m));
    w.line("grip push 1 N turned 180 for 0.8 s");
    w.line("wait 0.4 s");
}

void pilot(Player& p, const sim::PlannedVector& plan, double pitch_deg, double share_of_fat) {
    ScriptWriter& w = p.w;
    if (plan.neck) {
        w.comment("the skin drawn tight for the pilot");
        w.line(place_line("touch", plan.entry_m));
        w.line("grip draw-tight 1.5 N");
        w.line("wait 0.6 s");
    }
    for (int tries = 0; tries < 2; ++tries) {
        w.line(fmt::format("take {}", pilot_number(p.scenario())));
        w.aim(0.0, pitch_deg);
        bool through = false;
        for (int i = 0; i < 60 && !through; ++i) {
            w.line("push 0.5 mm at 4 mm/s");
            if (!attend(p)) break;
            const sim::LayerPoint at = w.at_tip();
            const double wanted_m =
                at.bottom_of(sim::Layer::skin) +
                share_of_fat * (at.bottom_of(sim::Layer::superficial_fat) - at.bottom_of(sim::Layer::skin));
            through = w.state().in_skin && at.depth_m >= wanted_m;
        }
        if (through) break;
    }
    if (w.state().in_skin) w.line("withdraw all at 8 mm/s");
    w.line("wait 0.5 s");
    if (plan.neck) {
        w.line("grip draw-tight 0 N");
        w.line("wait 0.3 s");
    }
}

bool pass(Player& p, int cannula, const sim::PlannedVector& plan) {
    ScriptWriter& w = p.w;
    for (int tries = 0; tries < 2; ++tries) {
        w.line(fmt::format("take {}", cannula));
        w.aim(0.0, 30.0);
        w.comment("through the hole, just into the fat");
        w.line("push 3 mm at 4 mm/s");
        if (plan.neck) lift_fold(w, plan);
        const bool there = steer(p, plan);
        if (there) {
            w.line("lift 0.4 N for 0.6 s");
            w.line("wait 0.5 s");
        }
        if (plan.neck) {
            w.line("grip fold 0 N");
            w.line("wait 0.3 s");
        }
        if (there) return w.state().in_skin;
    }
    return false;
}

void leave_thread(Player& p, int vector) {
    ScriptWriter& w = p.w;
    const sim::PlannedVector& plan = p.scenario().plan[static_cast<std::size_t>(vector)];
    const bool pressed = wants_lift(p.scenario());
    if (pressed) {
        w.comment("a finger over the far end");
        w.line(place_line("touch", w.state().tip_m));
        w.line("grip press 0.5 N");
        w.line("wait 0.3 s");
    }
    w.comment("straight out");
    const std::size_t before = w.state().threads.size();
    w.line("withdraw all at 12 mm/s");
    if (pressed) w.line("grip press 0 N");
    w.line("wait 0.5 s");
    if (w.state().threads.size() == before) return;
    p.served.push_back(vector);
    const auto thread = static_cast<int>(w.state().threads.size());
    if (!plan.lift.empty()) anchor(p, plan, thread);
    if (plan.take_out) draw_out(p, thread);
}

void draw_out(Player& p, int thread) {
    ScriptWriter& w = p.w;
    w.comment("loosened away from its centre, then out along its axis");
    for (int i = 0; i < 2; ++i)
        for (const std::string_view end : {"entry", "far"}) {
            w.line(fmt::format("stroke 9 N away from {} on {}", end, thread));
            w.line("wait 0.3 s");
        }
    const auto lies = [&] { return !w.state().threads[static_cast<std::size_t>(thread - 1)].out; };
    for (double pull_n = 1.5; lies() && pull_n <= 12.0; pull_n += 0.5)
        w.line(fmt::format("traction {:.1f} N on {} for 0.8 s", pull_n, thread));
    if (lies()) w.line(fmt::format("traction 0 N on {}", thread));
    w.line("wait 0.5 s");
}

}  // namespace session
