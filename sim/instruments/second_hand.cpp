#include "sim/instruments/second_hand.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/instruments/track.hpp"

namespace sim {

namespace {

constexpr double kFoldShare = 0.5;           // of the hand's force: each finger lifts, and closes, with it; assumed
constexpr double kPlaceM = 4.0 * kMm;        // spacing of the places that a shaft asks about
constexpr double kAskAgainM = 3.0 * kMm;     // new way after which it asks anew; the places reach further ahead
constexpr int kPlacesAhead = 2;              // beyond the tip
constexpr int kMostPlaces = 40;              // along the way
constexpr double kTightWidthM = 30.0 * kMm;  // of skin that a finger draws on: a pad and its reach; assumed
constexpr double kTightReachM = 20.0 * kMm;  // from the hand's middle, where skin is tight; assumed

HandPad pad_at(const Anatomy& anatomy, const Vec3& near_m, const Vec3& push) {
    return {anatomy.nearest_skin(near_m).position_m, push};
}

}  // namespace

HandLoad load_of(const Anatomy& anatomy, const SecondHand& hand) {
    HandLoad load;
    if (!hand.placed || !(hand.force_n > 0.0)) return load;
    load.force_n = hand.force_n;
    load.holds = hand.grip == Grip::counter_hold;
    const Vec3 out = hand.at.normal;
    const Vec3 beside = glm::cross(out, hand.along);
    const Vec3 along = std::cos(hand.turn_rad) * hand.along + std::sin(hand.turn_rad) * beside;
    const Vec3 across = glm::cross(out, along);
    const Vec3 at = hand.at.position_m;
    switch (hand.grip) {
        case Grip::press:
        case Grip::counter_hold:
            load.pads = {pad_at(anatomy, at, -out)};
            break;
        case Grip::push:
            load.pads = {pad_at(anatomy, at, along)};
            break;
        case Grip::draw_tight:
            load.pads = {pad_at(anatomy, at + kHalfSpanM * along, along),
                         pad_at(anatomy, at - kHalfSpanM * along, -along)};
            break;
        case Grip::pinch:
            load.pads = {pad_at(anatomy, at + kHalfSpanM * across, -across),
                         pad_at(anatomy, at - kHalfSpanM * across, across)};
            break;
        case Grip::fold:
            load.pads = {pad_at(anatomy, at + kHalfSpanM * across, kFoldShare * (out - across)),
                         pad_at(anatomy, at - kHalfSpanM * across, kFoldShare * (out + across))};
            break;
    }
    return load;
}

void act(const Anatomy& anatomy, SecondHand& hand, Grip grip, double turn_rad, double force_n) {
    hand.grip = grip;
    hand.turn_rad = turn_rad;
    hand.force_n = force_n;
    hand.load = load_of(anatomy, hand);
}

bool hand_asks_again(const State& s) {
    if (!s.hand.placed) return false;
    if (!s.hand.asked || s.hand.load != *s.hand.asked) return true;
    return s.hand.force_n > 0.0 && s.track && s.track->end_arc_m > s.hand.asked_to_m + kAskAgainM;
}

void ask_about_hand(const StepContext& context, ThreadRequest& request) {
    State& s = context.state;
    SecondHand& hand = s.hand;
    const HandLoad now = hand.asked ? hand.load : HandLoad{};
    hand.asked = now;
    hand.asked_to_m = -kAskAgainM;
    request.hand = now;
    if (now.holds) request.hand.anchor_m = hand.anchor_m;
    if (!hand.placed) return;
    request.read_m.push_back(hand.at.position_m);
    if (now.pads.empty() || !s.track) return;
    const Track& track = *s.track;
    hand.asked_to_m = track.end_arc_m;
    const double spacing_m = std::max(kPlaceM, track.end_arc_m / kMostPlaces);
    const int inside = static_cast<int>(track.end_arc_m / spacing_m);
    for (int i = 0; i <= inside; ++i) request.inside_m.push_back(way_at(track, i * spacing_m));
    request.inside_m.push_back(track.end_m);
    for (int i = 1; i <= kPlacesAhead; ++i) {
        const Vec3 ahead_m = track.end_m + i * kPlaceM * s.tip_heading;
        if (!(context.model.anatomy->layers_at(ahead_m).depth_m > 0.0)) break;
        request.inside_m.push_back(ahead_m);
    }
}

void take_hand(const StepContext& context, const ThreadRequest& request, const ThreadAnswer& answer,
               std::size_t concerns) {
    State& s = context.state;
    SecondHand& hand = s.hand;
    hand.way_m.clear();
    hand.way_moved_m.clear();
    const bool settled_anew = hand.settled_n != request.hand.force_n;
    hand.settled_n = request.hand.force_n;
    const bool read = answer.moved_m.size() > concerns;  // not without a hand on the skin
    const Vec3 moved_m = read ? answer.moved_m[concerns] : Vec3{};
    hand.skin_moved_m = glm::length(moved_m);
    const Vec3 at = read ? request.read_m[concerns] : hand.at.position_m;
    // it may have gone elsewhere meanwhile
    if (request.hand.pads.empty() && at == hand.at.position_m) hand.anchor_m = moved_m;
    if (settled_anew)
        context.note(EventKind::hand_settled, at, static_cast<int>(hand.grip),
                     {hand.settled_n, hand.skin_moved_m, hand.turn_rad, answer.hand_held_n});
    if (!read) return;
    SIM_ASSERT(answer.moved_m.size() == concerns + 1 + request.inside_m.size());
    for (std::size_t i = 0; i < request.inside_m.size(); ++i) {
        const Vec3 there_m = answer.moved_m[concerns + 1 + i] - answer.moved_m[concerns + 1];
        const double step_m = i == 0 ? 0.0 : glm::length(request.inside_m[i] - request.inside_m[i - 1]);
        if (i > 0 && !(step_m > 1e-6)) continue;  // the tip lies at one of the evenly spaced places
        hand.way_m.push_back(i == 0 ? 0.0 : hand.way_m.back() + step_m);
        hand.way_moved_m.push_back(there_m);
    }
    if (request.hand.holds && answer.hand_held_n > kSkinFriction * request.hand.force_n) {
        context.note(EventKind::hand_slipped, at, static_cast<int>(hand.grip),
                     {request.hand.force_n, answer.hand_held_n, 0, 0});
        let_go(hand);
    }
}

void let_go(SecondHand& hand) {
    hand.force_n = 0.0;
    hand.load = {};
}

void forget_way(SecondHand& hand) {
    hand.way_m.clear();
    hand.way_moved_m.clear();
    hand.asked_to_m = -kAskAgainM;
}

Vec3 moved_by_hand(const SecondHand& hand, double along_m) {
    if (hand.way_m.empty()) return {};
    const auto after = std::upper_bound(hand.way_m.begin(), hand.way_m.end(), along_m);
    if (after == hand.way_m.begin()) return hand.way_moved_m.front();
    const auto i = static_cast<std::size_t>(after - hand.way_m.begin());
    // past the last place the tissue goes on as it does there
    if (i == hand.way_m.size()) return hand.way_moved_m.back();
    const double t = (along_m - hand.way_m[i - 1]) / (hand.way_m[i] - hand.way_m[i - 1]);
    return hand.way_moved_m[i - 1] + t * (hand.way_moved_m[i] - hand.way_moved_m[i - 1]);
}

Vec3 stretched_by_hand(const SecondHand& hand, double along_m) {
    constexpr double kHalfM = 0.5 * kPlaceM;
    return (moved_by_hand(hand, along_m + kHalfM) - moved_by_hand(hand, std::max(0.0, along_m - kHalfM))) /
           (kHalfM + std::min(kHalfM, along_m));
}

double tight_skin_n_per_m(const SecondHand& hand, const Vec3& place_m) {
    if (hand.grip != Grip::draw_tight || !(hand.settled_n > 0.0)) return 0.0;
    if (!(glm::length(place_m - hand.at.position_m) < kTightReachM)) return 0.0;
    // a membrane under a load at its middle gives P / w = 2 pi T / ln(R / a); skin drawn one way counts half
    constexpr double kTipM = 0.4 * kMm;
    const double tension_n_per_m = hand.settled_n / kTightWidthM;
    return kPi * tension_n_per_m / std::log(kHalfSpanM / kTipM);
}

double pressed_n(const SecondHand& hand, const Vec3& skin_m) {
    if (hand.grip != Grip::press && hand.grip != Grip::counter_hold) return 0.0;
    return glm::length(skin_m - hand.at.position_m) < kPressReachM ? hand.settled_n : 0.0;
}

}  // namespace sim
