#pragma once

namespace app {

/// What a controller's hands do now. Sticks -1 to 1, right and down positive; triggers 0 to 1; rest inside the dead
/// zone is 0.
struct Pad {
    double left_x = 0.0, left_y = 0.0;    ///< turn, slope of the instrument
    double right_x = 0.0, right_y = 0.0;  ///< orbit of the camera
    double left_trigger = 0.0, right_trigger = 0.0;
    bool lift = false;    ///< lower face button
    bool slow = false;    ///< a shoulder button
    bool next = false;    ///< went down since the last frame: next instrument of the tray
    bool finish = false;  ///< went down since the last frame
    [[nodiscard]] bool any() const;
};

}  // namespace app
