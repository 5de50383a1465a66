#include "engine/app/guide.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "engine/app/thread_words.hpp"
#include "sim/instruments/gauge.hpp"

namespace app {

namespace {

// bands of good practice: assumed, no source
constexpr double kBelowDermisM = 1.0 * sim::kMm, kAboveSmasM = 0.5 * sim::kMm;
constexpr double kPilotLowRad = 30.0 * sim::kPi / 180.0, kPilotHighRad = 45.0 * sim::kPi / 180.0;
constexpr double kRampM = 10.0 * sim::kMm;  // the entry ramp, in which the plane is not judged
constexpr double kPi180 = 180.0 / sim::kPi;
constexpr double kToldM = 0.1 * sim::kMm;  // a thinner rest of a layer is not named
constexpr double kRunningToldN = 0.05;     // a smaller running force is none to compare with
constexpr double kTimesToldExact = 10.0;   // beyond it a multiple is told without its decimals

double mm(double metres) { return metres * 1000.0; }

bool has_event(const sim::Recording& recording, sim::EventKind kind) {
    return std::any_of(recording.events.begin(), recording.events.end(),
                       [kind](const sim::Event& event) { return event.kind == kind; });
}

/// Number of the first instrument in the tray that fits and is still in use, counted from 1 as its key is; 0: none.
template <typename Fits>
int key_of(const sim::Model& model, const sim::State& state, Fits fits) {
    const auto& tray = model.scenario.tray;
    for (std::size_t i = 0; i < tray.size(); ++i)
        if (state.in_use[i] && fits(tray[i])) return static_cast<int>(i) + 1;
    return 0;
}

bool is_pilot(const sim::InstrumentSpec& spec) { return spec.tip == sim::TipShape::bevel; }
bool is_cannula(const sim::InstrumentSpec& spec) { return spec.tip == sim::TipShape::blunt; }

const sim::PlannedVector* nearest_plan(const sim::Model& model, const sim::Vec3& entry_m) {
    const sim::PlannedVector* best = nullptr;
    for (const sim::PlannedVector& vector : model.scenario.plan)
        if (best == nullptr || glm::length(vector.entry_m - entry_m) < glm::length(best->entry_m - entry_m))
            best = &vector;
    return best;
}

Sentence before_the_skin(const sim::Model& model, const sim::State& state) {
    const int pilot = key_of(model, state, is_pilot), cannula = key_of(model, state, is_cannula);
    const sim::Hands& hands = state.hands;
    if (hands.instrument < 0) {
        if (state.holes.empty())
            return {Mark::neutral, "Both hands are empty.",
                    fmt::format("Take the pilot needle from the tray: key {}.", pilot)};
        return {Mark::neutral, "The entry is open, both hands are empty.",
                fmt::format("Take a cannula ({}), or finish: Enter.", cannula)};
    }
    const sim::InstrumentSpec& held = model.scenario.tray[static_cast<std::size_t>(hands.instrument)];
    if (!hands.entry_chosen)
        return {Mark::neutral, held.name + " in hand.", "Click the skin in the ring that marks the entry."};
    const sim::PlannedVector* plan = nearest_plan(model, hands.entry.position_m);
    const double off_m = plan != nullptr ? glm::length(plan->entry_m - hands.entry.position_m) : 0.0;
    const double slope_deg = hands.pitch_rad * kPi180;
    if (is_pilot(held)) {
        const bool opened = !state.holes.empty();
        if (opened && glm::length(state.holes.back().at.position_m - hands.entry.position_m) < 2.0 * sim::kMm)
            return {Mark::good, "The entry is open.", fmt::format("Change to the cannula: key {}.", cannula)};
        if (plan != nullptr && off_m > plan->entry_tolerance_m)
            return {Mark::caution, fmt::format("The needle stands {:.1f} mm from the planned entry.", mm(off_m)),
                    "Click nearer to the ring."};
        if (hands.pitch_rad < kPilotLowRad || hands.pitch_rad > kPilotHighRad)
            return {Mark::caution, fmt::format("Needle at the entry, sloping {:.0f}°.", slope_deg),
                    "Bring it to 30 to 45° with Q and E."};
        return {Mark::good, fmt::format("Needle at the entry, sloping {:.0f}°.", slope_deg),
                "Hold W to enter the skin; stop in superficial fat."};
    }
    if (state.refused_here)
        return {Mark::caution, "A blunt tip does not go through closed skin.",
                state.holes.empty() ? fmt::format("Open the entry with the pilot needle: key {}.", pilot)
                                    : "Click the entry that the pilot has opened."};
    if (state.holes.empty())
        return {Mark::caution, held.name + " in hand, and the skin is closed.",
                fmt::format("Open the entry with the pilot needle first: key {}.", pilot)};
    return {Mark::neutral, fmt::format("Cannula at the entry, sloping {:.0f}°.", slope_deg),
            "Hold W to enter. Flatten with Q once it is in fat."};
}

std::string layer_words(sim::Layer layer) {
    switch (layer) {
        case sim::Layer::outside:
            return "air";
        case sim::Layer::skin:
            return "dermis";
        case sim::Layer::superficial_fat:
            return "superficial fat";
        case sim::Layer::smas:
            return "the SMAS or platysma";
        case sim::Layer::deep_fat:
            return "deep fat";
        case sim::Layer::muscle:
            return "muscle";
        case sim::Layer::floor:
            return "the floor of the tissue";
    }
    return "";
}

Sentence pilot_inside(const sim::LayerPoint& at) {
    const double above_smas_m = at.bottom_of(sim::Layer::superficial_fat) - at.depth_m;
    if (at.layer > sim::Layer::superficial_fat)
        return {Mark::bad, fmt::format("The needle has passed the superficial fat: it is {}.", in_layer(at.layer)),
                "Withdraw with S."};
    if (at.layer == sim::Layer::superficial_fat)
        return {Mark::good,
                fmt::format("Needle in superficial fat, {:.1f} mm above the SMAS or platysma.", mm(above_smas_m)),
                "Deep enough: withdraw with S."};
    return {Mark::neutral, fmt::format("Needle {:.1f} mm deep, {}.", mm(at.depth_m), in_layer(at.layer)),
            "Go on to superficial fat with W."};
}

/// What the hand feels, and what it was used to: "Resistance 7.4 N, 12 times the running 0.6 N".
std::string resistance_words(const sim::ShaftForce& force) {
    const std::string now = fmt::format("Resistance {:.1f} N", force.hand_n);
    if (!(force.running_n > kRunningToldN)) return now;
    const double times = force.hand_n / force.running_n;
    return times < kTimesToldExact ? fmt::format("{}, {:.1f} times the running {:.1f} N", now, times, force.running_n)
                                   : fmt::format("{}, {:.0f} times the running {:.1f} N", now, times, force.running_n);
}

/// A thread may stay behind when its cannula is drawn back and turned: a loaded one comes out whole.
std::string correct_words(const sim::InstrumentSpec& held, const std::string& bare) {
    return held.loaded ? "Stop: take it out with S, discard it with X, make a new track 5 to 10 mm beside it." : bare;
}

/// Resistance has doubled: what the tip pushes on is said where the layers tell it.
Sentence doubled(const sim::InstrumentSpec& held, const sim::ShaftForce& force, double below_dermis_m,
                 double above_smas_m) {
    std::string where = ": the tip has met something.";
    if (below_dermis_m < 0.0) where = ": the shaft lies in the dermis, too shallow.";
    if (above_smas_m < 0.0) where = ": the shaft lies in the SMAS or platysma, too deep.";
    return {Mark::caution, resistance_words(force) + where,
            correct_words(held, "Stop and re-angle; do not push through.")};
}

/// How the wall of the shaft at the tip lies to the plane it should keep.
Sentence cannula_inside(const sim::Model& model, const sim::State& state, const sim::LayerPoint& at,
                        const sim::TraceRow* row, const sim::Recording& recording) {
    const sim::InstrumentSpec& held = model.scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
    const double radius_m = sim::gauge(held.gauge).radius_m();
    const double below_dermis_m = at.depth_m - radius_m - at.bottom_of(sim::Layer::skin);
    const double above_smas_m = at.bottom_of(sim::Layer::superficial_fat) - at.depth_m - radius_m;
    const std::string place = above_smas_m >= 0.0
                                  ? fmt::format("Tip {:.1f} mm above the SMAS or platysma.", mm(above_smas_m))
                                  : fmt::format("Tip {:.1f} mm into the SMAS or platysma.", mm(-above_smas_m));
    const sim::ShaftForce& force = state.force;
    if (force.doubled) return doubled(held, force, below_dermis_m, above_smas_m);
    if (row != nullptr && row->nearest.structure >= 0 && row->inserted_m > 0.0) {
        const sim::StructureFacts& near = recording.structures[static_cast<std::size_t>(row->nearest.structure)];
        if (row->nearest.distance_m < near.margin_m)
            return {Mark::caution,
                    fmt::format("{:.1f} mm from the {}.", mm(std::max(0.0, row->nearest.distance_m)), near.name),
                    correct_words(held, "Draw back and steer away.")};
    }
    if (state.track && state.track->withdrawing) return {Mark::neutral, place, "Withdraw with S until it is out."};
    const sim::PlannedVector* plan = nearest_plan(model, state.hands.entry.position_m);
    if (plan != nullptr && state.inserted_m >= plan->length_m - 0.5 * sim::kMm)
        return {Mark::good, fmt::format("{} The planned {:.0f} mm are reached.", place, mm(plan->length_m)),
                "Withdraw with S."};
    if (state.inserted_m < kRampM)
        return {Mark::neutral, fmt::format("Tip {:.1f} mm deep, {}.", mm(at.depth_m), in_layer(at.layer)),
                "Flatten with Q when the tip is in superficial fat."};
    if (above_smas_m < kAboveSmasM)
        return {above_smas_m < 0.0 ? Mark::bad : Mark::caution, place,
                correct_words(held, "Too deep: draw back a little and flatten with Q.")};
    if (below_dermis_m < kBelowDermisM)
        return {Mark::caution, fmt::format("Shaft {:.1f} mm below the dermis.", mm(below_dermis_m)),
                "Too shallow: steepen a little with E."};
    return {Mark::good, place, "Keep this slope."};
}

}  // namespace

const char* name_of(Stage stage) {
    switch (stage) {
        case Stage::choose:
            return "Choose entry";
        case Stage::open:
            return "Open";
        case Stage::pass:
            return "Pass";
        case Stage::withdraw:
            return "Withdraw";
        case Stage::anchor:
            return "Anchor";
        case Stage::finish:
            return "Finish";
    }
    return "";
}

bool has_stage(const sim::Recording& recording, Stage stage) {
    return stage != Stage::anchor || std::any_of(recording.plan.begin(), recording.plan.end(),
                                                 [](const auto& vector) { return !vector.lift.empty(); });
}

std::string in_layer(sim::Layer layer) {
    switch (layer) {
        case sim::Layer::outside:
            return "outside the skin";
        case sim::Layer::skin:
            return "in the dermis";
        case sim::Layer::superficial_fat:
            return "in superficial fat";
        case sim::Layer::smas:
            return "in the SMAS or platysma";
        case sim::Layer::deep_fat:
            return "in deep fat";
        case sim::Layer::muscle:
            return "in muscle";
        case sim::Layer::floor:
            return "at the floor of the tissue";
    }
    return "";
}

Stage stage_of(const sim::State& state, const sim::Recording& recording) {
    if (state.track) return state.track->withdrawing ? Stage::withdraw : Stage::pass;
    const bool lies = std::any_of(state.threads.begin(), state.threads.end(), [](const auto& t) { return !t.out; });
    if (lies && has_stage(recording, Stage::anchor) && !anchored(recording)) return Stage::anchor;
    if (has_event(recording, sim::EventKind::track_closed)) return Stage::finish;
    if (!state.holes.empty()) return Stage::pass;
    return state.hands.entry_chosen ? Stage::open : Stage::choose;
}

std::string under_the_tip(const sim::Model& model, const sim::State& state, const sim::Recording& recording) {
    if (state.inserted_m <= 0.0) return "";
    const sim::LayerPoint at = model.anatomy->layers_at(state.tip_m);
    if (at.layer == sim::Layer::outside) return "";
    std::string words;
    if (at.layer == sim::Layer::floor) {
        words = "The tip is at the floor of the tissue.";
    } else {
        const auto below = static_cast<sim::Layer>(static_cast<int>(at.layer) + 1);
        // from the wall that comes to the next layer first, as the depth over the SMAS is told
        const sim::InstrumentSpec& held = model.scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
        const double wall_m = is_pilot(held) ? 0.0 : sim::gauge(held.gauge).radius_m();
        const double left_m = std::max(0.0, at.bottom_of(at.layer) - at.depth_m - wall_m);
        words = left_m < kToldM ? fmt::format("Under the tip {}.", layer_words(below))
                                : fmt::format("Under the tip {:.1f} mm of {}, then {}.", mm(left_m),
                                              layer_words(at.layer), layer_words(below));
    }
    if (recording.rows.empty()) return words;
    const sim::TraceRow& row = recording.rows.back();
    if (row.nearest.structure < 0 || row.inserted_m <= 0.0) return words;
    std::string name = recording.structures[static_cast<std::size_t>(row.nearest.structure)].name;
    if (!name.empty()) name[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(name[0])));
    return fmt::format("{} {} {:.1f} mm away.", words, name, mm(std::max(0.0, row.nearest.distance_m)));
}

Sentence sentence(const sim::Model& model, const sim::State& state, const sim::Recording& recording, bool advice) {
    const bool silent = !advice || recording.mode == sim::PracticeMode::graded;
    if (state.inserted_m <= 0.0) {
        if (!state.track && !state.threads.empty()) return about_threads(state, recording, !silent);
        if (!state.track && has_event(recording, sim::EventKind::track_closed))
            return {Mark::good, "The cannula is out.", "Finish with Enter, or make another track."};
        return before_the_skin(model, state);
    }
    if (silent)
        return {Mark::neutral, "The instrument is in the skin.", "Withdraw with S when you have what you want."};
    const sim::LayerPoint at = model.anatomy->layers_at(state.tip_m);
    const sim::InstrumentSpec& held = model.scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
    if (is_pilot(held)) return pilot_inside(at);
    const sim::TraceRow* row = recording.rows.empty() ? nullptr : &recording.rows.back();
    return cannula_inside(model, state, at, row, recording);
}

}  // namespace app
