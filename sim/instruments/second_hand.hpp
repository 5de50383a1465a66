#pragma once

#include <optional>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/request.hpp"

/// The hand that holds no instrument: its fingers on the skin, and what they do to a shaft beneath.
///
/// A grip is at most two finger pads, each a force on the skin for 1 N of the hand's; the tissue answers to them
/// together with the threads that lie in it (request.hpp). Reach of a pad: kFingerSigmaM. What each grip does is common
/// practice, no source; the shares of its forces are assumed.

namespace sim {

inline constexpr double kHalfSpanM = 12.0 * kMm;    ///< of two fingers; assumed
inline constexpr double kSkinFriction = 0.5;        ///< of a gloved finger on skin; assumed, 0.3 to 0.8
inline constexpr double kPressFriction = 0.2;       ///< of a thread in tissue that is pressed on; assumed
inline constexpr double kPressReachM = 15.0 * kMm;  ///< a finger nearer to a thread's far end lies over it; assumed
inline constexpr double kMostMovedByHandM = 15.0 * kMm;  ///< of the skin under a finger: small strains end; assumed

/// Where the hand lies and what it does.
struct SecondHand {
    bool placed = false;
    SkinPoint at;
    Vec3 along{};  ///< unit, in the skin: towards the end of the nearest planned vector
    Grip grip = Grip::press;
    double turn_rad = 0.0;  ///< of the grip's direction about the normal, from `along`
    double force_n = 0.0;   ///< 0: lies there and does nothing
    HandLoad load;          ///< of all that, as the tissue feels it

    // what the tissue was last asked about, and answered
    std::optional<HandLoad> asked;  ///< none: it has just come here
    Vec3 anchor_m{};                ///< displacement of the skin at its place before it did anything
    double asked_to_m = 0.0;        ///< length of the open track then
    double settled_n = 0.0;         ///< force that the last answer belongs to
    double skin_moved_m = 0.0;      ///< way of the skin at its place, from rest
    std::vector<double> way_m;      ///< from the entry along the open track: where the following is known
    std::vector<Vec3> way_moved_m;  ///< displacement there against the entry's
};

struct State;
struct StepContext;

/// Pads of the hand as it lies now; empty when it does nothing.
[[nodiscard]] HandLoad load_of(const Anatomy& anatomy, const SecondHand& hand);

/// It acts from now on, or with no force lets go; the tissue is asked how it settles.
void act(const Anatomy& anatomy, SecondHand& hand, Grip grip, double turn_rad, double force_n);

/// Whether the tissue has to be asked again: the hand does something else, or a shaft has gone on under it.
[[nodiscard]] bool hand_asks_again(const State& state);

/// Add the hand, and the places along the open track where a shaft needs to know, to a question. A hand that has just
/// come looks first how the skin lies there.
void ask_about_hand(const StepContext& context, ThreadRequest& request);

/// Take in what the tissue answered; the hand's places stand last among those that were read.
/// @param concerns number of places before them
void take_hand(const StepContext& context, const ThreadRequest& request, const ThreadAnswer& answer,
               std::size_t concerns);

/// The hand lets go of the skin; the tissue is asked how it settles.
void let_go(SecondHand& hand);
/// What was known along a track that is no more.
void forget_way(SecondHand& hand);

/// Displacement of the tissue at a length along the open track, against the entry's.
[[nodiscard]] Vec3 moved_by_hand(const SecondHand& hand, double along_m);
/// Change of that per length of the track.
[[nodiscard]] Vec3 stretched_by_hand(const SecondHand& hand, double along_m);

/// What skin that is drawn tight adds to its stiffness against a tip, N/m. @param place_m of the tip on the skin
[[nodiscard]] double tight_skin_n_per_m(const SecondHand& hand, const Vec3& place_m);

/// Force with which the hand presses over a place under the skin, 0 when it does not. @param skin_m above the place
[[nodiscard]] double pressed_n(const SecondHand& hand, const Vec3& skin_m);

}  // namespace sim
