#include "engine/app/other_hand.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/report/debrief_words.hpp"
#include "sim/step.hpp"

namespace app {

namespace {

constexpr double kNPerS = 4.0;  // a finger presses faster than a tail is pulled; assumed
constexpr double kSlower = 0.2;
constexpr std::int64_t kToldMn = 200;  // the tissue is not asked about less

std::int64_t micrometres(double m) { return std::llround(m * 1e6); }

}  // namespace

std::int64_t OtherHand::wrapped(std::int64_t mdeg) { return mdeg > 180'000 ? mdeg - 360'000 : mdeg; }

bool OtherHand::turns() const { return grip_ != sim::Grip::press && grip_ != sim::Grip::counter_hold; }

std::vector<sim::Vec3> OtherHand::places_of(const sim::Model& model, const sim::State& state) {
    std::vector<sim::Vec3> out;
    if (state.inserted_m > 0.0) out.push_back(state.tip_m);
    for (const sim::PlannedVector& vector : model.scenario.plan) {
        out.push_back(vector.end_m);
        out.push_back(0.5 * (vector.entry_m + vector.end_m));
        out.push_back(vector.entry_m);
    }
    for (const sim::Concern& concern : model.concerns) out.push_back(concern.place_m);
    return out;
}

void OtherHand::lay_next(const sim::Model& model, const sim::State& state) {
    const std::vector<sim::Vec3> places = places_of(model, state);
    if (places.empty()) return;
    lay(places[next_place_ % places.size()]);
    next_place_ = (next_place_ + 1) % places.size();
}

void OtherHand::next_grip() {
    grip_ = static_cast<sim::Grip>((static_cast<int>(grip_) + 1) % sim::kGrips);
    turn_mdeg_ = grip_ == sim::Grip::push ? 180'000 : 0;
}

void OtherHand::change_force(double by_n) { wanted_n_ = std::clamp(wanted_n_ + by_n, kLeastN, kMostN); }

void OtherHand::pressed(const Input& input, const sim::Model& model, const sim::State& state) {
    for (const Key key : input.keys_pressed) {
        if (key == SDLK_m) lay_next(model, state);
        if (key == SDLK_l) next_grip();
        if (key == SDLK_u) turn();
        if (key == SDLK_COMMA) change_force(-0.5);
        if (key == SDLK_PERIOD) change_force(0.5);
    }
}

bool OtherHand::busy(const Input& input) const {
    return input.held(SDLK_z) || keeps_ || sent_mn_ != 0 || to_lay_m_.has_value();
}

std::vector<sim::Command> OtherHand::commands(const Input& input, const sim::State& state) {
    std::vector<sim::Command> out;
    if (to_lay_m_) {
        const sim::Vec3 p = *to_lay_m_;
        out.push_back({sim::Verb::touch, {micrometres(p.x), micrometres(p.y), micrometres(p.z)}});
        to_lay_m_.reset();
        keeps_ = false;
        force_n_ = 0.0;
        sent_mn_ = 0;
        return out;
    }
    if (!state.hand.placed) {
        keeps_ = false;
        return out;
    }
    // a hand whose hold gave way has let go by itself
    if (sent_mn_ != 0 && !(state.hand.force_n > 0.0)) {
        sent_mn_ = 0;
        force_n_ = 0.0;
        keeps_ = false;
    }
    if (input.held(SDLK_z) || keeps_) {
        const double step_n = habits_.sensitivity * (input.shift ? kSlower : 1.0) * kNPerS * sim::kStepS;
        force_n_ = std::clamp(wanted_n_, force_n_ - step_n, force_n_ + step_n);
    } else {
        force_n_ = 0.0;
    }
    const std::int64_t wanted_mn = std::llround(1000.0 * force_n_);
    const bool arrived = force_n_ == 0.0 || force_n_ == wanted_n_;
    const bool other = wanted_mn > 0 && (grip_ != sent_grip_ || turn_mdeg_ != sent_turn_mdeg_);
    if (other || std::abs(wanted_mn - sent_mn_) >= kToldMn || (arrived && wanted_mn != sent_mn_)) {
        out.push_back({sim::Verb::grip, {static_cast<std::int64_t>(grip_), turn_mdeg_, wanted_mn}});
        sent_mn_ = wanted_mn;
        sent_grip_ = grip_;
        sent_turn_mdeg_ = turn_mdeg_;
    }
    return out;
}

namespace {

/// "jowl 2.1 mm, mouth corner 1.0 mm": those of the hand's side that moved.
std::string moved_words(const sim::State& state, const std::vector<sim::Concern>& concerns) {
    constexpr double kToldM = 0.05 * sim::kMm;
    std::string out;
    const bool left = state.hand.at.position_m.x >= 0.0;
    for (std::size_t i = 0; i < std::min(concerns.size(), state.concerns_moved_m.size()); ++i) {
        const double way_m = glm::length(state.concerns_moved_m[i]);
        if ((concerns[i].side == sim::Side::left) != left || way_m < kToldM) continue;
        out += fmt::format("{}{} {:.1f} mm", out.empty() ? "" : ", ", concerns[i].name, 1e3 * way_m);
    }
    return out;
}

std::string advice(sim::Grip grip) {
    switch (grip) {
        case sim::Grip::press:
            return "Over the far end it keeps the thread while the cannula leaves.";
        case sim::Grip::counter_hold:
            return "Hold at the entry while the tail is pulled.";
        case sim::Grip::push:
            return "Push along the vector towards its entry, and see what comes along.";
        case sim::Grip::draw_tight:
            return "Tight skin gives way less under the needle: lay it over the entry.";
        case sim::Grip::pinch:
            return "Over the tip it shows how deep the shaft lies.";
        case sim::Grip::fold:
            return "In the neck the pass is made in a lifted fold.";
    }
    return "";
}

}  // namespace

std::optional<Sentence> about_hand(const sim::State& state, const sim::Recording& recording,
                                   const std::vector<sim::Concern>& concerns, bool told) {
    constexpr std::int64_t kFreshSteps = 750;  // 3 s
    const sim::SecondHand& hand = state.hand;
    for (auto event = recording.events.rbegin(); event != recording.events.rend(); ++event) {
        if (state.step - event->step > kFreshSteps) break;
        if (event->kind == sim::EventKind::hand_slipped)
            return Sentence{Mark::caution,
                            told ? fmt::format("The counter-hold slipped; it held back {:.1f} N.", event->value[1])
                                 : "The counter-hold slipped.",
                            "Press more firmly, or pull less."};
        const bool of_hand = event->subject == 0;
        if (of_hand && event->kind == sim::EventKind::tissue_trouble) {
            const auto trouble = static_cast<sim::ThreadTrouble>(static_cast<int>(event->value[0]));
            return Sentence{Mark::caution, fmt::format("The hand lets go: {}.", words_of(trouble)),
                            trouble == sim::ThreadTrouble::moved_too_far ? "Act more lightly." : "Go on without it."};
        }
        if (of_hand && event->kind == sim::EventKind::thread_refused)
            return Sentence{Mark::caution,
                            fmt::format("Not done: {}.",
                                        words_of(static_cast<sim::ThreadRefusal>(static_cast<int>(event->value[0])))),
                            "Lay the other hand on the skin first: M, or Shift and a click."};
        if (event->kind == sim::EventKind::hand_settled) break;
    }
    if (!(hand.settled_n > 0.0)) return std::nullopt;
    const std::string what = report::capital(name_of(hand.grip));
    if (!told)
        return Sentence{Mark::neutral, fmt::format("{}, {:.1f} N.", what, hand.settled_n),
                        "Release Z, or press its button again, to let go."};
    const std::string moved = moved_words(state, concerns);
    return Sentence{Mark::neutral,
                    fmt::format("{}, {:.1f} N: the skin there has moved {:.1f} mm{}.", what, hand.settled_n,
                                1e3 * hand.skin_moved_m, moved.empty() ? "" : "; " + moved),
                    advice(hand.grip)};
}

}  // namespace app
