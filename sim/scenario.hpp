#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "sim/anatomy/slab.hpp"
#include "sim/core/vec.hpp"
#include "sim/patient/visit_spec.hpp"

/// The fixed parameters of one scenario, as the engine reads them from a file. Nothing here changes during an attempt.

namespace sim {

enum class TipShape : std::uint8_t { bevel, blunt };  ///< bevel: a sharp needle; blunt: a cannula
enum class PracticeMode : std::uint8_t { coached, solo, graded };
inline constexpr std::array<std::string_view, 3> kPracticeModes{"coached", "solo", "graded"};
[[nodiscard]] constexpr std::string_view name_of(PracticeMode mode) {
    return kPracticeModes[static_cast<std::size_t>(mode)];
}

/// A barbed thread as it lies in its cannula, doubled back over the tip.
struct ThreadSpec {
    std::string usp_size = "2-0";         ///< metric size by USP <861>; see gauge tables
    double length_m = 120.0 * kMm;        ///< assumed, typical for the lower face
    double barb_free_m = 8.0 * kMm;       ///< at the entry end: 5 to 10 mm, common practice, no source
    double barbed_length_m = 60.0 * kMm;  ///< assumed
    double barb_pitch_m = 1.5 * kMm;      ///< assumed
    std::string lot = "not told";         ///< as its pack says
    int use_by_months = 24;  ///< of the first pack, from the day of the visit; below 0: past. Later ones are in date
};

/// Lot of a pack; one that was opened later is of another.
[[nodiscard]] inline std::string lot_of(const ThreadSpec& thread, bool fresh) {
    return fresh ? thread.lot + " B" : thread.lot;
}

struct InstrumentSpec {
    std::string name;  ///< as the tray shows it: "Blunt cannula"
    TipShape tip = TipShape::blunt;
    int gauge = 21;  ///< 16 to 30, outside diameter by ISO 9626
    double length_m = 70.0 * kMm;
    bool loaded = false;  ///< with a thread
    ThreadSpec thread;    ///< meaningful when loaded
};

/// What patients want lifted, as cases name it: places are those of concerns_of().
inline constexpr std::array<std::string_view, 4> kConcernNames{"jowl", "mouth corner", "nasolabial fold", "jaw angle"};

/// A place of the skin that a patient wants lifted, and how far it moved is told of.
struct Concern {
    std::string name;  ///< "jowl"
    Side side = Side::left;
    Vec3 place_m{};  ///< on the skin
    friend bool operator==(const Concern&, const Concern&) = default;
};

/// What a case holds to be within reach at one concern of a vector's side.
struct LiftTarget {
    std::string concern;
    double lift_m = 0.0;  ///< > 0, along the vector's chord from its end to its entry
};

/// One planned vector: where it enters, where it ends on the skin, and the layer it should stay in.
struct PlannedVector {
    Vec3 entry_m{};
    Vec3 end_m{};  ///< skin point above the planned far end
    Side side = Side::left;
    double length_m = 60.0 * kMm;          ///< track length that the plan asks for, along the skin
    double entry_tolerance_m = 3.0 * kMm;  ///< entry within 3 mm; assumed
    std::vector<LiftTarget> lift{};        ///< empty: lift is not judged here
    bool neck = false;                     ///< skin is drawn tight for its pilot and lifted in a fold for its pass
    bool take_out = false;                 ///< its thread is to be drawn out again, whole
    bool reinforces = false;               ///< laid beside another of its side, once the result was seen upright
};

/// The head's parameters are its own file's business; here they are kept whole by the anatomy module.
struct HeadParameters;

struct PatientSpec {
    std::string name;  ///< of the parameter set, "slab" for the flat patient
    bool slab = true;
    SlabParameters slab_parameters;  ///< when slab
    std::uint64_t variant_seed = 0;  ///< 0: the commonest course of everything
};

struct MechanicsSpec {
    bool bending = true;                     ///< false: a rigid shaft, for checks against geometry
    bool tissue_response = true;             ///< false: the tissue does not give, for checks against geometry
    double hand_stiffness_n_per_m = 1000.0;  ///< of the pushing hand along the shaft; assumed, range 300 to 3000
};

struct Scenario {
    std::string id;              ///< file name without ending
    std::string title;           ///< "Hold the plane"
    std::string goal;            ///< one or two plain sentences
    std::string kind = "drill";  ///< drill or case
    int level = 1;
    PatientSpec patient;
    std::vector<InstrumentSpec> tray;
    std::vector<PlannedVector> plan;
    MechanicsSpec mechanics;
    std::optional<VisitSpec> visit;     ///< the whole job around the passes; none: the pass alone is practised
    std::string rubric;                 ///< name of the rubric file without ending
    std::vector<std::string> headings;  ///< rubric headings in use here; empty: all that have something to measure
};

}  // namespace sim
