#include "engine/session/performers_visit.hpp"

#include <algorithm>
#include <set>

#include "sim/procedure/mark_rules.hpp"

namespace session {

namespace {

using sim::kMm;

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

}  // namespace

int pilot_number(const sim::Scenario& scenario) {
    return needle_number(scenario, [](int a, int b) { return a < b; });
}

int fine_needle_number(const sim::Scenario& scenario) {
    return needle_number(scenario, [](int a, int b) { return a > b; });
}

bool consult_well(ScriptWriter& w) {
    const sim::VisitSpec& visit = *w.model().scenario.visit;
    w.comment("the history, whole");
    for (std::size_t i = 0; i < sim::kHistoryItems; ++i)
        w.line("do ask " + std::string(sim::key_of(static_cast<sim::HistoryItem>(i))));
    const sim::Decision right = visit.right_decision();
    const auto reason = std::find_if(visit.history.begin(), visit.history.end(),
                                     [&](const sim::HistoryAnswer& answer) { return answer.calls_for == right; });
    const auto item = right == sim::Decision::treat ? sim::HistoryItem::expectations
                                                    : static_cast<sim::HistoryItem>(reason - visit.history.begin());
    w.line(fmt::format("decide {} for {}", sim::name_of(right), sim::key_of(item)));
    if (right != sim::Decision::treat) return false;
    w.line("do explain");
    w.line("do take_consent");
    photograph_all(w);
    w.line("do test_movement");
    w.line("do test_sensation");
    return true;
}

void mark_well(ScriptWriter& w) {
    const sim::Anatomy& anatomy = *w.model().anatomy;
    w.comment("both pulses, then the landmarks, upright");
    for (const sim::Side side : sides_of(w.model().scenario)) {
        // at the jaw, and before the ear
        for (const auto& [name, up_m] : {std::pair{"antegonial notch", 0.0}, std::pair{"tragion", 8.0 * kMm}})
            if (const auto about = landmark_of(anatomy, name, side)) {
                const sim::Vec3 before(0.0, up_m, up_m);
                w.line(place_line("touch", pulse_place(anatomy, anatomy.nearest_skin(*about + before).position_m)));
                w.line("do feel_pulse");
            }
        for (int i = 0; i < sim::kMarkPoints; ++i)
            if (const auto place = sim::rule_place(anatomy, static_cast<sim::MarkPoint>(i), side)) {
                w.line(place_line("touch", *place));
                w.line("do mark_point " + sim::subject_key(sim::Deed::mark_point, i));
            }
    }
}

void prepare_well(ScriptWriter& w) {
    w.comment("hands, skin, field, and the contact time");
    w.line("do set_chair reclined");
    w.line("do wash_hands");
    w.line("do put_on_gloves");
    for (const sim::Side side : sides_of(w.model().scenario))
        w.line(fmt::format("do prepare_skin_mild {}_face", word_of(sim::name_of(side))));
    w.line("do lay_field");
    w.line("let 2 min pass");
}

void numb_entry(ScriptWriter& w) {
    w.comment("a bleb, and the wait");
    w.line(fmt::format("take {}", fine_needle_number(w.model().scenario)));
    w.aim(0.0, 25.0);
    for (int i = 0; i < 40 && !w.state().in_skin; ++i) w.line("push 0.25 mm at 3 mm/s");
    w.line("push 1 mm at 3 mm/s");
    w.line("do aspirate");
    w.line("inject 0.3 ml over 10 s");
    w.line("withdraw all at 8 mm/s");
    w.line("let 3 min pass");
}

void numb_track(ScriptWriter& w) {
    constexpr double kEachMm = 12.0;
    for (double left_mm = w.state().inserted_m / kMm; left_mm > kEachMm; left_mm -= kEachMm) {
        w.line("do aspirate");
        w.line("inject 0.15 ml over 4 s");
        w.line(fmt::format("withdraw {:.0f} mm at 8 mm/s", kEachMm));
    }
    w.line("withdraw all at 8 mm/s");
    w.line("let 4 min pass");
}

void finish_well(ScriptWriter& w) {
    const sim::PlannedVector& plan = w.model().scenario.plan.front();
    if (!w.state().threads.empty() && !w.state().threads.front().out) {
        w.comment("the tail drawn lightly, the skin pressed down, one cut");
        w.line(place_line("touch", plan.entry_m));
        w.line("traction 1 N on 1");
        w.line("wait 0.5 s");
        w.line("grip press 2 N");
        w.line("wait 0.5 s");
        w.line("trim 1");
        w.line("grip press 0 N");
        w.line("wait 0.6 s");
    }
    w.comment("sharps, sitting up, views, papers");
    w.line("do count_sharps");
    w.line("do set_chair upright");
    w.line("do test_movement");
    photograph_all(w);
    for (const std::string_view deed : {"write_record", "advise", "give_contact", "discharge"})
        w.line(fmt::format("do {}", deed));
    for (int i = 0; i < sim::kCalls; ++i) w.line("do call_back " + sim::subject_key(sim::Deed::call_back, i));
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
