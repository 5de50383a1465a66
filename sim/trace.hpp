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
    instrument_taken,      ///< subject: tray number
    entry_chosen,          ///< value[0]: distance from the planned entry, m
    skin_punctured,        ///< value[0]: angle to the skin, rad; value[1]: force, N
    entry_refused,         ///< a blunt tip met closed skin; value[0]: distance to the nearest opening, m
    entry_opened,          ///< pilot taken out: value[0] angle rad, value[1] greatest depth of its tip m,
                           ///< value[2] bottom of the superficial fat there m, value[3] pilot's outside diameter m
    track_opened,          ///< subject: track; value[0]: 1 loaded, 0 bare
    layer_crossed,         ///< subject: layer entered; value[0]: depth m, value[1]: force N
    ligament_met,          ///< subject: ligament; value[0]: force N
    ligament_stopped,      ///< the hand stopped or drew back while it was loaded; value[0]: peak N
    ligament_parted,       ///< pushed through; value[0]: peak N, value[1]: work J, value[2]: plunge m
    ligament_skirted,      ///< re-angled and passed; value[0]: peak N, value[1]: work J
    plunge,                ///< value[0]: travel m, value[1]: force before N
    resistance_doubled,    ///< value[0]: force N, value[1]: running force N
    wall_touched,          ///< subject: structure; value[0]: force N
    wall_breached,         ///< subject: structure; value[0]: force N
    floor_touched,         ///< subject: FloorKind; value[0]: force N
    lining_breached,       ///< the cheek's lining
    skin_broken_through,   ///< the tip came out through the skin from inside
    re_angled,             ///< subject: track; value[0]: angle rad, value[1]: withdrawal before it m
    tip_lifted,            ///< depth check; value[0]: height of the tent m, value[1]: its width m
    withdrawal_began,      ///< subject: track
    thread_left,           ///< subject: track; value[0]: 1 at the planned place, 0 left behind by re-angling
    track_closed,          ///< subject: track
    instrument_discarded,  ///< subject: tray number
    aid_used,              ///< subject: aid; value[0]: 1 shown, 0 hidden
    finished,
};
inline constexpr int kEventKinds = static_cast<int>(EventKind::finished) + 1;
[[nodiscard]] std::string_view name_of(EventKind kind);

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
    int direction = 1;             ///< +1 resists being pulled to the entry, -1 to the far end
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
    std::vector<BarbRecord> barbs;   ///< empty for a bare cannula
};

/// Quantise a raw number for the record.
[[nodiscard]] double quantised(double value);

/// Rows of the trace are many and are for the eye: whole numbers of 1 um (layer bottoms 10 um), 0.1 mN, 10 urad.
/// Scores hang on tracks and events, kept finer. These are counts per unit, so that one division gives the value.
inline constexpr double kRowPerM = 1e6, kRowBottomPerM = 1e5, kRowPerN = 1e4, kRowPerRad = 1e5;
[[nodiscard]] double row_quantised(double value, double per_unit);

/// Fraction of the layer above a row's point, from its depth and bottoms as recorded: 0 outside and at the floor.
[[nodiscard]] double row_fraction(const LayerPoint& layers);

}  // namespace sim
