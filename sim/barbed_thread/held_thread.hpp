#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "sim/request.hpp"
#include "sim/scenario.hpp"
#include "sim/trace.hpp"

/// A thread that a withdrawal left in the tissue, and how its barbs hold there.
///
/// What a barb does with the tissue it lies in, all of it assumed: it holds tissue that moves away from the thread's
/// centre with the capacity of its layer, and lets tissue slide towards the centre against a small share of that.
/// Dragged through the tissue against its grip it cuts a way and keeps a part of its capacity (slipped). A barb that
/// lies folded rises when tissue is drawn over it towards the centre.

namespace sim {

inline constexpr double kEasyShare = 0.1;      ///< of its capacity, for tissue that moves towards the centre; assumed
inline constexpr double kTornM = 1.0 * kMm;    ///< dragged against its grip by more, a barb has slipped; assumed
inline constexpr double kSlippedShare = 0.4;   ///< of its capacity, that a slipped barb keeps; assumed
inline constexpr double kRisesM = 0.5 * kMm;   ///< way of the tissue over a folded barb that lets it rise; assumed
inline constexpr double kCannulaDragN = 0.05;  ///< of a cannula that slides off its thread; assumed

inline constexpr double kRampStepM = 1.0 * kMm;
inline constexpr int kRampSteps = 20;

enum class BarbState : std::uint8_t { folded, seated, slipped };

struct HeldBarb {
    Vec3 place_m{};        ///< in the reference shape
    Vec3 towards_entry{};  ///< unit, along the track
    double along_m = 0.0;  ///< from the entry along the track
    int direction = 1;     ///< as BarbRecord::direction
    Layer layer = Layer::outside;
    double capacity_n = 0.0;  ///< of its layer; 0: cannot seat here
    BarbState state = BarbState::folded;
    double slip_m = 0.0;   ///< of the thread through the tissue, towards the entry
    double torn_m = 0.0;   ///< way dragged against its grip
    double eased_m = 0.0;  ///< way of the tissue over it towards the centre
    double force_n = 0.0;  ///< as last answered: draws the tissue towards the entry
    double over_m = 0.0;   ///< as last answered: way of the tissue here towards the entry, from rest
};

struct HeldThread {
    int number = 1;  ///< as commands, events and rows count them
    int track = 0, vector = 0;
    double in_tissue_m = 0.0;  ///< length that lies in the tissue
    bool out = false;          ///< drawn out whole
    double fluid = 0.0;        ///< mean share of injected fluid about its barbs when it was laid

    double pull_n = 0.0;   ///< of the hand, now
    double peak_n = 0.0;   ///< most since the tissue was last asked: no jerk goes unfelt
    double asked_n = 0.0;  ///< pull that was last asked about

    double settled_n = 0.0;  ///< pull of the last answer, and what it said:
    double tail_out_m = 0.0, dimple_m = 0.0;
    std::vector<HeldBarb> barbs;  ///< from the far end to the entry
    std::vector<Vec3> ramp_m;     ///< its way under the entry, each kRampStepM

    std::optional<double> cut_m;  ///< place along the thread where its tail was cut: 0 lay at the skin before any pull
    double tail_depth_m = 0.0;    ///< of that end below the skin, as last settled; < 0: it stands out
    [[nodiscard]] bool trimmed() const { return cut_m.has_value(); }

    [[nodiscard]] int count(BarbState state) const;
    /// Barbs of a half, 0 next to the entry and 1 far from it, as first and last index; last < first: none.
    [[nodiscard]] std::pair<int, int> half(int which) const;
};

/// A stroke from its first push until the tissue has settled again.
struct Stroke {
    int thread = 0;        ///< number
    int half = 0;          ///< 0 next to the entry, 1 far from it
    double force_n = 0.0;  ///< > 0 towards the centre
    bool pushed = false;   ///< the tissue has answered to the push
    bool let_go = false;
    std::int64_t let_go_step = 0;  ///< not before this step
    double over_m = 0.0;           ///< mean way of the tissue over the barbs of the half, under the hand
    double before_m = 0.0;         ///< the same as it was before
};

/// What a barb in its state holds each way.
[[nodiscard]] BarbGrip grip_of(const HeldBarb& barb);

/// Most that a thread's barbs hold against a pull at its tail.
[[nodiscard]] double hold_n(std::span<const HeldBarb> barbs);

/// Most that the weaker of its two barb sets holds of tissue that moves away from the centre.
[[nodiscard]] double weaker_set_n(std::span<const HeldBarb> barbs);

struct StepContext;
struct State;
struct Model;

/// Keep the thread of the track that is being closed, or let it follow the cannula out when nothing holds it.
/// @param record of that track, whole but for its barbs, which it has when the thread stays
void leave_thread(const StepContext& context, TrackRecord& record);

/// Cut the tail at the skin as thread and skin lie now. @pre refusal_of() has nothing against it
void trim(const StepContext& context, int number);
/// The end that was cut follows the thread as the tissue settles.
void settle_tail(const StepContext& context, HeldThread& thread);

/// Why a pull at this thread cannot be, or a stroke over one of its halves, if it cannot.
[[nodiscard]] std::optional<ThreadRefusal> refusal_of(const Model& model, const State& state, int number,
                                                      std::optional<int> stroked_half);

}  // namespace sim
