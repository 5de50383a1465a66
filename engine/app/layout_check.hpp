#pragma once

#include <string>
#include <vector>

#include "engine/app/input.hpp"

/// Finds what a screen does to its own text: measured on what was drawn, not on what was meant.

namespace app {

/// A text that was drawn.
struct DrawnText {
    std::string words;
    Rect ink;              ///< around the vertices of its letters
    Rect panel;            ///< where it has to stay
    Rect clip;             ///< what is seen of the panel: a panel that scrolls shows a part
    bool scrolls = false;  ///< the panel can be moved up and down, so that what is above and below can be read
    float size = 0.0f;     ///< of the type, nominal pixels
};

enum class LayoutFault {
    cut,       ///< shortened for want of room
    overlaps,  ///< lies on another text
    outside,   ///< leaves its panel or the window
    covered,   ///< something was drawn over a part of it
    small,     ///< smaller than the smallest type
};
[[nodiscard]] const char* name_of(LayoutFault fault);

struct Misfit {
    LayoutFault fault = LayoutFault::cut;
    std::string words;
    std::string detail;  ///< pixels, and the other text if there is one
};

/// "cut: what was written (80 px in 60)"
[[nodiscard]] std::string line_of(const Misfit& misfit);

/// Gathers the texts of one frame in the order in which they are drawn.
class LayoutCheck {
 public:
    void clear();
    void text(DrawnText text);
    void cut(const std::string& words, float wanted, float had);
    /// An opaque thing: hides texts below it altogether, or is a fault when it hides a part of one.
    void cover(const Rect& rect);

    /// @param least nominal pixels of the smallest type allowed
    [[nodiscard]] std::vector<Misfit> misfits(float least) const;
    [[nodiscard]] const std::vector<DrawnText>& texts() const { return texts_; }

 private:
    std::vector<DrawnText> texts_;
    std::vector<Misfit> found_;
};

}  // namespace app
