#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/core/vec.hpp"
#include "sim/patient/anaesthetic.hpp"
#include "sim/patient/signs.hpp"
#include "sim/procedure/deeds.hpp"

/// How the patient and the field are, part of State: consult, cleanliness, anaesthetic, comfort, what has gone wrong.
/// Only where a scenario has a visit.

namespace sim {

enum class HandsClean : std::uint8_t { unwashed, washed, gloved, contaminated };

/// An area of skin that was wiped.
struct PreparedSkin {
    bool prepared = false;
    bool mild = false;     ///< povidone-iodine
    double since_s = 0.0;  ///< patient's time
};

/// A vessel whose wall has given way.
struct Bleeding {
    int structure = -1;
    Vec3 place_m{};
    bool artery = false;
    double out_ml = 0.0;
    double pressed_s = 0.0;  ///< without a break
    bool stopped = false;
    bool bruise_told = false, swelling_told = false;
};

/// A finger that has felt for a pulse, and waits to be told what it felt.
struct PulseFeel {
    SkinPoint at;
    Chair chair = Chair::upright;
};

inline constexpr double kExtrudesAboveM = 1.0 * kMm;  ///< a tail nearer to the skin works its way out; assumed
inline constexpr double kDimpleStaysM = 1.5 * kMm;    ///< assumed

struct Visit {
    double passed_s = 0.0;  ///< of the patient's time, beyond the steps: what was waited for

    // -- consult
    bool explained = false;
    std::optional<Decision> decision;

    // -- field
    Chair chair = Chair::upright;
    std::vector<PulseFeel> feels;  ///< asked, not yet told
    HandsClean hands = HandsClean::unwashed;
    bool field = false;
    std::array<PreparedSkin, kSkinAreas> skin;
    std::vector<char> contaminated;  ///< by tray number
    std::vector<char> unpacked;      ///< likewise: out of its pack
    std::vector<char> fresh;         ///< likewise: not of the first pack
    int sharps = 0;                  ///< needles and cannulas that were unpacked

    // -- how the patient feels
    Anaesthetic anaesthetic;
    double pain = 0.0;                 ///< 0 to 10
    bool hurting = false;              ///< above what is borne, and not yet fallen back
    int moves = 0;                     ///< how often the patient has moved
    double inserted_m = 0.0;           ///< of the step before
    std::optional<Sign> toxicity;      ///< worst told
    double over_limit_since_s = -1.0;  ///< < 0: never
    double faint_since_s = -1.0;       ///< < 0: none
    bool faint_done = false, collapsed = false;
    double still_s = 0.0;      ///< with an instrument in the skin, since the last swallow
    double swallows_s = 0.0;   ///< left of a swallow: > 0 under way
    bool swallow_met = false;  ///< the tip went on in it

    // -- what has gone wrong
    std::vector<Bleeding> bleeding;
    bool nerve_hurt = false, nerve_cut = false, parotid_open = false;
    bool blanched = false;        ///< told
    bool unclean_thread = false;  ///< a thread lies that was not clean
    bool discharged = false;
};

}  // namespace sim
