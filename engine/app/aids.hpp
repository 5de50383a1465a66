#pragma once

namespace app {

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

}  // namespace app
