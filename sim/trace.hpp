#pragma once

#include <array>
#include <cstdint>
#include <string_view>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/core/vec.hpp"

/// What a step leaves behind for scoring, sound, plots and replay. Scoring reads nothing else, so everything that a
/// figure needs is written here in physical units, quantised to kTraceQuantum so that text and binary agree exactly.

namespace sim {

inline constexpr double kTraceQuantum = 1e-10;  ///< m, N, rad: a ten-thousandth of a micrometre
inline constexpr double kStepS = 0.004;
inline constexpr int kForceSubSteps = 4;

/// Clearance to one structure, as recorded.
struct RecordedClearance {
    int structure = -1;
    double distance_m = 0.0;  ///< wall to wall: shaft wall to structure wall; < 0: overlap
};

/// The tip and the hand at one moment: each 0.25 mm of travel or 256 ms while an instrument is in the skin.
struct TraceRow {
    std::int64_t step = 0;
    int track = -1;           ///< index of the open track, -1 when none
    double inserted_m = 0.0;  ///< length of shaft under the skin
    Vec3 tip_m{};             ///< in the reference shape
    double yaw_rad = 0.0, pitch_rad = 0.0;
    LayerPoint layers;                                                           ///< at the tip
    double tip_force_n = 0.0, friction_n = 0.0, ligament_n = 0.0, hand_n = 0.0;  ///< parts of, and whole, axial force
    double tent_m = 0.0;        ///< how far the skin over the tip stands out
    RecordedClearance nearest;  ///< of all structures within the reach
};

enum class EventKind : std::uint8_t {
    instrument_taken,     ///< subject: tray number
    entry_chosen,         ///< value[0]: distance from the planned entry, m
    skin_punctured,       ///< value[0]: angle to the skin, rad; value[1]: force, N
    entry_refused,        ///< a blunt tip met closed skin; value[0]: distance to the nearest opening, m
    entry_opened,         ///< pilot taken out: value[0] angle rad, value[1] greatest depth of its tip m,
                          ///< value[2] bottom of the superficial fat there m, value[3] pilot's outside diameter m
    track_opened,         ///< subject: track; value[0]: 1 loaded, 0 bare
    layer_crossed,        ///< subject: layer entered; value[0]: depth m, value[1]: force N
    ligament_met,         ///< subject: ligament; value[0]: force N
    ligament_stopped,     ///< the hand stopped or drew back while it was loaded; value[0]: peak N
    ligament_parted,      ///< pushed through; value[0]: peak N, value[1]: work J, value[2]: plunge m
    ligament_skirted,     ///< re-angled and passed; value[0]: peak N, value[1]: work J
    plunge,               ///< value[0]: travel m, value[1]: force before N
    resistance_doubled,   ///< value[0]: force N, value[1]: running force N
    wall_touched,         ///< subject: structure; value[0]: force N
    wall_breached,        ///< subject: structure; value[0]: force N
    floor_touched,        ///< subject: FloorKind; value[0]: force N
    lining_breached,      ///< the cheek's lining
    skin_broken_through,  ///< the tip came out through the skin from inside
    re_angled,            ///< subject: track; value[0]: angle rad, value[1]: withdrawal before it m
    tip_lifted,           ///< depth check; value[0]: height of the tent m, value[1]: its width m
    withdrawal_began,     ///< subject: track
    thread_left,          ///< subject: track; value[0]: 1 at the planned place, 0 left behind by re-angling;
                          ///< value[1]: force of a finger over its far end N
    followed_out,         ///< subject: track; no barb held the thread and it came out with the cannula; value[0]: what
                          ///< its barbs could hold N, value[1]: drag of the cannula N
    track_closed,         ///< subject: track; value[0]: 1 cannula still in, its thread left behind
    traction,        ///< subject: thread, from 1; the tissue has settled under a pull at its tail; value[0]: pull N,
                     ///< value[1]: tail drawn out m, value[2]: greatest lift of a concern m
    stroked,         ///< subject: thread; a stroke was let go; value[0]: force N, > 0 towards the centre,
                     ///< value[1]: half, 0 next to the entry, value[2]: way of the tissue over the barbs there under
                     ///< the hand m, value[3]: what is left of it m
    thread_slipped,  ///< subject: thread; barbs were torn past what the tissue holds; value[0]: barbs in this
                     ///< answer, value[1]: slipped in all, value[2]: pull N
    thread_out,      ///< subject: thread; drawn out whole by its tail; value[0]: pull N, value[1]: length that lay
                     ///< in the tissue m, value[2]: mean share of injected fluid about
                     ///< its barbs when it was laid
    thread_refused,  ///< subject: thread, 0: the other hand; a pull, stroke or grip that cannot be; value[0]:
                     ///< ThreadRefusal
    tissue_trouble,  ///< subject: thread, 0: the other hand; the tissue had no answer and all stays as it was;
                     ///< value[0]: ThreadTrouble
    hand_settled,  ///< subject: Grip; the tissue has settled under the other hand; value[0]: force N, value[1]: way of
                   ///< the skin under it m, value[2]: turn rad, value[3]: what a counter-hold keeps back N
    hand_slipped,  ///< subject: Grip; a counter-hold gave way; value[0]: force N, value[1]: what it kept back N
    instrument_discarded,  ///< subject: tray number
    trimmed,  ///< subject: thread; value[0]: its length under the skin that was cut at m, value[1]: how far its tail
              ///< was drawn out then m, value[2]: how far the skin was pressed in m
    tail_settled,      ///< subject: thread; value[0]: depth of its cut end below the skin m, < 0: it stands out,
                       ///< value[1]: the same along the track m
    deed_done,         ///< subject: Deed; value[0]: of what, value[1] to value[3]: what came of it
    decided,           ///< subject: Decision; value[0]: HistoryItem
    deed_refused,      ///< subject: Deed, -1: an injection; value[0]: DeedRefusal
    time_passed,       ///< value[0]: s, value[1]: patient's time since the beginning s
    injected,          ///< subject: track, -1: none; value[0]: volume ml, value[1]: given in all mg, value[2]: Layer,
                       ///< value[3]: 1 into a vessel
    contaminated,      ///< subject: tray number, -1: the gloves
    unclean_entry,     ///< subject: tray number; value[0]: bits: 1 skin not prepared, 2 contact time short, 4 hands,
                       ///< 8 the instrument, 16 no sterile field
    patient_moved,     ///< value[0]: pain, of 10; value[1], value[2]: turn of the aim, yaw and pitch rad
    sign_shown,        ///< subject: Sign; value[0]: how much of it
    bleeding_stopped,  ///< subject: structure; value[0]: lost ml, value[1]: pressed s
    aid_used,          ///< subject: aid; value[0]: 1 shown, 0 hidden
    probe_held,  ///< at its place on the skin; value[0]: turned rad, value[1]: pressed m, value[2]: picture's depth m
    device_changed,  ///< subject: Device that the hands are moved with from here on
    finished,
};
inline constexpr int kEventKinds = static_cast<int>(EventKind::finished) + 1;
[[nodiscard]] std::string_view name_of(EventKind kind);

/// What a person moves the hands with.
enum class Device : std::uint8_t { keys, mouse, controller };
inline constexpr int kDevices = static_cast<int>(Device::controller) + 1;
[[nodiscard]] std::string_view name_of(Device device);  ///< "controller"

/// What the hand that holds no instrument does on the skin.
enum class Grip : std::uint8_t {
    press,         ///< one finger, into the skin
    counter_hold,  ///< a finger that presses and keeps the skin where it is
    push,          ///< one finger along the skin: the shift test
    draw_tight,    ///< two fingers that part
    pinch,         ///< two fingers across that close
    fold,          ///< a pinch that lifts
};
inline constexpr int kGrips = static_cast<int>(Grip::fold) + 1;
[[nodiscard]] std::string_view name_of(Grip grip);  ///< "draw tight"

/// Why a pull, a stroke or a grip cannot be.
enum class ThreadRefusal : std::uint8_t {
    no_such_thread,
    thread_out,
    stroke_under_way,
    rigid_tissue,
    no_barbs_there,
    no_hand_there,
    trimmed
};
inline constexpr int kThreadRefusals = 7;
[[nodiscard]] std::string_view words_of(ThreadRefusal refusal);  ///< "there is no such thread"

/// Why the tissue had no answer.
enum class ThreadTrouble : std::uint8_t { none, not_converged, outside_mesh, no_body, moved_too_far };
inline constexpr int kThreadTroubles = 5;
[[nodiscard]] std::string_view words_of(ThreadTrouble trouble);  ///< "the tissue found no rest"

struct Event {
    std::int64_t step = 0;
    EventKind kind = EventKind::finished;
    int subject = -1;
    Vec3 place_m{};
    std::array<double, 4> value{};
};

/// One millimetre of a track, in the reference shape, with the worst that happened to it while the track was open.
struct TrackPiece {
    Vec3 middle_m{};            ///< where its middle lay when withdrawal began
    double shallowest_m = 0.0;  ///< least depth of the shaft's axis at its middle while the track was open
    double deepest_m = 0.0;     ///< greatest depth of the same
    std::array<double, kTissueLayers> bottom_m{};  ///< layer bottoms there
    std::vector<RecordedClearance> clearance;      ///< least wall-to-wall distance to each structure within the reach
};

/// A barb of a thread that a withdrawal left behind.
struct BarbRecord {
    double along_m = 0.0;          ///< from the entry along the track
    int direction = 1;             ///< +1 holds tissue that moves towards the entry, -1 towards the far end: away from
                                   ///< the thread's centre either way; towards it the tissue slides over the barb
    Layer layer = Layer::outside;  ///< where it lies
    double capacity_n = 0.0;       ///< that this layer gives it
    bool seated = false;           ///< unfolded and gripping
};

struct TrackRecord {
    int track = 0;
    int instrument = 0;  ///< tray number
    int vector = 0;      ///< index of the planned vector it serves
    bool loaded = false;
    bool final = true;  ///< false: taken out before its thread was left, or replaced by a later track
    double shaft_radius_m = 0.0;
    Vec3 entry_m{};
    Vec3 end_m{};  ///< tip when withdrawal began
    double length_m = 0.0;
    int re_angles = 0;
    std::vector<TrackPiece> pieces;  ///< from the entry inwards, 1 mm each
    std::vector<BarbRecord> barbs;   ///< empty for a bare cannula, and where the thread followed it out
};

/// What the places of the skin in a row, or in an answer about threads, are of.
enum class LiftShape : std::uint8_t {
    linear,         ///< small strains
    final,          ///< large ones: as the tissue is left, sim/tissue/final_shape.hpp
    no_final_found  ///< asked for and not found within its steps: the linear ones are kept
};
inline constexpr int kLiftShapes = 3;

/// How the tissue lies once it has settled under what pulls at threads and presses on the skin: one row a thread and
/// answer; where no thread lies, one of the other hand alone.
struct LiftRow {
    std::int64_t step = 0;
    int thread = 0;           ///< from 1; 0: none
    double pull_n = 0.0;      ///< at its tail
    double stroke_n = 0.0;    ///< of a stroke over it, > 0 towards its centre; 0: none
    double hand_n = 0.0;      ///< force of the other hand on the skin; 0: none
    double tail_out_m = 0.0;  ///< how far its tail came out
    double held_n = 0.0;      ///< most of the sums of what its barbs give the tissue one way and the other
    double hold_n = 0.0;      ///< most that the weaker of its two barb sets could hold
    double dimple_m = 0.0;    ///< most that the skin over a barb lies in against the skin around
    int seated = 0, slipped = 0, folded = 0;  ///< barbs in each state
    bool out = false;                         ///< drawn out
    LiftShape shape = LiftShape::linear;      ///< of dimple_m and moved_m
    std::vector<Vec3> moved_m;                ///< skin at each of Recording::concerns, from its place at rest
};

/// Quantise a raw number for the record.
[[nodiscard]] double quantised(double value);

/// Rows of the trace are many and are for the eye: whole numbers of 1 um (layer bottoms 10 um), 0.1 mN, 10 urad.
/// Scores hang on tracks and events, kept finer. These are counts per unit, so that one division gives the value.
inline constexpr double kLiftPerM = 1e8, kLiftPerN = 1e6;  ///< of LiftRow and of answers about threads
inline constexpr double kRowPerM = 1e6, kRowBottomPerM = 1e5, kRowPerN = 1e4, kRowPerRad = 1e5;
[[nodiscard]] double row_quantised(double value, double per_unit);

/// Fraction of the layer above a row's point, from its depth and bottoms as recorded: 0 outside and at the floor.
[[nodiscard]] double row_fraction(const LayerPoint& layers);

}  // namespace sim
