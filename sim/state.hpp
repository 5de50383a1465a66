#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/barbed_thread/held_thread.hpp"
#include "sim/instruments/second_hand.hpp"
#include "sim/patient/visit.hpp"
#include "sim/request.hpp"
#include "sim/trace.hpp"

/// All of what a snapshot saves: copy a State and go on, and the same bits follow.

namespace sim {

/// An opening in the skin that a pilot needle made.
struct EntryHole {
    SkinPoint at;
    double diameter_m = 0.0;
    double depth_m = 0.0;    ///< greatest depth of the pilot's tip
    double angle_rad = 0.0;  ///< to the skin when it went in
};

/// A node of the way that the tip has made, in the reference shape.
struct TrackNode {
    Vec3 centre_m{};
    double arc_m = 0.0;                ///< from the entry along the way
    double normal_stiffness_pa = 0.0;  ///< of the tissue against the shaft here, as last answered; 0: none yet
    double tangent_stiffness_pa = 0.0;
    double tent_per_force_m_per_n = 0.0;
    double tent_width_m = 0.0;
};

/// A way through the tissue that is still open: from the entry hole to the farthest point the tip reached.
struct Track {
    int index = 0;
    int vector = 0;  ///< planned vector it serves: the one whose entry is nearest
    bool loaded = false;
    bool withdrawing = false;  ///< the last withdrawal has begun: the record of pieces is complete
    bool thread_left = false;
    int re_angles = 0;
    int stations_asked = 0;   ///< of the tissue, one each 2 mm from the entry
    double farthest_m = 0.0;  ///< greatest inserted length
    Vec3 end_m{};             ///< farthest point of the way, behind the last node
    double end_arc_m = 0.0;
    std::vector<TrackNode> nodes;
    std::vector<TrackPiece> pieces;  ///< kept up to date while the track is open
};

/// What the hands hold and how.
struct Hands {
    int instrument = -1;  ///< tray number, -1: empty
    bool entry_chosen = false;
    SkinPoint entry;  ///< chosen entry
    Vec3 along{};     ///< unit, in the skin there, towards the end of the planned vector: yaw 0
    double yaw_rad = 0.0, pitch_rad = 0.0;
    double hand_m = 0.0;  ///< where the hand holds the shaft: inserted length if nothing resisted
    double push_m = 0.0;  ///< motion of the hand in this step
    double lift_n = 0.0;
};

/// Which way the shaft slides, or that it sticks.
enum class Sliding : std::uint8_t { stuck, inwards, outwards };

/// What resists, as the force stage left it.
struct ShaftForce {
    double tip_n = 0.0, friction_n = 0.0, ligament_n = 0.0, hand_n = 0.0;
    double running_n = 0.0;  ///< slow average while advancing freely: what "twice the running force" means
    bool doubled = false;    ///< resistance_doubled has been noted and not yet fallen back
    Sliding sliding = Sliding::stuck;
    int still_sub_steps = 0;    ///< since the hand last moved
    double burst_m = 0.0;       ///< travel of a plunge that is under way
    double burst_from_n = 0.0;  ///< force before it
};

/// The ligament that the tip is in.
struct LigamentContact {
    int ligament = -1;
    double stretch_m = 0.0;  ///< way of the tip along the shaft since it met the ligament
    double peak_n = 0.0, work_j = 0.0;
    Vec3 met_m{}, heading{};  ///< place and direction of the tip then
};

/// A structure whose wall the shaft's tip has touched in this track.
struct WallContact {
    int structure = -1;
    double peak_n = 0.0;
    bool breached = false;
};

struct State {
    std::int64_t step = 0;
    bool finished = false;
    bool finishing = false;          ///< the hands are done; the tissue still comes to rest
    bool asked_final_shape = false;  ///< how that is left
    Hands hands;
    std::vector<EntryHole> holes;
    std::vector<bool> in_use;  ///< by tray number: not discarded

    // -- the instrument in the skin
    bool in_skin = false;       ///< through the skin: the tip is inside
    bool refused_here = false;  ///< closed skin has been noted at this entry
    double press_m = 0.0;       ///< indentation of closed skin by the tip
    double inserted_m = 0.0;    ///< length of shaft under the skin
    double pilot_deepest_m = 0.0;
    double puncture_rad = 0.0;  ///< angle to the skin when a bevel went through
    Vec3 tip_m{};               ///< in the reference shape
    Vec3 tip_heading{};         ///< unit, of the shaft at its tip
    Layer tip_layer = Layer::outside;
    std::vector<Vec3>
        shaft_m;  ///< where the shaft lies, from the hub to the tip; under the skin as the reference shape
    double friction_sum_n = 0.0;  ///< sliding friction of the inserted length, inwards
    std::optional<Track> track;
    int tracks_opened = 0;

    // -- what it meets
    ShaftForce force;
    LigamentContact ligament;
    std::vector<int> ligaments_passed;  ///< in this track: parted or skirted, met no more
    std::vector<int> ligaments_near;    ///< worth testing from where the tip is
    bool structure_near = false;
    std::vector<WallContact> walls;  ///< of structures touched in this track
    bool floor_noted = false, lining_noted = false, skin_noted = false;
    double aim_turn_rad = 0.0;         ///< turn of the aim since the last advance
    double withdrawn_m = 0.0;          ///< since the last advance
    double withdrawal_turn_rad = 0.0;  ///< largest turn of the aim during the withdrawal
    double tent_m = 0.0, tent_width_m = 0.0;
    bool lift_noted = false;

    SecondHand hand;

    // -- threads in the tissue
    std::vector<HeldThread> threads;     ///< in order of number, those drawn out too
    std::optional<Stroke> stroke;        ///< under way
    std::vector<Vec3> concerns_moved_m;  ///< Model::concerns as last answered; empty: nothing answered yet
    std::optional<ThreadRequest> thread_pending;
    bool threads_changed = false;                        ///< barbs gave way: the tissue has not come to rest yet
    ThreadTrouble thread_trouble = ThreadTrouble::none;  ///< of the last answer

    Visit visit;  ///< meaningful where the scenario has one

    // -- questions to the tissue, and the trace
    std::vector<Request> pending;
    std::uint64_t next_key = 1;
    double travel_since_row_m = 0.0;
    std::int64_t last_row_step = -1'000'000;
};

}  // namespace sim
