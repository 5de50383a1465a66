#pragma once

#include <array>
#include <bitset>
#include <string_view>

/// What is shown to a learner who asks for it, and what of that a scenario allows.

namespace files {

/// Aids by the number that their command carries. The probe is an instrument of the case and no aid, but as it is
/// neither in the skin nor moved in steps it is told in the same way: taken up (1) or put away (0).
enum Aid : int {
    kAidTrace = 0,
    kAidCutaway = 1,
    kAidVessels = 2,
    kAidForce = 3,
    kAidWords = 4,
    kAidSection = 5,
    kProbe = 6
};

/// As scenarios name them, by number.
inline constexpr std::array<std::string_view, kProbe> kAidNames{"depth trace", "cut-away", "structures",
                                                                "force",       "advice",   "section"};

/// By number. Graded work has none, whatever the scenario allows.
using AllowedAids = std::bitset<kAidNames.size()>;
inline constexpr AllowedAids kAllAids{(1u << kAidNames.size()) - 1u};

}  // namespace files
