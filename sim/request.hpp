#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/trace.hpp"

/// Slow questions that a step asks of the tissue, answered outside the step by a pure function of patient and request.
///
/// Live, a worker answers ahead; headless, the session answers inline; a replay reads the recorded answer. A step that
/// is due an answer does not run before it has it, so when an answer arrives never changes what is computed.

namespace sim {

inline constexpr double kGravityMPerS2 = 9.81;

/// How the tissue around one place along a track gives way.
struct Request {
    std::uint64_t key = 0;       ///< sequence number within the attempt
    std::int64_t due_step = 0;   ///< the step that reads the answer
    int track = 0, station = 0;  ///< which station of which track asks
    double depth_m = 0.0;        ///< of the shaft's axis there
    std::array<double, kTissueLayers> bottom_m{};
    double shaft_radius_m = 0.0;
    friend bool operator==(const Request&, const Request&) = default;
};

/// Values are of single precision, so that the record of an attempt keeps them whole in few digits.
struct Answer {
    std::uint64_t key = 0;
    double normal_stiffness_pa = 0.0;     ///< lateral force per length of shaft per displacement, across the layers
    double tangent_stiffness_pa = 0.0;    ///< the same along the layers
    double tent_per_force_m_per_n = 0.0;  ///< rise of the skin right above for 1 N of outward force at this depth
    double tent_width_m = 0.0;            ///< full width of that rise at half its height
    friend bool operator==(const Answer&, const Answer&) = default;
};

/// In closed form: instruments feel no finite elements yet. Pure: same request, same bits.
///
/// @throws InputError when the request is not within the range in which the closed form is trusted
[[nodiscard]] Answer answer(const Request& request);

/// A barb as the tissue feels it. "Towards the entry" is along the thread, from its far end to its tail.
struct BarbGrip {
    Vec3 place_m{};           ///< in the reference shape
    Vec3 towards_entry{};     ///< unit
    double to_entry_n = 0.0;  ///< most that it holds the thread back with when that slides towards the entry
    double to_far_n = 0.0;    ///< the same towards the far end
    double slip_m = 0.0;      ///< what the thread has slid through the tissue here, towards the entry
    friend bool operator==(const BarbGrip&, const BarbGrip&) = default;
};

struct ThreadGrip {
    int number = 0;               ///< of the thread; the answer does not hang on it
    std::vector<BarbGrip> barbs;  ///< from the far end to the entry, at least two
    double pull_n = 0.0;          ///< at the tail
    friend bool operator==(const ThreadGrip&, const ThreadGrip&) = default;
};

/// Fingers that push the skin along a thread, spread evenly over the barbs from `first` to `last`.
struct StrokeGrip {
    int thread = -1;  ///< index in the request, -1: no stroke
    int first = 0, last = 0;
    double towards_entry_n = 0.0;
    friend bool operator==(const StrokeGrip&, const StrokeGrip&) = default;
};

/// Fingers on the skin, about kFingerSigmaM wide each.
struct HandPad {
    Vec3 place_m{};  ///< on the skin
    Vec3 push{};     ///< on the skin, for 1 N of the hand's force
    friend bool operator==(const HandPad&, const HandPad&) = default;
};

struct HandLoad {
    std::vector<HandPad> pads;  ///< empty: no hand
    double force_n = 0.0;
    bool holds = false;  ///< the first pad also keeps the skin from sliding off its anchor, as a spring of kPulpNPerM
    Vec3 anchor_m{};     ///< displacement of the skin there when the hand came; it goes along with its own press
    friend bool operator==(const HandLoad&, const HandLoad&) = default;
};

/// How the tissue lies with all threads that are in it and a hand on the skin.
struct ThreadRequest {
    std::uint64_t key = 0;
    std::int64_t due_step = 0;
    std::vector<ThreadGrip> threads;
    StrokeGrip stroke;
    HandLoad hand;
    Vec3 gravity_change_m_per_s2{};  ///< against upright
    std::vector<Vec3> read_m;        ///< skin places whose displacement is asked for
    std::vector<Vec3> inside_m;      ///< the same for places in the tissue
    bool final_shape = false;        ///< places and dimples as they are left, where displacements are not small
    friend bool operator==(const ThreadRequest&, const ThreadRequest&) = default;
};

/// Quantised to kLiftPerM and kLiftPerN, so that the record keeps all of it whole.
struct ThreadAnswer {
    struct OfBarb {
        double force_n = 0.0;  ///< with which the barb draws the tissue towards the entry
        double slip_m = 0.0;   ///< as BarbGrip::slip_m, now
        double over_m = 0.0;   ///< way of the tissue along the thread here, towards the entry, from rest
        friend bool operator==(const OfBarb&, const OfBarb&) = default;
    };
    struct OfThread {
        double tail_out_m = 0.0;
        double dimple_m = 0.0;  ///< most that the skin over a barb lies in against a ring of 8 mm about it
        std::vector<OfBarb> barbs;
        friend bool operator==(const OfThread&, const OfThread&) = default;
    };
    std::uint64_t key = 0;
    ThreadTrouble trouble = ThreadTrouble::none;  ///< other than none: nothing below is meant
    int iterations = 0;
    std::vector<OfThread> threads;
    std::vector<Vec3> moved_m;            ///< at each of the request's places: on the skin, then inside
    double hand_held_n = 0.0;             ///< with which a hand that holds keeps the skin back
    LiftShape shape = LiftShape::linear;  ///< of moved_m and the dimples; all else is the linear answer
    int shape_steps = 0;                  ///< that the search for the final shape took
    friend bool operator==(const ThreadAnswer&, const ThreadAnswer&) = default;
};

}  // namespace sim
