#include "engine/session/performers_visit.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/procedure/mark_rules.hpp"

namespace session {

namespace {

using sim::kMm;

std::set<sim::Side> sides_of(const sim::Scenario& scenario) {
    std::set<sim::Side> sides;
    for (const sim::PlannedVector& vector : scenario.plan) sides.insert(vector.side);
    return sides;
}

std::string word_of(std::string_view words) {
    std::string key(words);
    std::replace(key.begin(), key.end(), ' ', '_');
    return key;
}

void photograph_all(ScriptWriter& w) {
    for (int i = 0; i < sim::kViews; ++i) w.line("do photograph " + sim::subject_key(sim::Deed::photograph, i));
}

/// The nearest place about which a finger feels a pulse; the place itself where there is none within 15 mm.
sim::Vec3 pulse_place(const sim::Anatomy& anatomy, const sim::Vec3& about_m) {
    for (double away_m = 0.0; away_m < 15.0 * kMm; away_m += 3.0 * kMm)
        for (int i = 0; i < 8; ++i) {
            const double angle = sim::kPi * i / 4.0;
            const sim::Vec3 beside(0.0, away_m * std::sin(angle), away_m * std::cos(angle));
            const sim::Vec3 place_m = anatomy.nearest_skin(about_m + beside).position_m;
            if (sim::pulse_under(anatomy, place_m) >= 0) return place_m;
        }
    return about_m;
}

std::optional<sim::Vec3> landmark_of(const sim::Anatomy& anatomy, std::string_view name, sim::Side side) {
    for (const sim::Landmark& one : anatomy.landmarks())
        if (one.name == name && one.side == side) return one.skin.position_m;
    return std::nullopt;
}

void feel_pulse(ScriptWriter& w, const sim::Vec3& about_m) {
    const sim::Anatomy& anatomy = *w.model().anatomy;
    w.line(place_line("touch", pulse_place(anatomy, anatomy.nearest_skin(about_m).position_m)));
    w.line("do feel_pulse");
}

void feel_jaw_pulse(ScriptWriter& w, sim::Side side) {
    if (const auto notch = landmark_of(*w.model().anatomy, "antegonial notch", side)) feel_pulse(w, *notch);
}

void mark_at(ScriptWriter& w, const sim::Vec3& place_m, sim::MarkPoint point) {
    w.line(place_line("touch", place_m));
    w.line("do mark_point " + sim::subject_key(sim::Deed::mark_point, static_cast<int>(point)));
}

/// Hands, skin, field, contact time.
void make_clean(Player& p) {
    ScriptWriter& w = p.w;
    const double poor = p.as.much(Flaw::poor_asepsis);
    if (poor < 0.8) w.line("do wash_hands");
    w.line("do put_on_gloves");
    if (poor < 0.95) {
        for (const sim::Side side : sides_of(p.scenario()))
            w.line(fmt::format("do prepare_skin_mild {}_face", word_of(sim::name_of(side))));
        const auto& plan = p.scenario().plan;
        if (std::any_of(plan.begin(), plan.end(), [](const sim::PlannedVector& v) { return v.neck; }))
            w.line("do prepare_skin_mild neck");
    }
    if (poor < 0.5) w.line("do lay_field");
    if (poor >= 0.2) return;
    constexpr double kUsualS = 120.0;
    const double local_s = p.scenario().visit->local.contact_time_s;
    w.line(local_s > kUsualS ? fmt::format("let {:.0f} s pass", local_s) : "let 2 min pass");
}

/// What is waited for after an injection, as far as whoever hurries waits.
void wait_for_it(Player& p, double seconds) {
    const auto wait_s = std::lround(seconds * (1.0 - p.as.much(Flaw::hurry)));
    if (wait_s > 0) p.w.line(fmt::format("let {} s pass", wait_s));
}

void call_all(ScriptWriter& w) {
    w.comment("the calls, and to each what it asks for");
    for (int i = 0; i < sim::kCalls; ++i) {
        w.line("do call_back " + sim::subject_key(sim::Deed::call_back, i));
        w.line("do answer_call " +
               sim::subject_key(sim::Deed::answer_call, static_cast<int>(sim::answer_to(w.heard()))));
    }
}

}  // namespace

bool consult(Player& p) {
    ScriptWriter& w = p.w;
    const sim::VisitSpec& visit = *p.scenario().visit;
    const double skipped = p.as.much(Flaw::skipped_checks);
    w.comment("the history, whole");
    // who skips leaves out the last of the list
    const auto asked = static_cast<std::size_t>(std::lround((1.0 - skipped) * sim::kHistoryItems));
    for (std::size_t i = 0; i < asked; ++i)
        w.line("do ask " + std::string(sim::key_of(static_cast<sim::HistoryItem>(i))));
    const sim::Decision right = visit.right_decision();
    const auto reason = std::find_if(visit.history.begin(), visit.history.end(),
                                     [&](const sim::HistoryAnswer& answer) { return answer.calls_for == right; });
    const auto item = right == sim::Decision::treat ? sim::HistoryItem::expectations
                                                    : static_cast<sim::HistoryItem>(reason - visit.history.begin());
    w.line(fmt::format("decide {} for {}", sim::name_of(right), sim::key_of(item)));
    if (right != sim::Decision::treat) return false;
    if (skipped < 0.7) w.line("do explain");
    w.line("do take_consent");
    if (skipped < 0.5) photograph_all(w);
    if (skipped < 0.2) w.line("do test_movement");
    if (skipped < 0.4) w.line("do test_sensation");
    return true;
}

void mark(Player& p) {
    ScriptWriter& w = p.w;
    const sim::Anatomy& anatomy = *w.model().anatomy;
    w.comment("both pulses, then the landmarks, upright");
    for (const sim::Side side : sides_of(p.scenario())) {
        feel_jaw_pulse(w, side);
        if (const auto about = landmark_of(anatomy, "tragion", side))
            feel_pulse(w, *about + sim::Vec3(0.0, 8.0 * kMm, 8.0 * kMm));
        for (int i = 0; i < sim::kLandmarks; ++i)
            if (const auto place = sim::rule_place(anatomy, static_cast<sim::MarkPoint>(i), side))
                mark_at(w, *place, static_cast<sim::MarkPoint>(i));
    }
    w.comment("the vectors, by their ends");
    for (const sim::PlannedVector& vector : p.scenario().plan) {
        mark_at(w, vector.entry_m, sim::MarkPoint::vector_entry);
        mark_at(w, vector.end_m, sim::MarkPoint::vector_end);
    }
}

void look_upright(Player& p) {
    ScriptWriter& w = p.w;
    w.comment("sitting up: one side wants more; back, and clean again");
    w.line("do set_chair upright");
    w.line("do test_movement");
    w.line("do set_chair reclined");
    make_clean(p);
}

void prepare(Player& p) {
    ScriptWriter& w = p.w;
    w.comment("laid back: is the artery still where it was marked? then hands, skin, field, and the contact time");
    w.line("do set_chair reclined");
    for (const sim::Side side : sides_of(p.scenario())) feel_jaw_pulse(w, side);
    make_clean(p);
}

void numb_entry(Player& p) {
    ScriptWriter& w = p.w;
    for (int tries = 0; tries < 2; ++tries) {
        w.comment("a bleb, and the wait");
        w.line(fmt::format("take {}", fine_needle_number(p.scenario())));
        w.aim(0.0, 25.0);
        bool going_on = true;
        for (int i = 0; i < 40 && going_on && !w.state().in_skin; ++i) {
            w.line("push 0.25 mm at 3 mm/s");
            going_on = attend(p);
        }
        if (!going_on) continue;
        w.line("push 1 mm at 3 mm/s");
        if (!attend(p)) continue;
        if (!p.slips(Flaw::hurry)) w.line("do aspirate");
        w.line(fmt::format("inject {:.2f} ml over 10 s", 0.3 * (1.0 + p.as.much(Flaw::flooding))));
        if (!attend(p)) continue;
        w.line("withdraw all at 8 mm/s");
        break;
    }
    wait_for_it(p, 180.0);
}

void numb_track(Player& p) {
    ScriptWriter& w = p.w;
    constexpr double kEachMm = 12.0;
    const double each_ml = 0.15 * (1.0 + 5.0 * p.as.much(Flaw::flooding));
    for (double left_mm = w.state().inserted_m / kMm; left_mm > kEachMm; left_mm -= kEachMm) {
        if (!p.slips(Flaw::hurry)) w.line("do aspirate");
        w.line(fmt::format("inject {:.2f} ml over 4 s", each_ml));
        w.line(fmt::format("withdraw {:.0f} mm at 8 mm/s", kEachMm));
    }
    w.line("withdraw all at 8 mm/s");
    wait_for_it(p, 240.0);
}

void bury_ends(Player& p) {
    ScriptWriter& w = p.w;
    for (std::size_t i = 0; i < p.served.size(); ++i) {
        if (w.state().threads[i].out) continue;
        const sim::PlannedVector& plan = p.scenario().plan[static_cast<std::size_t>(p.served[i])];
        w.comment("the tail drawn lightly, the skin pressed down, one cut");
        w.line(place_line("touch", plan.entry_m));
        w.line(fmt::format("traction 1 N on {}", i + 1));
        w.line("wait 0.5 s");
        w.line("grip press 2 N");
        w.line("wait 0.5 s");
        w.line(fmt::format("trim {}", i + 1));
        w.line("grip press 0 N");
        w.line("wait 0.6 s");
    }
}

void finish_visit(Player& p) {
    ScriptWriter& w = p.w;
    bury_ends(p);
    w.comment("sharps, sitting up, views, papers");
    w.line("do count_sharps");
    w.line("do set_chair upright");
    w.line("do test_movement");
    photograph_all(w);
    for (const std::string_view deed : {"write_record", "advise", "give_contact", "discharge"})
        w.line(fmt::format("do {}", deed));
    call_all(w);
}

void play_opening(Player& p) {
    ScriptWriter& w = p.w;
    if (p.scenario().visit->opening->gone_home) {
        call_all(w);
        return w.finish();
    }
    static_cast<void>(attend(p));
    w.comment("dry? the face moves and feels; told, written down, and whom to call");
    for (const std::string_view deed : {"test_movement", "test_sensation", "write_record", "advise", "give_contact"})
        w.line(fmt::format("do {}", deed));
    w.line("do discharge");
    call_all(w);
    w.finish();
}

void begin_carelessly(ScriptWriter& w) {
    w.comment("three questions, a signature, gloves over unwashed hands");
    for (const std::string_view item : {"medicines", "allergy", "expectations"}) w.line(fmt::format("do ask {}", item));
    w.line("decide treat for expectations");
    w.line("do take_consent");
    w.line("do photograph front");
    w.line("do put_on_gloves");
    w.line("do prepare_skin left_face");
}

void finish_carelessly(ScriptWriter& w) {
    if (!w.state().threads.empty() && !w.state().threads.front().out) w.line("trim 1");
    w.line("do advise");
    w.line("do discharge");
}

}  // namespace session
